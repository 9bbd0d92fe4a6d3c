"""The run sheet: order, needs, witness looks, and a new plan after a layer came out wrong."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.deposition.geometry import Piece, Placement, Source
from oxhue.optics.deposition.jar import Jar, make_jar
from oxhue.optics.deposition.setup import Setup, charge_mass_g
from oxhue.optics.electrical.thin_film import film_metal, metal_sheet_ohm
from oxhue.optics.errors import InputError, LimitError, OutOfRangeError
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.look.look import look
from oxhue.optics.run_sheet.gas import RunGas
from oxhue.optics.run_sheet.inputs import Rates, parse_piece, parse_rates, parse_tooling
from oxhue.optics.run_sheet.replan import MadeLayer, parse_made, reflectance_slopes
from oxhue.optics.run_sheet.run_sheet import laying_order, run_sheet
from oxhue.optics.run_sheet.witness import moments_nm

BOAT = Setup(Source("boat"), Placement(300.0), Piece(50.0, 50.0))
SPUTTER = Setup(Source("sputter", ring_mm=50.0), Placement(60.0), Piece(50.0, 50.0), tooling=0.8)
VACUUM = RunGas(Jar(base_mbar=1e-6))
MIRROR = "TiO2 60nm / SiO2 90nm / Al 80nm / glass"
FILTER = "TiO2 60nm / SiO2 95nm / TiO2 55nm / SiO2 90nm / Ti 20nm / glass 1mm"


def planned(text=MIRROR, setup=BOAT, gas=VACUUM, **more):
    return run_sheet(text, setup, gas=gas, **more)


# -- order and needs ---------------------------------------------------------------------------


def test_layers_are_laid_from_the_substrate_outward_then_the_back():
    sheet = planned("TiO2 60nm / Al 80nm / glass 4mm | MgF2 100nm / SiO2 50nm")
    laid = [(step.step, step.material, step.face) for step in sheet.layers]
    assert laid == [
        (1, "Al", "front"), (2, "TiO2", "front"), (3, "MgF2", "back"), (4, "SiO2", "back"),
    ]  # fmt: skip
    assert laying_order(sheet.films) == [1, 0, 2, 3]


def test_charge_and_time_are_those_of_the_layer():
    sheet = planned(rate=Rates(1.0, (("Al", 10.0),)))
    aluminium, silica, _ = sheet.layers
    assert aluminium.mass_g == pytest.approx(charge_mass_g(80.0, 2.699, BOAT), rel=0.01)
    assert (aluminium.time_s, silica.time_s) == (pytest.approx(8.0), pytest.approx(90.0))
    assert aluminium.source_temperature_C > 1000.0
    assert silica.source_temperature_C is None


def test_sputtering_needs_time_alone_and_the_tooling_stretches_it():
    step = planned("Ti 50nm / glass", SPUTTER, rate=Rates(0.5)).layers[0]
    assert step.mass_g is None
    assert step.source_temperature_C is None
    assert (step.asked_nm_s, step.rate_nm_s) == (0.5, pytest.approx(0.4))
    assert step.time_s == pytest.approx(50.0 / 0.4)


def test_only_metals_are_judged_by_the_gas():
    verdicts = [step.states for step in planned().layers]
    assert sum(verdicts[0].values()) == pytest.approx(1.0)
    assert verdicts[1:] == [None, None]


def test_worse_vacuum_shows_in_state_and_remarks():
    foul = RunGas(Jar(base_mbar=1e-4, plastic=True))
    step = planned("Ti 50nm / glass", gas=foul).layers[0]
    assert not step.stays_metal
    said = " ".join(step.remarks)
    assert "nine times in ten" in said
    assert "masks, tape" in said
    assert "plastic near the piece" in said
    clean = planned("Ti 50nm / glass", gas=RunGas(Jar(base_mbar=1e-4))).layers[0]
    better = RunGas(Jar(base_mbar=clean.limits.below_mbar))
    kept = planned("Ti 50nm / glass", gas=better).layers[0]
    assert kept.states["metal"] == pytest.approx(0.9, abs=0.03)
    assert step.states["metal"] <= clean.states["metal"]
    faster = planned("Ti 50nm / glass", gas=foul, rate=Rates(step.limits.above_nm_s)).layers[0]
    assert faster.states["metal"] == pytest.approx(0.9, abs=0.03)


def test_what_no_boat_can_heat_is_said():
    boat, point = (
        planned("SiO2 50nm / glass", replace(BOAT, source=Source(kind))).layers[0].remarks
        for kind in ("boat", "point")
    )
    assert "source: electron beam only: a boat will not do, plan it from a point" in boat
    assert "source: electron beam only" in point


def test_a_plastic_piece_gives_off_water_itself():
    assert planned("Al 50nm / PMMA 3mm").gas.jar.plastic
    assert not planned("Al 50nm / glass 3mm").gas.jar.plastic


def test_a_getter_helps_until_it_is_spent():
    text, jar = "Cu 20nm / glass", make_jar(base_pressure="3e-5mbar", pumping="50l/s", volume="70l")
    for rate, helps in ((1.0, True), (0.001, False)):
        plain, helped = (
            planned(text, gas=RunGas(jar, getter_cm2=area), rate=Rates(rate)).layers[0]
            for area in (0.0, 3000.0)
        )
        assert (helped.arrival_ratio < 0.5 * plain.arrival_ratio) == helps


def test_scattering_is_cautioned_and_hazards_come_first():
    foul = planned("ZnSe 50nm / Cr 20nm / glass", gas=RunGas(Jar(base_mbar=1e-3)))
    assert foul.cautions[0].startswith("Chromium: some of its compounds")
    assert foul.cautions[1].startswith("Zinc selenide: poisonous")
    assert any("mean free path" in caution for caution in foul.cautions)
    assert not any("mean free path" in caution for caution in planned().cautions)


# -- witness -----------------------------------------------------------------------------------


def test_the_last_look_is_that_of_the_finished_piece():
    sheet = planned("SiO2 90nm / Ti 30nm / glass 1mm")
    last = sheet.layers[-1].seen
    whole = look("SiO2 90nm / Ti 30nm / glass 1mm")
    back = look("SiO2 90nm / Ti 30nm / glass 1mm", side="back")
    np.testing.assert_allclose(last.reflected.lab[-1], whole.reflected.lab, atol=1e-9)
    np.testing.assert_allclose(last.transmitted.lab[-1], whole.transmitted.lab, atol=1e-9)
    np.testing.assert_allclose(last.reflected_back.lab[-1], back.reflected.lab, atol=1e-9)
    np.testing.assert_allclose(sheet.finished.lab, whole.reflected.lab, atol=1e-9)


def test_looks_inside_a_layer_are_those_of_a_thinner_one():
    seen = planned("SiO2 90nm / Ti 30nm / glass 1mm", every_nm=40.0).layers[1].seen
    assert seen.thickness_nm.tolist() == [40.0, 80.0, 90.0]
    thinner = look("SiO2 40nm / Ti 30nm / glass 1mm")
    np.testing.assert_allclose(seen.reflected.lab[0], thinner.reflected.lab, atol=1e-9)


def test_a_layer_on_the_back_is_watched_from_the_back():
    sheet = planned("Al 80nm / glass 4mm | Ti 20nm")
    seen = sheet.layers[1].seen
    expected = look("Al 80nm / glass 4mm | Ti 20nm", side="back")
    np.testing.assert_allclose(seen.reflected.lab[-1], expected.reflected.lab, atol=1e-9)


def test_angle_reaches_every_look():
    sheet = planned("SiO2 90nm / Ti 30nm / glass 1mm", angle_deg=45.0)
    tilted = look("SiO2 90nm / Ti 30nm / glass 1mm", angle_deg=45.0)
    last = sheet.layers[-1].seen
    np.testing.assert_allclose(last.reflected.lab[-1], tilted.reflected.lab, atol=1e-9)
    np.testing.assert_allclose(sheet.finished.lab, tilted.reflected.lab, atol=1e-9)


def test_an_opaque_piece_has_no_back_but_its_slide_may():
    plate = planned("TiO2 45nm / Ti")
    assert plate.layers[0].seen.transmitted is None
    assert plate.layers[0].seen.reflected_back is None
    slide = planned("TiO2 45nm / Ti", witness="glass")
    assert slide.layers[0].seen.transmitted is not None
    assert slide.bare.slab_nm == 1e6
    np.testing.assert_allclose(slide.finished.lab, plate.finished.lab)


def test_ohms_fall_as_metal_grows_and_add_up_in_parallel():
    sheet = planned("Al 60nm / Ti 20nm / glass")
    titanium, aluminium = (step.seen for step in sheet.layers)
    assert np.all(np.diff(aluminium.ohms[:, 1]) < 0.0)
    assert np.all(np.diff(titanium.ohms[-1]) >= 0.0)
    metal = film_metal("Al")
    alone = metal_sheet_ohm(metal, 60.0, metal.impurity[0], percolation_nm=metal.percolation_nm[0])
    together = 1.0 / (1.0 / alone + 1.0 / titanium.ohms[-1, 0])
    assert aluminium.ohms[-1, 0] == pytest.approx(together)


def test_probes_on_an_insulator_find_nothing():
    steps = planned("Al 60nm / SiO2 50nm / Ti 20nm / glass").layers
    assert steps[1].seen.ohms is None
    bare = planned("Al 60nm / glass").layers[0].seen.ohms
    np.testing.assert_allclose(steps[2].seen.ohms, bare)


def test_islands_are_open():
    assert np.isinf(planned("Ag 30nm / glass").layers[0].seen.ohms[0, 1])


@pytest.mark.parametrize(("whole", "every", "count"), [(90.0, 30.0, 3), (90.0, 40.0, 3), (5, 9, 1)])
def test_moments_end_with_the_whole_layer(whole, every, count):
    moments = moments_nm(whole, every)
    assert moments.size == count
    assert moments[-1] == whole
    assert np.all(np.diff(moments) > 0.0)


# -- a new plan --------------------------------------------------------------------------------


@pytest.mark.parametrize("text", [MIRROR, FILTER, "SiO2 90nm / Ti 20nm / glass 2mm | TiO2 30nm"])
@pytest.mark.parametrize("angle_deg", [0.0, 50.0])
def test_slopes_of_reflectance_are_its_differences(text, angle_deg):
    stack = parse_stack(text)
    R, slopes = reflectance_slopes(stack, angle_deg)
    np.testing.assert_allclose(R, solve(stack, angle_deg=angle_deg).R, atol=1e-12)
    step_nm = 1e-3
    for i, layer in enumerate(stack.all_layers):
        at = float(layer.thickness_nm)
        sides = [
            solve(changed(text, i, at + s), angle_deg=angle_deg).R for s in (-step_nm, step_nm)
        ]
        np.testing.assert_allclose(slopes[i], (sides[1] - sides[0]) / (2 * step_nm), atol=1e-8)


def changed(text, position, thickness_nm):
    """The stack of a text with one thickness set, by way of its written form."""
    items = text.replace(" | ", " / | ").split(" / ")
    films = [i for i, item in enumerate(items) if "glass" not in item]
    old = items[films[position]]
    items[films[position]] = f"{old.rsplit(' ', 1)[0]} {thickness_nm!r}nm"
    return parse_stack(" / ".join(items).replace(" / | ", " | "))


def test_made_as_planned_changes_nothing():
    sheet = planned(FILTER, made=[MadeLayer(2, 90.0)])
    assert sheet.replan.delta_e_unchanged == pytest.approx(0.0, abs=1e-9)
    kept = [step.thickness_nm for step in sheet.layers]
    assert kept == pytest.approx([20.0, 90.0, 55.0, 95.0, 60.0], abs=0.01)


def test_the_rest_makes_good_what_came_out_wrong():
    sheet = planned(FILTER, made=[parse_made("2:SiO2 104nm")])
    assert [step.made for step in sheet.layers] == [True, True, False, False, False]
    assert [step.thickness_nm for step in sheet.layers[:2]] == [20.0, 104.0]
    assert sheet.layers[1].planned_nm == 90.0
    change = sheet.replan
    assert change.delta_e_unchanged > 2.0
    assert change.delta_e < 0.35 * change.delta_e_unchanged
    np.testing.assert_allclose(change.finished.lab, sheet.finished.lab, atol=1e-9)


def test_no_layer_is_changed_to_next_to_nothing():
    sheet = planned("TiO2 60nm / SiO2 180nm / Al 90nm / glass", made=[parse_made("2:SiO2 288nm")])
    assert sheet.layers[2].thickness_nm >= 0.25 * 60.0
    aimed = planned(
        "Ag 14nm / SiO2 90nm / glass", made=[parse_made("1:SiO2 60nm")], goals=["T>90% 550nm"]
    )
    assert aimed.layers[1].thickness_nm >= 10.0  # thinner silver is islands


def test_with_nothing_left_to_change_the_damage_is_told():
    sheet = planned("SiO2 90nm / Ti 20nm / glass", made=[MadeLayer(1, 25.0), MadeLayer(2, 120.0)])
    assert sheet.replan.delta_e == sheet.replan.delta_e_unchanged > 1.0


def test_a_gauge_result_says_what_was_made(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    one = {"thickness_nm": 92.0, "probability": 0.97, "interval90_nm": [85.0, 99.0]}
    two = {"thickness_nm": 150.0, "probability": 0.3}
    for name, found, fits in (
        ("sure", [one], True),
        ("two", [one, two], True),
        ("no", [one], False),
    ):
        (tmp_path / f"{name}.json").write_text(json.dumps({"candidates": found, "fits": fits}))
    (tmp_path / "other.json").write_text('{"layers": []}')
    assert parse_made("1:sure.json") == MadeLayer(1, 92.0, None, (85.0, 99.0))
    for name, words in (
        ("two", "several thicknesses"),
        ("no", "nothing fitted"),
        ("other", "not the JSON of a gauge result"),
        ("none", "there is no file"),
    ):
        with pytest.raises(InputError, match=words):
            parse_made(f"1:{name}.json")


@pytest.mark.parametrize(("least_nm", "counts_as_nm"), [(14.0, 90.0), (120.0, 120.0)])
def test_what_is_at_least_so_thick_counts_as_planned(least_nm, counts_as_nm, tmp_path):
    one = {"thickness_nm": least_nm, "probability": 1.0, "interval90_nm": [least_nm, None]}
    (tmp_path / "gauge.json").write_text(json.dumps({"candidates": [one], "fits": True}))
    sheet = run_sheet("SiO2 180nm / Al 90nm / glass 4mm", made=[f"1:{tmp_path / 'gauge.json'}"])
    assert sheet.layers[0].thickness_nm == counts_as_nm
    assert sheet.replan.made_doubt[0].interval90_nm == (least_nm, math.inf)
    assert f"step 1 is at least {least_nm:.0f} nm" in sheet.summary()
    low, high = sheet.replan.delta_e_range90
    assert low <= 0.2, "opaque aluminium looks the same however thick"
    assert (high > 5.0) == (least_nm < 20.0)


# -- reading and refusing ----------------------------------------------------------------------


def test_reads_what_people_write():
    assert parse_rates([]) == Rates(None)
    assert parse_rates(["2nm/s", "Al=100Å/s"]) == Rates(2.0, (("Al", 10.0),))
    assert parse_piece("50mm") == Piece(50.0, 50.0)
    assert parse_piece("25x75mm") == Piece(25.0, 75.0, round=False)
    assert parse_piece("2.5cm × 75 mm") == Piece(25.0, 75.0, round=False)
    assert parse_tooling("1.1") == 1.1
    assert parse_tooling("99nm/90nm") == pytest.approx(1.1)
    made = parse_made("2: Al 92 nm")
    assert (made.step, made.thickness_nm, made.medium.label) == (2, 92.0, "Al(mcpeak2015)")


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: planned("TiO2->Ti 80nm / glass", made=["1:Ti 70nm"]), InputError, "nor changed"),
        (lambda: planned("TiO2 0..80nm / glass"), InputError, "not a sweep"),
        (lambda: planned("air 80nm / glass"), InputError, "cannot be deposited"),
        (lambda: planned("TiO2 0nm / glass"), InputError, "has no thickness"),
        (lambda: planned("glass"), InputError, "no layer to deposit"),
        (lambda: planned(witness="Ti 5nm / glass"), InputError, "must be bare"),
        (lambda: planned(rate=Rates(1.0, (("Ag", 2.0),))), InputError, "no layer is of it"),
        (lambda: planned(every_nm=0.1), LimitError, "at most 200 are taken"),
        (lambda: planned(every_nm=0.0), OutOfRangeError, "must be above 0"),
        (lambda: planned(made=[MadeLayer(4, 80.0)]), InputError, "the steps are 1 to 3"),
        (lambda: planned(made=[MadeLayer(1, 80.0)] * 2), InputError, "made twice"),
        (lambda: planned(made=[parse_made("1:TiO2 60nm")]), InputError, "step 1 is Al"),
        (lambda: parse_made("Al 92nm"), InputError, "is written as '1:Al 92nm'"),
        (lambda: parse_made("1:Al"), InputError, "needs a thickness"),
        (lambda: parse_made("1:Al 80..90nm"), InputError, "one layer with one thickness"),
        (lambda: Rates(0.0), OutOfRangeError, "rate is 0 nm/s"),
        (lambda: parse_rates(["1nm/s", "2nm/s"]), InputError, "two rates"),
        (lambda: parse_rates(["Al=1nm/s", "aluminium=2nm/s"]), InputError, "given twice"),
        (lambda: parse_tooling("much"), InputError, "neither a factor"),
        (lambda: parse_piece("wide"), InputError, "is not a number with a unit"),
    ],
)
def test_refuses_in_one_sentence(call, error, words):
    with pytest.raises(error, match=words):
        call()


def test_a_bare_index_is_laid_by_time_alone():
    step = planned("n=1.46 90nm / Al 80nm / glass").layers[1]
    assert step.mass_g is None
    assert step.time_s == pytest.approx(90.0)
    assert "no density is known for n=1.46" in step.remarks[0]


def test_a_sheet_of_too_many_layers_is_refused():
    with pytest.raises(LimitError, match=r"has 151 layers to deposit.* at most 150"):
        run_sheet("151 x (Al 1nm) / glass", BOAT)


def test_a_layer_that_came_to_nothing_was_not_made():
    with pytest.raises(InputError, match=r"step 1 .* 0 nm is no layer; leave it among"):
        run_sheet("Al 90nm / glass", BOAT, made=[MadeLayer(1, 0.0)])


@pytest.mark.parametrize("layer", ["Nb2O5", "Al"])
def test_the_thinnest_layer_that_can_be_written_has_a_sheet(layer):
    (step,) = planned(f"{layer} 1e-100nm / glass", rate=Rates(2.0)).layers
    assert step.time_s == pytest.approx(5e-101)


def test_looks_that_would_take_minutes_are_refused():
    with pytest.raises(LimitError, match=r"through 1,010,000 films .* widen `every_nm`"):
        run_sheet("100 x (Al 20nm) / glass", BOAT, every_nm=0.1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[" * 100_000, "is not the JSON of a gauge result"),
        ('{"candidates": [{"thickness_nm": NaN, "probability": 1}], "fits": true}', "holds nan nm"),
        ('{"candidates": [{"thickness_nm": 1e999, "probability": 1}], "fits": true}', "inf nm"),
        ('{"candidates": [{"thickness_nm": -5, "probability": 1}], "fits": true}', "-5 nm, which"),
        ('{"candidates": [{"thickness_nm": 5, "probability": 1}, {"thickness_nm": "x", '
         '"probability": 0.5}], "fits": true}', "is not the JSON"),
    ],
)  # fmt: skip
def test_a_gauge_result_that_nothing_wrote_is_refused(text, said, tmp_path):
    (tmp_path / "gauge.json").write_text(text)
    with pytest.raises(InputError, match=said):
        parse_made(f"1:{tmp_path / 'gauge.json'}")
