"""What comes out of small chambers. Each is common practice, no source, save where one is named."""

from __future__ import annotations

import pytest

from oxhue.optics.deposition.metal_run import MetalRun
from oxhue.optics.run_sheet.gas import as_run_gas
from oxhue.optics.run_sheet.run_sheet import run_sheet

pytestmark = pytest.mark.source("coaters of small chambers", "common practice", "likelier than not")

ROUGH = ["1e-5mbar", "1e-4mbar", "1e-3mbar", "1e-2mbar", "5e-2mbar"]
JAR = {"leak": "1e-3mbar.l/s", "pumping": "2l/s"}  # a rotary pump, a glass jar on a gasket
ARGON = {"working_gas": "argon", "working_pressure": "5e-3mbar"}


def grow(metal, rate_nm_s=0.3, *, target_cm2=20.0, **gas):
    """States of a metal at 5 cm from a small head, or from a hot source without a target."""
    run = as_run_gas(distance_mm=50.0, **gas)
    grown = MetalRun(
        metal, rate_nm_s, run.jar, run.working_gas, run.working_pressure_mbar,
        distance_cm=5.0, target_cm2=target_cm2,
    )  # fmt: skip
    return grown.balance.states


@pytest.mark.source("bench coaters lay gold, palladium and platinum in rough air every day",
                    "common practice", "nine in ten")  # fmt: skip
@pytest.mark.parametrize("metal", ["Au", "Pd", "Pt"])
@pytest.mark.parametrize("pressure", ROUGH)
def test_noble_metals_are_metal_in_any_air(metal, pressure):
    assert grow(metal, pressure=pressure, gas="air")["metal"] > 0.9
    pumped = {"working_gas": "air", "working_pressure": pressure} | JAR
    assert grow(metal, **pumped)["metal"] > 0.9


@pytest.mark.source("silver is evaporated as silver in poor vacuum, and sputtered as silver where "
                    "the gas is argon", "common practice", "nine in ten")  # fmt: skip
@pytest.mark.parametrize("pressure", ROUGH)
def test_silver_is_silver(pressure):
    assert grow("Ag", 1.0, target_cm2=None, pressure=pressure, gas="air")["metal"] > 0.9
    argon = {"working_gas": "argon", "working_pressure": pressure}
    assert grow("Ag", base_pressure="5e-6mbar", **argon)["metal"] > 0.9
    # only atomic oxygen of a discharge in air makes silver oxide
    assert grow("Ag", pressure=pressure, gas="air")["oxide"] < 0.15


@pytest.mark.parametrize("pressure", ROUGH)
def test_copper_sputtered_in_argon_is_copper(pressure):
    argon = {"working_gas": "argon", "working_pressure": pressure}
    assert grow("Cu", base_pressure="1e-5mbar", **argon)["metal"] > 0.9
    if pressure not in ROUGH[:2]:  # below, the leak of such a jar cannot be held with argon
        assert grow("Cu", **argon, **JAR)["metal"] > 0.5


@pytest.mark.source("copper sputtered in some 1e-2 mbar of air or oxygen is copper oxide; in a "
                    "residual 1e-5 mbar it is copper", "common practice",
                    "likelier than not")  # fmt: skip
def test_copper_sputtered_in_air_goes_from_metal_to_oxide():
    states = [grow("Cu", pressure=pressure, gas="air") for pressure in ROUGH]
    assert states[0]["metal"] > 0.5
    assert states[3]["oxide"] > 0.9
    assert states[4]["oxide"] > 0.9
    metal = [one["metal"] for one in states]
    assert metal == sorted(metal, reverse=True)


@pytest.mark.source("titanium in a pressure of air that holds is oxide", "common practice",
                    "nine in ten")  # fmt: skip
@pytest.mark.parametrize("pressure", ROUGH[2:])
def test_titanium_in_air_that_holds_is_oxide(pressure):
    assert grow("Ti", pressure=pressure, gas="air")["oxide"] > 0.9
    assert grow("Ti", 0.1, target_cm2=None, pressure=pressure, gas="air")["oxide"] > 0.9


@pytest.mark.source("titanium sputtered in argon in a jar that leaks little is metal",
                    "common practice", "likelier than not")  # fmt: skip
@pytest.mark.parametrize("pressure", ROUGH[2:])
def test_titanium_sputtered_in_a_tight_jar_is_metal(pressure):
    argon = {"working_gas": "argon", "working_pressure": pressure}
    assert grow("Ti", leak="3e-4mbar.l/s", pumping="2l/s", **argon)["metal"] > 0.8


def wire(diameter, plastic=False, **other):
    setup = {"source": "wire", "wire": "Ti", "wire_length": "200mm", "distance": "5cm"}
    setup |= {"wire_diameter": diameter, **other}
    (step,) = run_sheet("Ti 80nm / glass 1mm", setup, plastic=plastic, **JAR, **ARGON).layers
    return step


@pytest.mark.source("a hot titanium wire in a jar with a rotary pump and argon gives a conducting "
                    "mirror once its walls are coated; behind a vinyl mask the film is golden or "
                    "grey and hardly conducts", "common practice", "likelier than not")  # fmt: skip
@pytest.mark.parametrize("diameter", ["0.25mm", "0.4mm", "0.8mm"])
def test_wires_of_any_diameter_give_a_mirror_and_a_mask_spoils_it(diameter):
    clean, masked = wire(diameter), wire(diameter, plastic=True)
    assert clean.state == "metal"
    assert clean.states["metal"] > 0.8
    assert clean.ohms_per_square < 50.0
    assert masked.states["metal"] < 0.5
    assert masked.oxygen_per_metal > 10.0 * clean.oxygen_per_metal
    take_out = next(one for one in masked.remedies if one.do.startswith("take vinyl"))
    assert take_out.metal_after > 0.8


@pytest.mark.source("a titanium wire run below its full heat behind vinyl gives oxide",
                    "common practice", "likelier than not")  # fmt: skip
@pytest.mark.parametrize("current", ["4.4A", "4.8A"])
def test_a_slow_wire_behind_a_mask_gives_oxide(current):
    masked = wire("0.4mm", plastic=True, current=current)
    assert masked.state == "oxide"
    assert masked.ohms_per_square is None or masked.ohms_per_square > 1e5


@pytest.mark.source("the useful heat of a titanium wire and its melting lie a few percent of its "
                    "current apart", "common practice", "2 to 25 %")  # fmt: skip
@pytest.mark.parametrize("diameter", ["0.25mm", "0.4mm", "0.8mm"])
@pytest.mark.parametrize("coil", [None, "5mm,2mm"])
def test_useful_heat_is_near_the_melting_current(diameter, coil):
    plan = wire(diameter, coil=coil).wire
    useful = next(row.current_A for row in plan.table if row.rate_nm_s > 0.02)
    assert 0.75 * plan.melting_A < useful < 0.98 * plan.melting_A


@pytest.mark.source("zinc leaves a boat of brass before the copper; a sputtered alloy keeps its "
                    "composition", "common practice", "as stated")  # fmt: skip
def test_brass_comes_apart_in_a_boat_alone():
    boat = run_sheet("brass 80nm / glass 1mm", source="boat", pressure="1e-5mbar").layers[0]
    assert boat.fractions[0].film["Zn"] > 0.95
    assert boat.fractions[-1].film["Cu"] > 0.95
    head = run_sheet("brass 80nm / glass 1mm", source="sputter", pressure="1e-5mbar").layers[0]
    assert head.fractions == ()
    assert any("keeps its composition" in one for one in head.remarks)
