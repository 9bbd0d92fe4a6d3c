"""Residual gas: what arrives, what it makes of the metal, and what a getter does about it."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.deposition.gases import impingement_per_cm2_s, metal_per_cm2_s, monolayer_time_s
from oxhue.optics.deposition.residual_gas import (
    Chamber,
    Getter,
    getter_relief,
    metal_verdict,
    oxygen_arrival,
    takes_oxygen,
)
from oxhue.optics.errors import OutOfRangeError, UnknownNameError

TITANIUM = (4.506, 47.867)
METALS = {"Ti": TITANIUM, "Al": (2.699, 26.9815), "Cu": (8.96, 63.546), "Au": (19.3, 196.967)}


def judged(metal="Ti", rate_nm_s=1.0, **chamber):
    return metal_verdict(metal, rate_nm_s, *METALS[metal], Chamber(**chamber))


@given(
    metal=st.sampled_from(list(METALS)),
    log_mbar=st.floats(-9.0, -2.0),
    rate_nm_s=st.floats(0.01, 100.0),
)
@settings(deadline=None, max_examples=100)
def test_chances_sum_to_one_and_only_pressure_over_rate_counts(metal, log_mbar, rate_nm_s):
    one = judged(metal, rate_nm_s, pressure_mbar=10.0**log_mbar)
    assert min(one.metal, one.grey, one.oxide) >= 0.0
    assert one.metal + one.grey + one.oxide == pytest.approx(1.0, abs=1e-12)
    same = judged(metal, 2.0 * rate_nm_s, pressure_mbar=2.0 * 10.0**log_mbar)
    assert same.metal == pytest.approx(one.metal, abs=1e-9)


@given(log_mbar=st.floats(-9.0, -2.0), factor=st.floats(1.1, 10.0))
@settings(deadline=None, max_examples=50)
def test_a_worse_vacuum_never_helps(log_mbar, factor):
    good, bad = (judged(pressure_mbar=p) for p in (10.0**log_mbar, factor * 10.0**log_mbar))
    assert bad.metal <= good.metal
    assert bad.oxide >= good.oxide


def test_stated_limits_keep_it_metal_nine_times_in_ten():
    worried = judged(pressure_mbar=1e-5)
    at_limit = judged(pressure_mbar=worried.most_mbar)
    assert at_limit.metal == pytest.approx(0.9, abs=1e-9)
    faster = judged(rate_nm_s=worried.least_nm_s, pressure_mbar=1e-5)
    assert faster.metal == pytest.approx(0.9, abs=1e-9)


def test_the_three_verdicts_come_in_their_order():
    verdicts = [judged(pressure_mbar=p).verdict for p in (1e-7, 2e-5, 1e-3)]
    assert verdicts == ["metal", "grey", "oxide"]


def test_gold_stays_gold_where_titanium_burns():
    assert judged("Au", pressure_mbar=1e-4).stays_metal
    assert not judged("Ti", pressure_mbar=1e-4).stays_metal


def test_each_gas_brings_its_own_oxygen():
    flux = float(metal_per_cm2_s(1.0, *TITANIUM))
    offered = oxygen_arrival({"H2O": 1e-6, "O2": 1e-6, "N2": 1e-3, "Ar": 1.0}, flux)
    assert set(offered) == {"H2O", "O2"}
    assert offered["O2"] / offered["H2O"] == pytest.approx(2.0 * (18.015 / 31.998) ** 0.5)
    assert offered["H2O"] == pytest.approx(impingement_per_cm2_s(1e-6, 18.015) / flux)


def test_plastic_makes_it_worse_and_less_sure():
    bare, masked = (judged(pressure_mbar=1e-6, plastic=p) for p in (False, True))
    assert masked.offered > 2.0 * bare.offered
    assert masked.metal < bare.metal


def test_a_getter_lowers_what_is_left_until_it_is_spent():
    chamber = Chamber(1e-5, getter=Getter(3000.0, 50.0))
    relief, fresh_s = getter_relief(chamber)
    # 3000 cm² × 0.5 × 14.7 l/s cm² of water against 50 l/s
    assert relief["H2O"] == pytest.approx(50.0 / (50.0 + 3000.0 * 0.5 * 14.67), rel=1e-2)
    helped = metal_verdict("Ti", 1.0, *TITANIUM, chamber, relief)
    assert helped.metal > judged(pressure_mbar=1e-5).metal
    worse = getter_relief(Chamber(1e-4, getter=Getter(3000.0, 50.0)))[1]
    assert worse == pytest.approx(fresh_s / 10.0)
    assert getter_relief(Chamber(1e-5)) == ({}, 0.0)


def test_monolayer_time_is_the_inverse_of_impingement():
    assert monolayer_time_s(1e-6, 28.0) == pytest.approx(1e15 / impingement_per_cm2_s(1e-6, 28.0))


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda: Chamber(1.0), OutOfRangeError, "pressure is 1 mbar"),
        (lambda: Chamber(float("nan")), OutOfRangeError, "pressure is nan mbar"),
        (lambda: Chamber(1e-5, "wet"), UnknownNameError, "unknown residual gas 'wet'"),
        (lambda: Getter(0.0, 50.0), OutOfRangeError, "getter area is 0 cm²"),
        (lambda: Getter(10.0, 0.0), OutOfRangeError, "pumping speed is 0 l/s"),
        (lambda: oxygen_arrival({"Xe": 1.0}, 1.0), UnknownNameError, "unknown gas 'Xe'"),
        (
            lambda: metal_verdict("Re", 1.0, 21.0, 186.2, Chamber(1e-5)),
            UnknownNameError,
            "how 'Re' takes oxygen is not known",
        ),
    ],
)
def test_refuses_what_cannot_be(make, error, words):
    with pytest.raises(error, match=words):
        make()


def test_every_metal_with_an_oxide_has_a_sticking_class():
    for metal in ("Ti", "Al", "Cr", "Ag", "Pt", "Bi"):
        assert takes_oxygen(metal)
        assert metal_verdict(metal, 1.0, 5.0, 50.0, Chamber(1e-6)).held > 0.0
    assert not takes_oxygen("TiO2")
