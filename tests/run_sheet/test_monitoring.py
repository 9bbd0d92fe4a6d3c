"""Runs followed by light, eye and meter: curves, stops, and ways to end layers compared."""

import json
from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.colour.conditions import as_conditions
from oxhue.optics.design.design import design
from oxhue.optics.design.goal_reader import as_goals
from oxhue.optics.design.tolerance import DepositionErrors
from oxhue.optics.errors import InputError
from oxhue.optics.films.notation import as_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.run_sheet.monitoring.cues import as_cues
from oxhue.optics.run_sheet.monitoring.curves import list_layer_cues, mark_turnings
from oxhue.optics.run_sheet.monitoring.made_reading import (
    estimate_thickness,
    parse_witness_reading,
)
from oxhue.optics.run_sheet.monitoring.monitor import monitor_run
from oxhue.optics.run_sheet.run_sheet import laying_order, run_sheet
from oxhue.optics.run_sheet.witness import witness_substrate

MIRROR = "TiO2 57nm / SiO2 91nm / TiO2 57nm / SiO2 91nm / TiO2 57nm / glass"
VIEWING = as_conditions(None)


def followed(text, monitor, goals=(), **errors):
    stack = as_stack(text)
    return monitor_run(
        stack, laying_order(stack), as_cues(monitor), bare=witness_substrate(stack, None),
        viewing=VIEWING, goals=as_goals(goals),
        errors=DepositionErrors(**errors) if errors else None,
    )  # fmt: skip


def cues_on(slide, medium_of, nm, monitor):
    medium = as_stack(medium_of).layers[0].medium
    return list_layer_cues(
        as_stack(slide), medium, nm, cues=as_cues(monitor), back=False, viewing=VIEWING
    )


def test_a_clear_film_turns_at_every_quarter_wave():
    # On glass of index 1.52 a film of 2.3 turns at λ / 4n and its multiples, in closed form.
    found = cues_on("n=1.52", "n=2.3 1nm / glass", 200.0, "532nm")
    quarter = 532.0 / (4.0 * 2.3)
    (reflected,) = [one for one in found if one.watched == "R at 532 nm"]
    np.testing.assert_allclose(reflected.turning_nm, [quarter, 2 * quarter, 3 * quarter], atol=0.3)
    assert reflected.rule == "level"


def test_a_layer_that_ends_on_a_quarter_wave_is_ended_by_its_turning_point():
    found = cues_on("n=1.52", "n=2.3 1nm / glass", 532.0 / (4.0 * 2.3), "532nm within 0.5%")
    assert found[0].rule == "turning point"
    assert len(found[0].turning_nm) == 1


def test_the_error_of_a_level_is_noise_over_slope():
    # far from a turning point: σ_d = σ_S / |dS/dd|, with √2 of the share for two readings
    nm, noise = 30.0, 0.002
    found = cues_on("n=1.52", "n=2.3 1nm / glass", nm, f"532nm within {100 * noise}%")
    (cue,) = [one for one in found if one.watched == "R at 532 nm"]
    R = solve("n=2.3 29.9,30.1nm / n=1.52", [532.0]).R[:, 0]
    slope, reading = (R[1] - R[0]) / 0.2, R.mean()
    dark = 5e-4 * np.hypot(1.0, reading / cue.start)
    expected = np.hypot(np.sqrt(2.0) * noise * reading, dark) / slope
    assert cue.sharp_nm == pytest.approx(expected, rel=0.02)


def test_over_opaque_metal_nothing_is_seen_through():
    found = cues_on("Ag 200nm / glass 1mm", "SiO2 1nm / glass", 80.0, "532nm")
    (through,) = [one for one in found if one.watched == "T at 532 nm"]
    assert through.sharp_nm is None


def test_a_wiggle_below_its_doubt_is_no_turning_point():
    x = np.linspace(0.0, 3.0 * np.pi, 200)
    curves = np.stack([0.5 + 0.2 * np.sin(x), 0.5 + 0.001 * np.sin(x), 0.1 + 0.01 * x])
    marks = mark_turnings(curves, np.full_like(curves, 0.005))
    assert marks.sum(axis=-1).tolist() == [3, 0, 0]
    np.testing.assert_allclose(x[marks[0]], np.pi * np.array([0.5, 1.5, 2.5]), atol=0.03)


def test_ohms_of_silver_are_a_cue_and_islands_are_none():
    thick = cues_on("glass 1mm", "Ag 1nm / glass", 60.0, "ohms")
    thin = cues_on("glass 1mm", "Ag 1nm / glass", 3.0, "ohms")
    assert thick[0].stop == pytest.approx(0.5, rel=0.6)
    assert thick[0].sharp_nm > 0.0
    assert thin[0].stop is None
    assert thin[0].sharp_nm is None


