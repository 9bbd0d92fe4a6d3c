"""A wire between cold posts: its heat balance, its coil, its life, and its diameter in reverse."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.deposition.hot_wire import (
    Coil,
    Wire,
    coil_free_share,
    diameter_from_melting,
    diameter_from_resistance_mm,
    heat_wire,
    melting_current_A,
    wire_curve,
)
from oxhue.optics.deposition.wire import wire_current_A, wire_properties, wire_temperature_C
from oxhue.optics.errors import InputError, OutOfRangeError

TITANIUM = Wire("Ti", 0.4, 200.0)
COIL = replace(TITANIUM, coil=Coil(5.0, 0.8))


@given(
    metal=st.sampled_from(["W", "Mo", "Ta", "Ti"]),
    diameter_mm=st.floats(0.1, 2.0),
    length_mm=st.floats(5.0, 500.0),
    share=st.floats(0.2, 1.0),
)
@settings(deadline=None, max_examples=40)
def test_what_goes_in_comes_out(metal, diameter_mm, length_mm, share):
    current = share * float(wire_current_A(metal, diameter_mm, 1600.0))
    heat = heat_wire(Wire(metal, diameter_mm, length_mm), current)
    assert heat.radiated_W + heat.conducted_W == pytest.approx(heat.supplied_W, rel=1e-9)
    assert np.all(np.diff(heat.temperature_C) > -1e-9 * float(heat.hottest_C))


def test_the_middle_of_a_long_wire_is_that_of_one_without_end():
    current = 4.8
    middle = float(heat_wire(TITANIUM, current).hottest_C)
    assert middle == pytest.approx(wire_temperature_C("Ti", 0.4, current), abs=0.01)
    assert float(heat_wire(replace(TITANIUM, length_mm=8.0), current).hottest_C) < middle - 300.0


def test_a_wire_that_only_conducts_meets_the_closed_form():
    # Without radiation and with k = L T/ρ (Wiedemann-Franz), a wire with cold ends reaches
    # T² = T0² + U²/(4 L) for the voltage U across it, whatever its resistivity (Kohlrausch).
    short = Wire("W", 0.5, 1.0)
    heat = heat_wire(short, 30.0)
    volts = float(heat.supplied_W) / 30.0
    kelvin = np.sqrt(293.15**2 + volts**2 / (4.0 * 2.44e-8))
    assert heat.radiated_W < 1e-3 * heat.conducted_W
    assert float(heat.hottest_C) + 273.15 == pytest.approx(kelvin, rel=2e-3)


def test_a_coil_runs_hotter_and_melts_sooner():
    straight, coil = (float(heat_wire(one, 4.4).hottest_C) for one in (TITANIUM, COIL))
    assert straight + 60.0 < coil < straight + 170.0
    assert melting_current_A(COIL) < 0.95 * melting_current_A(TITANIUM)


@given(st.floats(1.01, 50.0))
def test_an_open_coil_hides_nothing_and_a_tight_one_half(ratio):
    share = coil_free_share(Coil(5.0, ratio), 1.0)
    assert 0.3 < share < 1.0
    assert share < coil_free_share(Coil(5.0, 1.1 * ratio), 1.0)


def test_the_curve_is_what_the_balance_says():
    curve = wire_curve(TITANIUM)
    hot = float(heat_wire(TITANIUM, 5.0).hottest_C)
    assert curve.hottest_at(5.0) == pytest.approx(hot, abs=1.0)
    assert curve.current_for_C(hot) == pytest.approx(5.0, abs=0.01)
    assert curve.current_for_vapour(curve.vapour_at(5.0)) == pytest.approx(5.0, rel=1e-9)
    assert curve.hottest_C[-1] == pytest.approx(TITANIUM.hottest_C, abs=0.5)
    assert np.isnan(curve.hottest_at(curve.melting_A + 0.1))


def test_life_shortens_with_current_and_ends_at_melting():
    curve = wire_curve(TITANIUM)
    lives = [curve.life_s(current) for current in (4.4, 4.8, 5.2, curve.melting_A)]
    assert all(one > other for one, other in pairwise(lives))
    assert lives[-1] == 0.0
    # what has left the whole wire by then is at most what thinning by the ratio to melting frees
    thinned = 1.0 - (4.8 / curve.melting_A) ** (4.0 / 3.0)
    mass = 4.506 * np.pi * 0.02**2 * 20.0
    assert curve.vapour_at(4.8) * lives[1] < thinned * mass


@pytest.mark.parametrize("length_mm", [20.0, 200.0])
def test_the_diameter_comes_back_from_the_current_that_melted_it(length_mm):
    wire = Wire("Ti", 0.55, length_mm)
    found = diameter_from_melting(replace(wire, diameter_mm=1.0), melting_current_A(wire))
    assert found.diameter_mm == pytest.approx(0.55, rel=2e-3)


def test_the_diameter_comes_back_from_cold_ohms():
    resistivity, _ = wire_properties("W", np.array(300.0))
    ohm = float(resistivity) * 0.2 / (np.pi * 0.25e-6 / 4.0)
    assert diameter_from_resistance_mm("W", 200.0, ohm) == pytest.approx(0.5, rel=0.02)


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: Wire("Ti", 0.9, 200.0, Coil(5.0, 0.8)), InputError, "touch and short"),
        (lambda: Wire("Ti", 0.4, 0.2), OutOfRangeError, "must be 1 to 10000 mm"),
        (lambda: Coil(0.0, 1.0), OutOfRangeError, "diameter of a coil"),
        (lambda: heat_wire(TITANIUM, 0.0), OutOfRangeError, "above 0 A"),
        (lambda: diameter_from_resistance_mm("Ti", 200.0, 0.0), OutOfRangeError, "above 0"),
    ],
)
def test_refuses_in_one_sentence(call, error, words):
    with pytest.raises(error, match=words):
        call()
