"""What is to be minded about a layer: every remark follows from what is known of it."""

import pytest

from oxhue.optics.films.materials.catalogue import find_entry
from oxhue.optics.run_sheet.run_sheet import run_sheet


def minded(name, source="boat", rate="1nm/s", distance="30cm", nm=50, gas=None, **heater):
    setup = {"source": source, "distance": distance, **heater}
    sheet = run_sheet(
        f"{name} {nm}nm / glass", setup, rate=rate, **(gas or {"pressure": "1e-6mbar"})
    )
    return sheet.layers[0], "\n".join(sheet.layers[0].remarks)


@pytest.mark.parametrize(
    ("name", "state"), [("Al", "Al is molten at"), ("Cr", "Cr sublimes at"), ("Mg", "Mg sublimes")]
)
def test_whether_the_charge_melts_before_it_evaporates(name, state):
    step, said = minded(name)
    assert state in said
    molten = step.source_temperature_C > find_entry(name).melting_C
    assert molten == ("molten" in state)


def test_a_charge_without_vapour_data_is_set_by_a_trial():
    step, said = minded("Bi")
    assert step.source_temperature_C is None
    assert step.mass_g > 0.0
    assert "no vapour pressure is held for Bi: set its heat by a trial" in said


def test_estimated_and_extrapolated_heats_are_marked():
    assert "is an estimate, good to about 50 K" in minded("SiO")[1]
    assert "beyond the data of the vapour pressure" in minded("Al", rate="300nm/s")[1]
    plain = minded("Al")[1]
    assert "estimate" not in plain
    assert "beyond the data" not in plain


def test_a_wire_says_how_hot_how_long_and_what_it_rests_on():
    step, hung = minded("Ti", "wire", wire_diameter="0.8mm")
    assert "the charge hangs on a W wire" in hung
    thin = {"wire": "Ti", "wire_diameter": "0.4mm", "wire_length": "200mm"}
    step, own = minded("Ti", "wire", None, "5cm", 80, **thin)
    assert "hangs on" not in own
    assert f"at most {step.wire.fastest_nm_s:.2g} nm/s here, 30 K below" in own
    assert "melts above 5.42 A" in own
    assert "as the wire thins" in own
    assert "within a factor of 3" in own
    assert "in turn, or a thicker one" in minded("Ti", "wire", None, "5cm", 1000, **thin)[1]
    said = minded("Ti", "wire", "0.1nm/s", "5cm", 80, current="4.8A", **thin)[1]
    assert "the plan goes by the rate" in said


def test_a_rate_nobody_gave_is_said():
    assert "no rate was given: the plan goes by 1 nm/s" in minded("Al", rate=None)[1]
    assert "no rate was given" not in minded("Al")[1]


def test_brass_is_warned_of():
    assert "comes apart: the first film is over 99 % Zn" in minded("brass")[1]
    assert "keeps its composition once the target is burnt in" in minded("brass", "sputter")[1]


@pytest.mark.parametrize(("metal", "word"), [("Au", "cannot form"), ("Pt", "cold film")])
def test_why_a_noble_metal_stays_metal_in_rough_air(metal, word):
    step, said = minded(
        metal, "sputter", "0.2nm/s", "5cm", 20, {"pressure": "1e-2mbar", "gas": "air"}
    )
    assert step.states["metal"] > 0.9
    assert word in said


def test_a_sputter_source_without_a_working_gas_is_asked_for_it():
    asked = "name the working gas and its pressure"
    rough = {"pressure": "2e-2mbar"}
    argon = {"working_gas": "argon", "working_pressure": "2e-2mbar"}
    assert asked in minded("Ti", "sputter", "2nm/s", "5cm", 60, rough)[1]
    assert asked not in minded("Ti", "sputter", "2nm/s", "5cm", 60, argon)[1]
    assert asked not in minded("Ti", "boat", "2nm/s", "5cm", 60, rough)[1]