def test_nothing_errs_where_there_are_no_errors():
    found = followed(MIRROR, "405nm within 0.01%", "R>60% 500..560nm", relative_percent=1e-6)
    assert all(way.yield_share == 1.0 for way in found.strategies)
    level = next(way for way in found.strategies if way.strategy == "time")
    assert max(level.sd_nm) < 1e-4


def test_turning_points_make_good_what_went_before():
    """With indices that are off, time keeps the thickness and light the optical thickness."""
    quarter = "n=2.3 57.826nm / n=1.46 91.096nm / n=2.3 57.826nm / n=1.52"
    errors = {"relative_percent": 5.0, "index_percent": 4.0}
    found = followed(quarter, "532nm within 0.1%", "R>30% 532nm", **errors)
    by_name = {way.strategy: way for way in found.strategies}
    turning = by_name["turning points at 532 nm, time between"]
    # the quarter wave of a film that is 4 % off in index is 4 % off in thickness
    assert turning.sd_nm[0] == pytest.approx(0.04 * 57.8, rel=0.25)


def test_the_sharpest_readings_beat_time_and_are_told_layer_by_layer():
    found = followed(MIRROR, "405nm,532nm", "R>75% 520..545nm")
    ways = {way.strategy: way for way in found.strategies}
    best = ways["the sharpest of each layer"]
    assert sum(best.sd_nm) < 0.6 * sum(ways["time"].sd_nm)
    assert [watch.step for watch in found.layers] == [1, 2, 3, 4, 5]
    assert all(watch.sd_nm <= 1.2 * watch.timed_sd_nm for watch in found.layers)


@pytest.mark.slow
def test_steps_that_are_made_are_neither_watched_nor_off():
    sheet = run_sheet(MIRROR, monitor="405nm", made=["1:TiO2 60nm"])
    found = sheet.monitoring
    assert [watch.step for watch in found.to_come] == [2, 3, 4, 5]
    assert all(way.sd_nm[0] == pytest.approx(0.0, abs=1e-9) for way in found.strategies)


def test_the_sheet_tells_how_to_follow_it_and_draws_it():
    sheet = run_sheet(MIRROR, monitor="532nm, eye", goals="R>75% 520..545nm")
    text = sheet.summary()
    assert "How to follow it" in text
    assert "good pieces" in text
    assert sheet.plot().axes[0].get_ylabel().endswith("[%]")
    data = json.loads(json.dumps(sheet.to_dict()))
    layer = data["monitoring"]["layers"][0]
    assert layer["curve_nm"][-1] == pytest.approx(57.0)
    assert len(layer["curve"]) == len(layer["curve_nm"])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "wavelength such as"),
        ("532", "wavelength such as"),
        ("luxx", "did you mean lux"),
        ("532nm,532nm", "twice"),
        ("led lux", "an LED needs"),
        ("eye within 3%", "without %"),
        ("532nm within 2", "in %"),
        ("5nm", "200 nm to 20 um"),
    ],
)
def test_what_cannot_be_watched_is_refused(text, said):
    with pytest.raises(InputError, match=said):
        as_cues(text)


def reading_of(stack, nm):
    return 100.0 * float(solve(stack, [nm]).R[0])


def test_a_level_gives_the_thickness_with_its_doubt():
    slide = as_stack("glass 1mm")
    true = as_stack("TiO2 33nm / glass 1mm")
    text = f"R={reading_of(true, 532.0):.2f}% 532nm within 1%"
    nm, (low, high) = estimate_thickness(
        slide, true.layers[0].medium, 36.0, reading=parse_witness_reading(text)
    )
    assert nm == pytest.approx(33.0, abs=1.0)
    assert low < 33.0 < high
    assert high - low < 8.0


def test_a_level_on_both_sides_of_a_turning_point_is_not_one_thickness():
    slide, true = as_stack("glass 1mm"), as_stack("TiO2 40nm / glass 1mm")
    text = f"R={reading_of(true, 532.0):.2f}% 532nm within 0.5%"
    medium = true.layers[0].medium
    with pytest.raises(InputError, match="several thicknesses"):
        estimate_thickness(slide, medium, 55.0, reading=parse_witness_reading(text))
    second = f"{text}; R={reading_of(true, 405.0):.2f}% 405nm within 0.5%"
    nm, _ = estimate_thickness(slide, medium, 55.0, reading=parse_witness_reading(second))
    assert nm == pytest.approx(40.0, abs=0.7)


