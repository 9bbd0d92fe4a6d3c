"""Goals on how far s and p part: read as the public spectra say, with true slopes, and found."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.design.design import design
from oxhue.optics.design.finish import aim_within
from oxhue.optics.design.goal_reader import as_goals, parse_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.errors import InputError, NotationError
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve
from tests.design.slopes import assert_slopes_are_those_of_differences

NAMES = ("n=1.46", "n=2.35", "n=1.8+0.05i")
PALETTE = tuple(parse_medium(name) for name in NAMES)
WHICH, FILMS_NM = np.array([0, 1, 0, 2, 1]), np.array([90.0, 61.0, 130.0, 22.0, 75.0])
ASKED = (
    "Rs-Rp=0% 450..700nm at 45deg", "Ts-Tp>20% 450..700nm at 60deg",
    "Rs-Rp<-1% 500nm 20..50deg from back",
)  # fmt: skip


def difference(piece, grid, angle, goal):
    side = "back" if goal.view == "back" else "front"
    s, p = (solve(piece, grid, angle, polarization=one, side=side) for one in ("s", "p"))
    return 100.0 * (s.T - p.T if goal.quantity == "Ts-Tp" else s.R - p.R)


@pytest.mark.parametrize("text", ASKED)
@pytest.mark.parametrize("base", ["n=1.52", "n=1.52 2mm"])
def test_goals_read_what_the_public_spectra_say(text, base):
    goal = parse_goal(text)
    merit = make_merit(parse_stack(base), PALETTE, [goal])
    (found,) = merit.results(WHICH, FILMS_NM)
    films = [f"{NAMES[i]} {nm}nm" for i, nm in zip(WHICH, FILMS_NM, strict=True)]
    piece = parse_stack(" / ".join([*films, base]))
    (sight,) = merit.sights
    public = np.array([difference(piece, sight.wavelength_nm, a, goal) for a in sight.angle_deg])
    assert found.unit == "%"
    expected = (public.min(), public.mean(), public.max())
    assert (found.least, found.mean, found.most) == pytest.approx(expected, abs=1e-9)
    gap = {">": goal.wanted - public, "<": public - goal.wanted, "=": np.abs(public - goal.wanted)}
    assert found.miss == pytest.approx(max(gap[goal.relation].max(), 0.0), abs=1e-9)


@pytest.mark.parametrize("text", [*ASKED, "Rs-Rp=3% 450..700nm at 45deg within 2%"])
def test_slopes_are_those_of_differences(text):
    merit = make_merit(parse_stack("n=1.52 2mm"), PALETTE, [parse_goal(text)])
    assert_slopes_are_those_of_differences(merit, WHICH, FILMS_NM)


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("Rs and Rp within 1% 450..650nm at 45deg", "Rs-Rp=0% 450..650nm at 45deg within 1%"),
        ("Tp = Ts ± 2% 532nm 45deg", "Ts-Tp=0% 532nm at 45deg within 2%"),
        ("Rs - Rp > -2.5% 532nm 45deg", "Rs-Rp>-2.5% 532nm at 45deg"),
    ],
)
def test_what_people_write_is_the_goal_in_full(text, means):
    (goal,) = as_goals(text)
    assert str(goal) == means
    assert parse_goal(means) == goal


def test_either_polarisation_may_be_named_first():
    wanted = ["T=50% 532nm at 45deg s within 1%", "T=50% 532nm at 45deg p within 1%"]
    for text in ("Tp and Ts=50% within 1% 532nm 45deg", "Ts, Tp = 50% within 1% 532nm 45deg"):
        assert [str(goal) for goal in as_goals(text)] == wanted


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("Rs-Rp=0% 500nm 45deg s", "speaks of both"),
        ("Rs-Rp=0% 500..600nm mean 45deg", "at every wavelength"),
        ("Rs-Rp=101% 500nm 45deg", "between -100 % and 100 %"),
        ("Rs-Rp 500nm 45deg", "expected '>', '<' or '='"),
    ],
)
def test_senseless_differences_are_refused(text, problem):
    with pytest.raises(NotationError, match=problem):
        as_goals(text)


def test_a_difference_of_what_is_let_through_needs_a_way_through():
    with pytest.raises(InputError, match="no light leaves"):
        make_merit(parse_stack("Ti"), PALETTE, [parse_goal("Ts-Tp=0% 500nm 45deg")])


def test_a_stricter_bound_on_a_difference_below_zero_is_stricter():
    goals = [parse_goal("Rs-Rp<-10% 500nm 45deg"), parse_goal("Rs-Rp>-10% 500nm 45deg")]
    merit = make_merit(parse_stack("n=1.52"), PALETTE, goals)
    assert [goal.percent for goal in aim_within(merit).goals] == [-10.02, -9.98]


def test_a_half_mirror_alike_for_both_is_found_and_holds():
    # a plain half mirror of these at 45 degrees parts s and p by tens of points
    found = design(
        "n=1.52",
        ["R=40% 540..560nm at 45deg within 6%", "Rs and Rp within 3% 540..560nm at 45deg"],
        "n=1.38,n=2.35,n=0.06+3.6i", max_layers=5, effort=60, count=1,
    )  # fmt: skip
    assert found.met
    (best,) = found.designs
    apart = difference(best.piece, np.linspace(540.0, 560.0, 81), 45.0, found.goals[1])
    assert np.abs(apart).max() <= 3.0
    assert best.results[1].most == pytest.approx(apart.max(), abs=0.01)
    found.plot()
    assert "Rs-Rp=0%" in found.summary()
