"""What a source can give a layer, and what it says where it cannot."""

from __future__ import annotations

from itertools import pairwise

import pytest

from oxhue.optics.deposition.geometry import Coil, Piece, Placement, Source
from oxhue.optics.deposition.setup import Heater, Setup
from oxhue.optics.deposition.source_plan import plan_source
from oxhue.optics.errors import InputError
from oxhue.optics.films.materials.catalogue import find_entry

PIECE = Piece(50.0, 50.0)


def plan(name, kind="boat", nm=50.0, rate=None, distance_mm=300.0, length_mm=50.0, coil=None,
         path_cm=1e9, tooling=1.0, **heater):  # fmt: skip
    source = Source(kind, length_mm=length_mm, coil=coil)
    setup = Setup(source, Placement(distance_mm), PIECE, Heater(**heater), tooling)
    return plan_source(find_entry(name), nm, setup, rate_nm_s=rate, free_path_cm=path_cm)


def titanium(nm=80.0, **more):
    return plan("Ti", "wire", nm, distance_mm=50.0, length_mm=200.0, wire="Ti", **more)


@pytest.mark.parametrize("metal", ["Al", "Cr", "Ti", "SiO"])
def test_more_rate_or_less_surface_needs_more_heat(metal):
    slow, fast, small = (
        plan(metal, rate=0.5),
        plan(metal, rate=5.0),
        plan(metal, rate=0.5, area_cm2=0.1),
    )
    assert slow.heat.temperature_C < fast.heat.temperature_C
    # a tenth of the surface needs ten times the flux
    assert small.heat.temperature_C == pytest.approx(fast.heat.temperature_C)


def test_materials_without_data_are_not_guessed():
    found = plan("TiO2")
    assert found.heat is None
    assert found.mass_g > 0.0


def test_titanium_wire_serves_slow_layers_and_tungsten_carries_it_for_fast_ones():
    slow, fast = (plan("Ti", "wire", rate=rate, wire_mm=0.8) for rate in (0.002, 1.0))
    assert (slow.wire.wire, slow.wire.carries, slow.possible) == ("Ti", False, True)
    assert (fast.wire.wire, fast.wire.carries, fast.possible) == ("W", True, True)
    assert 0.002 < slow.wire.fastest_nm_s < 1.0


def test_what_a_wire_cannot_do_is_refused_with_what_it_can():
    insisted = titanium(rate=1.0, wire_mm=0.4)
    assert "gives at most 0.16 nm/s here" in insisted.why_not
    assert insisted.rate_nm_s == pytest.approx(insisted.wire.fastest_nm_s)
    assert insisted.asked_nm_s == 1.0
    cold = titanium(wire_mm=0.8, current_A=4.8)
    assert "879 °C" in cold.why_not
    coil = titanium(wire_mm=0.4, current_A=5.0, coil=Coil(5.0, 0.8))
    assert "melts above 4.8 A, and 5 A is stated" in coil.why_not
    assert coil.wire.current_A < coil.wire.melting_A
    refractory = plan("Ta", "wire", rate=5.0, wire_mm=0.8)
    assert "a Ta wire" in refractory.why_not


def test_without_a_rate_the_wire_gives_what_it_can():
    free = titanium(wire_mm=0.4)
    assert free.possible
    assert free.heat.temperature_C == pytest.approx(1668.0 - 30.0, abs=1.0)
    at_current = titanium(wire_mm=0.4, current_A=5.0)
    assert at_current.possible
    assert at_current.rate_nm_s < free.rate_nm_s
    assert at_current.rate_factor > 1.0


def test_the_table_ends_below_melting_and_rises():
    rows = titanium(wire_mm=0.4).wire.table
    assert len(rows) == 8
    for one, two in pairwise(rows):
        assert one.current_A < two.current_A
        assert one.temperature_C < two.temperature_C
        assert one.rate_nm_s < two.rate_nm_s
        assert one.lasts_s > two.lasts_s
    assert rows[-1].current_A < titanium(wire_mm=0.4).wire.melting_A


def test_a_thick_layer_takes_several_wires():
    assert titanium(nm=80.0, wire_mm=0.4).wire.wires == 1
    thick = titanium(nm=1000.0, wire_mm=0.4)
    assert thick.wire.wires > 1


def test_the_diameter_is_asked_for_or_worked_out():
    with pytest.raises(InputError, match="diameter of the wire decides its heat and is not known"):
        titanium()
    melted, cold = titanium(melted_at_A=5.42), titanium(cold_ohm=0.654)
    assert melted.wire.diameter_mm == pytest.approx(0.4, rel=0.01)
    assert cold.wire.diameter_mm == pytest.approx(0.4, rel=0.01)
    assert "melted at 5.42 A" in melted.wire.diameter_from


def test_aluminium_hangs_on_tungsten_and_a_current_says_what_it_gives():
    found = plan("Al", "wire", rate=2.0, wire_mm=0.8)
    assert found.wire.wire == "W"
    assert 5.0 < found.wire.current_A < 40.0
    again = plan("Al", "wire", wire_mm=0.8, current_A=found.wire.current_A)
    assert again.rate_nm_s == pytest.approx(2.0, rel=0.01)
    assert "flashes off" in plan("Al", "wire", wire_mm=0.8, current_A=35.0).why_not


def test_volts_and_milliamperes_give_a_rate_that_a_measured_one_overrides():
    computed = plan("Cu", "sputter", distance_mm=50.0, voltage_V=500.0, current_A=0.05)
    assert 0.1 < computed.rate_nm_s < 10.0
    assert computed.rate_factor >= 1.5
    measured = plan("Cu", "sputter", rate=0.3, voltage_V=500.0, current_A=0.05, tooling=0.8)
    assert measured.rate_nm_s == pytest.approx(0.24)
    assert measured.rate_factor == 1.0
    thick = plan("Cu", "sputter", distance_mm=50.0, voltage_V=500.0, current_A=0.05, path_cm=0.5)
    assert thick.rate_nm_s < 0.9 * computed.rate_nm_s
    with pytest.raises(InputError, match="go together"):
        plan("Cu", "sputter", voltage_V=500.0)
    unknown = plan("Bi", "sputter", voltage_V=500.0, current_A=0.05)
    assert "no sputter yield is held" in unknown.rate_from


def test_gas_on_the_way_costs_charge_and_heat():
    free, thick = (plan("Al", rate=1.0, path_cm=path) for path in (1e9, 10.0))
    assert thick.mass_g > 1.5 * free.mass_g
    assert thick.heat.temperature_C > free.heat.temperature_C
    assert thick.arrival.doubt > 1.2


def test_brass_comes_apart_in_a_boat_and_not_from_a_target():
    boat = plan("brass", rate=1.0)
    assert boat.fractions[0].film["Zn"] > 0.9
    assert boat.fractions[-1].film["Cu"] > 0.9
    assert plan("brass", "sputter", rate=0.2).fractions == ()


def test_a_heat_beyond_all_is_said():
    beyond = plan("W", rate=100.0, distance_mm=1000.0)
    assert "no temperature below 3727 °C gives 100 nm/s" in beyond.why_not
    assert beyond.rate_nm_s < 1.0