def test_a_reading_that_nothing_shows_is_refused():
    slide = as_stack("glass 1mm")
    medium = as_stack("TiO2 50nm / glass").layers[0].medium
    with pytest.raises(InputError, match="no thickness near 50 nm"):
        estimate_thickness(slide, medium, 50.0, reading=parse_witness_reading("R=80% 532nm"))
    with pytest.raises(InputError, match="what was read"):
        parse_witness_reading("R>40% 532nm")


def test_a_spectrum_gives_the_thickness(tmp_path):
    true = as_stack("TiO2 61nm / glass 1mm")
    grid = np.arange(420.0, 701.0, 5.0)
    path = tmp_path / "witness.csv"
    rows = zip(grid, solve(true, grid).R, strict=True)
    path.write_text("wavelength_nm,R\n" + "\n".join(f"{nm:g},{R:.5f}" for nm, R in rows))
    sheet = run_sheet(MIRROR, made=[f"1:{path}"])
    assert sheet.layers[0].thickness_nm == pytest.approx(61.0, abs=0.3)
    assert sheet.replan.made_doubt[0].interval90_nm[0] < 61.0


def test_a_colour_on_the_witness_gives_the_thickness():
    sheet = run_sheet("MgF2 90nm / TiO2 57nm / glass 1mm", made=["1:colour #a1a7ae within 2"])
    assert 40.0 < sheet.layers[0].thickness_nm < 75.0


@pytest.mark.slow
def test_goals_travel_with_the_design_and_lead_the_new_plan(tmp_path):
    # An anti-reflection coating for two lasers: its colour says little of what it is for.
    wanted = ["R<0.2% 520..545nm", "R<0.2% 1040..1090nm"]
    found = design("glass", wanted, "MgF2,TiO2", max_layers=4, effort=60, count=1)
    best = found.designs[0]
    assert best.met
    step1 = float(best.piece.layers[-1].thickness_nm)
    made = [f"1:{step1 * 1.3:.1f}nm".replace(":", f":{best.piece.layers[-1].medium.label} ", 1)]
    path = tmp_path / "design.json"
    path.write_text(json.dumps(found.to_dict()), encoding="utf-8")
    from_file, from_object = (run_sheet(plan, made=made) for plan in (str(path), best))
    blind = run_sheet(best.stack, made=made)
    lost = [one.miss for one in from_file.replan.goals_unchanged]
    kept = [one.miss for one in from_file.replan.goals]
    assert sum(lost) > 0.1  # points of percent: the slip costs a goal
    assert sum(kept) < 0.5 * sum(lost)
    assert from_file.to_deposit == from_object.to_deposit != blind.to_deposit
    assert from_file.goals == tuple(wanted)


@pytest.mark.parametrize("given", ["design", "file", "stack"])
def test_what_is_lit_from_glass_is_refused(given, tmp_path):
    found = design("n=1.52", "R<0.5% 532nm", "n=1.38,n=2.2", max_layers=2, effort=9, count=1,
                   light_from="n=1.5")  # fmt: skip
    best, path = found.designs[0], tmp_path / "design.json"
    path.write_text(json.dumps(found.to_dict()), encoding="utf-8")
    with pytest.raises(InputError, match=r"lit from n=1\.5; .* in air"):
        run_sheet({"design": best, "file": str(path), "stack": best.piece}[given])


def test_a_file_that_is_no_design_is_refused(tmp_path):
    path = tmp_path / "notes.json"
    path.write_text('{"designs": []}', encoding="utf-8")
    with pytest.raises(InputError, match="not the JSON of a design"):
        run_sheet(str(path))


def test_a_design_lit_from_glass_is_refused(tmp_path):
    path = tmp_path / "cube.json"
    held = {"designs": [{"stack": "TiO2 57nm / glass"}], "goals": [], "light_from": "glass"}
    path.write_text(json.dumps(held), encoding="utf-8")
    with pytest.raises(InputError, match="lit from glass"):
        run_sheet(str(path))


def test_a_slide_with_the_wrong_layers_does_not_count_the_far_face():
    """Front and far face of the witness are those of the run, whichever face grows."""
    stack = as_stack("TiO2 57nm / glass 1mm | MgF2 90nm")
    found = monitor_run(
        stack, laying_order(stack), as_cues("532nm"), bare=witness_substrate(stack, None),
        viewing=VIEWING,
    )  # fmt: skip
    last = found.layers[1]
    both = solve(replace(stack).reverse(), [532.0]).R[0]
    reflected = next(one for one in last.cues if one.watched == "R at 532 nm")
    assert reflected.stop == pytest.approx(float(both), abs=1e-9)
