"""Recipes for passes of a flame and for a ramp of one's own."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError, OutOfRangeError
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.schedule import HeatSchedule, pass_spot, ramp
from oxhue.optics.tint.flame_recipes import flame_recipes, ramp_recipes
from oxhue.optics.tint.recipes import recipes
from oxhue.optics.tint.tint import tint

OWN = ramp(20.0, 450.0, 1800.0).then(ramp(450.0, 20.0, 3600.0))


def test_several_passes_are_one_pass_after_the_other():
    one, three = pass_spot(600.0, 20.0, 10.0), pass_spot(600.0, 20.0, 10.0, passes=3)
    assert three.duration_s == pytest.approx(3.0 * one.duration_s)
    assert "3 passes" in three.words
    thrice = one.then(one).then(one)
    assert tint("Ti", three).thickness_nm == pytest.approx(tint("Ti", thrice).thickness_nm)
    assert tint("Ti", three).thickness_nm > tint("Ti", one).thickness_nm
    with pytest.raises(OutOfRangeError, match="whole number from 1 to 100") as refused:
        pass_spot(600.0, 20.0, 10.0, passes=0)
    assert refused.value.parameter == "passes"


@pytest.mark.parametrize(
    ("asked", "solved_for"),
    [
        ({"passing": "20s", "passes": 2}, "temperature"),
        ({"temperatures": "640C", "passes": 2}, "time"),
        pytest.param({"temperatures": "640C", "passing": "20s"}, "passes", marks=pytest.mark.slow),
    ],
)
def test_a_recipe_of_a_flame_is_what_the_forward_answer_confirms(asked, solved_for):
    found = flame_recipes("Ti", "blue", **asked)
    assert found.by == "flame"
    first = found.recipes[0]
    assert first.solved_for == solved_for
    made = tint("Ti", pass_spot(first.temperature_C, 20.0, 60.0 * first.time_min,
                                passes=first.passes))  # fmt: skip
    assert made.thickness_nm == pytest.approx(first.thickness_nm, rel=0.04)
    blues = {"blue", "light blue", "dark blue"}
    share = sum(shade.probability for shade in made.names if shade.name in blues)
    assert first.chance == pytest.approx(share, abs=0.02)


@pytest.mark.slow
def test_hotter_flames_than_the_law_go_by_the_one_that_follows():
    found = flame_recipes("Ti", "blue", passing="10s", passes=3)
    assert found.recipes[0].temperature_C > 650.0


def test_thick_oxide_is_called_what_people_call_it_both_ways():
    found = recipes("Zr", "black", times="2h")
    (first,) = found.recipes
    assert first.name == "black"
    assert first.temperature_C > find_metal("Zr").range_C[1]  # by the law that goes on there
    made = tint("Zr", f"{first.temperature_C}C", "2h")
    assert made.name == "black"
    black = {shade.name: shade.probability for shade in made.names}["black"]
    assert first.chance == pytest.approx(black, abs=0.02)


@pytest.mark.parametrize("metal", ["steel", "Cu", "brass", "Zr"])
def test_hotter_laws_begin_where_the_cooler_ones_end(metal):
    border_C = find_metal(metal).range_C[1]
    for time in ("10s", "1h"):
        below = tint(metal, f"{border_C}C", time)
        above = tint(metal, f"{border_C + 0.01}C", time)
        assert above.thickness_nm == pytest.approx(below.thickness_nm, rel=0.12), time
        assert above.note != below.note


def test_what_is_hotter_still_is_refused_with_what_to_expect():
    with pytest.raises(OutOfRangeError, match=r"200 to 400 °C\); growth turns linear"):
        tint("Nb", "500C", "1h")


def test_what_no_flame_reaches_is_said():
    found = flame_recipes("Nb", "blue", passing="1s")
    assert not found.recipes
    assert any("no flame within the law's range" in said for said in found.warnings)


def test_ones_own_ramp_gets_another_peak_or_a_longer_stay():
    found = ramp_recipes("Ti", "blue", ramp=OWN)
    ways = {one.solved_for: one for one in found.recipes if one.order == 1}
    hotter, longer = ways["temperature"], ways["time"]
    assert hotter.time_min == 0.0
    assert hotter.temperature_C > OWN.peak_C == longer.temperature_C
    for one, heat in (
        (hotter, OWN.with_peak(hotter.temperature_C)),
        (longer, OWN.hold_longer(60.0 * longer.time_min)),
    ):
        assert tint("Ti", heat).thickness_nm == pytest.approx(one.thickness_nm, rel=0.04)
    assert "held there" in str(found) or "its peak at" in str(found)


def test_holding_longer_keeps_the_rest_of_a_heat():
    longer = OWN.hold_longer(600.0)
    assert longer.duration_s == pytest.approx(OWN.duration_s + 600.0)
    assert longer.peak_C == OWN.peak_C
    at_peak = longer.time_s[longer.temperature_C == OWN.peak_C]
    assert np.ptp(at_peak) == pytest.approx(600.0)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (
            lambda: flame_recipes("Ti", "blue", passing="10s", temperatures="600C", passes=2),
            "sought",
        ),
        (lambda: flame_recipes("Ti", "blue", temperatures="3000C"), "outside the range"),
        (lambda: flame_recipes("Ti", "blue", passing="0s"), "more than 0 s"),
        (lambda: ramp_recipes("Ti", "blue", ramp="450C"), "course of heat"),
        (lambda: HeatSchedule(np.array([0.0]), np.array([20.0]), "x"), "two or more"),
    ],
)
def test_what_is_no_flame_is_refused(ask, words):
    with pytest.raises(InputError, match=words):
        ask()
