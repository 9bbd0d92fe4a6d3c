"""Charge, heat and wire of a layer from the mechanics of a chamber."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.deposition.geometry import Piece, Placement, Source
from oxhue.optics.deposition.setup import (
    Charge,
    Heater,
    Setup,
    charge_mass_g,
    charge_remarks,
    rate_at_nm_s,
    source_temperature,
    thickness_from_charge_nm,
    tooling_factor,
    wire_plan,
)
from oxhue.optics.errors import OutOfRangeError, UnknownNameError
from oxhue.optics.films.materials.catalogue import find_entry

PIECE = Piece(50.0, 50.0)
BOAT = Setup(Source("boat"), Placement(300.0), PIECE)
WIRE = Setup(Source("wire"), Placement(300.0), PIECE)


def planned_wire(metal, rate_nm_s, setup=WIRE, **heater):
    setup = replace(setup, heater=Heater(**heater))
    entry = find_entry(metal)
    return wire_plan(entry, source_temperature(entry, rate_nm_s, setup), setup)


@given(
    kind=st.sampled_from(["point", "plane", "wire", "boat"]),
    thickness_nm=st.floats(0.1, 1000.0),
    tooling=st.floats(0.5, 2.0),
)
@settings(deadline=None, max_examples=40)
def test_charge_and_thickness_undo_each_other(kind, thickness_nm, tooling):
    setup = Setup(Source(kind), Placement(250.0), PIECE, tooling=tooling)
    mass = charge_mass_g(thickness_nm, 4.5, setup)
    assert thickness_from_charge_nm(mass, 4.5, setup) == pytest.approx(thickness_nm)


def test_charge_goes_as_the_square_of_the_distance():
    far = replace(BOAT, placement=Placement(600.0))
    assert charge_mass_g(80.0, 2.7, far) == pytest.approx(4.0 * charge_mass_g(80.0, 2.7, BOAT))


def test_tooling_from_a_measured_piece():
    factor = tooling_factor(90.0, 99.0)
    assert factor == pytest.approx(1.1)
    assert tooling_factor(100.0, 95.0, used=factor) == pytest.approx(1.1 * 0.95)
    corrected = charge_mass_g(90.0, 2.7, replace(BOAT, tooling=factor))
    # the charge that had given 99 nm gives 90 nm once it is cut by the factor
    assert corrected == pytest.approx(charge_mass_g(90.0, 2.7, BOAT) * 90.0 / 99.0)


@pytest.mark.parametrize("metal", ["Al", "Cr", "Ti", "SiO"])
def test_the_temperature_gives_the_rate(metal):
    entry = find_entry(metal)
    found = source_temperature(entry, 0.5, BOAT)
    assert rate_at_nm_s(entry, found.temperature_C, BOAT) == pytest.approx(0.5, rel=0.07)


def test_more_hot_surface_needs_less_heat():
    entry = find_entry("Cr")
    small, large = (
        source_temperature(entry, 1.0, replace(BOAT, heater=Heater(area_cm2=a))) for a in (0.5, 5.0)
    )
    assert large.temperature_C < small.temperature_C - 50.0


def test_titanium_wire_serves_slow_layers_and_tungsten_carries_it_for_fast_ones():
    slow, fast = planned_wire("Ti", 0.002), planned_wire("Ti", 1.0)
    assert (slow.wire, slow.carries, slow.possible) == ("Ti", False, True)
    assert (fast.wire, fast.carries, fast.possible) == ("W", True, True)
    # 30 K below melting it gives what it says it gives
    assert slow.fastest_own_nm_s == pytest.approx(rate_at_nm_s(find_entry("Ti"), 1638.0, WIRE))
    assert 0.002 < slow.fastest_own_nm_s < 1.0
    insisted = planned_wire("Ti", 1.0, wire="Ti")
    assert not insisted.possible
    assert insisted.current_A is None


def test_aluminium_hangs_on_tungsten():
    plan = planned_wire("Al", 2.0)
    assert plan.wire == "W"
    assert plan.fastest_own_nm_s is None
    assert 10.0 < plan.current_A < 40.0
    assert plan.power_W > 0.0


def test_what_a_current_gives():
    plan = planned_wire("Al", 2.0)
    again = planned_wire("Al", 2.0, current_A=plan.current_A)
    assert again.at_current_nm_s == pytest.approx(2.0, rel=1e-3)


def test_a_metal_too_refractory_for_tungsten_is_said_to_be():
    assert not planned_wire("Ta", 5.0).possible


def test_materials_without_data_are_not_guessed():
    assert source_temperature(find_entry("TiO2"), 1.0, BOAT) is None
    assert rate_at_nm_s(find_entry("TiO2"), 1500.0, BOAT) is None
    assert charge_remarks("Re") == Charge()


def test_every_remark_is_about_a_known_material():
    text = files("oxhue.optics.deposition").joinpath("charges.toml").read_text("utf-8")
    for name in tomllib.loads(text):
        assert find_entry(name).name == name
        assert charge_remarks(name).holder
    assert "zinc selenide" in charge_remarks("ZnSe").hazard


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda: Heater(area_cm2=0.0), OutOfRangeError, "hot surface is 0 cm²"),
        (lambda: replace(BOAT, tooling=0.0), OutOfRangeError, "tooling factor is 0"),
        (lambda: tooling_factor(0.0, 90.0), OutOfRangeError, "computed thickness is 0 nm"),
        (lambda: tooling_factor(90.0, float("nan")), OutOfRangeError, "measured thickness is nan"),
        (lambda: planned_wire("Al", 1.0, wire="Au"), UnknownNameError, "a wire of 'Au'"),
        (lambda: planned_wire("Al", 1.0, current_A=500.0), OutOfRangeError, "not 500 A"),
    ],
)
def test_refuses_what_cannot_be(make, error, words):
    with pytest.raises(error, match=words):
        make()
