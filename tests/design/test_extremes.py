"""The worst point of a finished design, between all grids."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.design.extremes import check_goals, find_extremes
from oxhue.optics.design.finish import aim_within, finish_design, keep_those_that_hold
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.observation import make_stack
from oxhue.optics.design.starts import caps_nm
from oxhue.optics.design.state import Limits, SearchState
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve


def merit_of(goals, materials=("n=1.46", "n=2.35"), layers=45):
    palette = [parse_medium(name) for name in materials]
    return make_merit(
        parse_stack("n=1.52"), palette, [parse_goal(text) for text in goals], layers=layers
    )


def cavity(pairs, nm=550.0):
    """Two mirrors round a half wave: a resonance as narrow as the mirrors are good."""
    half = [1, 0] * pairs + [1]
    which = np.array([*half, 0, *half])
    thick = nm / 4.0 / np.array([1.46, 2.35])[which]
    thick[len(half)] *= 2.0
    return which, thick


@pytest.mark.parametrize("pairs", [4, 6, 8, 10])
def test_a_resonance_far_narrower_than_the_grid_is_found(pairs):
    # In the middle the half wave is absent, the mirrors cancel: R falls to that of the bare base
    # whatever their reflectance; its width falls by (1.46/2.35)^2 for each pair.
    merit = merit_of(["R>98% 530.3..571.7nm"])
    which, thick = cavity(pairs)
    (found,) = check_goals(merit, which, thick)
    assert found.least == pytest.approx(100.0 * (0.52 / 2.52) ** 2, abs=0.01)
    assert found.miss == pytest.approx(98.0 - found.least)
    assert found.spare == pytest.approx(-found.miss)
    assert not found.met


def test_the_resonance_is_invisible_on_the_grid_of_the_search():
    merit = merit_of(["R>98% 530.3..571.7nm"])
    which, thick = cavity(8)
    assert merit.results(which, thick)[0].least > 90.0


@pytest.mark.parametrize("goal", ["R>20% 420..680nm", "T<90% 420..680nm", "R=30% 420..680nm"])
def test_ordinary_spectra_agree_with_a_plain_fine_grid(goal):
    merit = merit_of([goal], layers=9)
    rng = np.random.default_rng(4)
    which, thick = np.arange(9) % 2, rng.uniform(20.0, 200.0, 9)
    (found,) = check_goals(merit, which, thick)
    stack = make_stack(merit.base, merit.palette, which=which, thickness_nm=thick)
    spectra = solve(stack, np.linspace(420.0, 680.0, 20_001))
    plain = 100.0 * (spectra.T if goal[0] == "T" else spectra.R)
    assert found.least == pytest.approx(plain.min(), abs=1e-3)
    assert found.most == pytest.approx(plain.max(), abs=1e-3)
    assert found.mean == pytest.approx(plain.mean(), abs=0.02)


def test_one_wavelength_and_means_keep_the_grid_of_the_goals():
    merit = merit_of(["R>20% 550nm", "R>20% 450..650nm mean"], layers=2)
    which, thick = np.array([1, 0]), np.array([60.0, 90.0])
    assert find_extremes(merit, which, thick) == [None, None]
    assert check_goals(merit, which, thick) == merit.results(which, thick)


def test_more_layers_make_finer_grids_and_few_layers_the_coarsest():
    sizes = [
        merit_of(["R>98% 420..680nm"], layers=n).sights[0].wavelength_nm.size for n in (1, 15, 45)
    ]
    assert sizes[0] == sizes[1]
    assert sizes[2] > 2.5 * sizes[0]


def test_a_design_that_fails_between_the_points_is_polished_until_it_holds():
    merit = merit_of(["R>93% 505..600nm"], layers=11)
    bench = SearchState(merit, Limits(11), caps_nm(merit), 60)
    which = np.array([1, 0] * 5 + [1])
    thick = 550.0 / 4.0 / np.array([1.46, 2.35])[which]
    start = bench.make_trial("test", which, 0.93 * thick)
    assert not check_goals(merit, which, start.thickness_nm)[0].met
    made = finish_design(bench, start)
    assert check_goals(merit, made.which, made.thickness_nm)[0].met


def test_only_designs_that_can_be_made_to_hold_are_kept():
    merit = merit_of(["R>93% 505..600nm"], layers=11)
    bench = SearchState(merit, Limits(11), caps_nm(merit), 60)
    which, few = np.array([1, 0] * 5 + [1]), np.array([1])
    near = bench.make_trial("test", which, 0.93 * 550.0 / 4.0 / np.array([1.46, 2.35])[which])
    hopeless = bench.make_trial("test", few, [58.0])
    (kept,) = keep_those_that_hold(bench, [hopeless, near])
    assert kept.which.tolist() == which.tolist()
    assert check_goals(merit, kept.which, kept.thickness_nm)[0].met


def test_what_meets_the_stricter_bounds_bears_a_rounding():
    loose = merit_of(["R>93% 505..600nm", "T=50% 700nm within 2%", "R=4% 800nm"], layers=11)
    strict = aim_within(loose)
    asked = [(goal.wanted, goal.allowed_miss) for goal in strict.goals]
    assert asked == [(93.02, 0.0), (50.0, pytest.approx(1.9)), (4.0, loose.goals[2].allowed_miss)]
    for near in ("R>99.9% 505..600nm", "T<0.1% 505..600nm"):
        (goal,) = aim_within(merit_of([near])).goals
        assert goal.wanted == pytest.approx(99.905 if goal.relation == ">" else 0.095)
    only = merit_of(["R>93% 505..600nm"], layers=11)
    bench = SearchState(aim_within(only), Limits(11), caps_nm(only), 60)
    which = np.array([1, 0] * 5 + [1])
    begin = bench.make_trial("test", which, 540.0 / 4.0 / np.array([1.46, 2.35])[which])
    (made,) = keep_those_that_hold(bench, [begin])
    assert check_goals(only, which, made.thickness_nm.round(1))[0].met


def test_a_target_with_a_stated_reach_costs_nothing_inside_it():
    which, thick = np.array([1]), np.array([58.0])
    free = merit_of(["R=32% 540..560nm within 6%"], layers=1)
    strict = merit_of(["R=32% 540..560nm"], layers=1)
    assert strict.value(which, thick) > 0.1
    assert free.value(which, thick) == 0.0
    assert free.worst(which, thick) == pytest.approx(strict.worst(which, thick))
    thin = np.array([30.0])
    residuals, slopes = free.with_slopes(which, thin)
    step = 1e-4
    changed = free.residuals(which, thin + step) - free.residuals(which, thin - step)
    assert np.any(residuals)
    np.testing.assert_allclose(slopes[:, 0], changed / (2 * step), rtol=1e-5, atol=1e-8)


def test_a_colour_with_a_stated_reach_has_true_slopes_beyond_it():
    merit = merit_of(["colour #c0a040 within 5"], layers=2)
    which, thick = np.array([1, 0]), np.array([60.0, 90.0])
    residuals, slopes = merit.with_slopes(which, thick)
    assert np.any(residuals)
    for j in range(2):
        step = 1e-4 * np.eye(2)[j]
        changed = merit.residuals(which, thick + step) - merit.residuals(which, thick - step)
        np.testing.assert_allclose(slopes[:, j], changed / 2e-4, rtol=1e-4, atol=1e-7)
