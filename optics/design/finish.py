"""What is done to the best designs before they are shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from .centring import centre_design
from .extremes import check_goals, find_extremes, miss_of
from .goals import PHASES, SPLITS, Goal
from .merit import Merit, make_merit
from .state import SOLVED, SearchState, Trial, enforce_limits, prune

FINER = 5
"""How many times finer than the search's grid the one of means, colours and merits shown is."""

_POLISHED = 2  # how many times finer the grid is on which a design is polished
_ROUNDS = 5  # of adding the wavelengths at which a design fails to its grid
_MARGIN, _SHARE = 0.02, 0.05  # percent points, and share of the room, aimed at beyond a bound
_FINALISTS_EACH = 3
_EACH_SIZE = 3  # designs of one number of layers that are asked whether they bear a rounding


def choose_finalists(
    bench: SearchState, count: int, *, hurry: bool, rich: bool = False
) -> list[Trial]:
    """The best designs less what is useless, kept between grid points and with some margin.

    The simplest that meet the goals; with ``rich`` those with more layers too, which may bear
    errors better.
    """
    if hurry:
        return bench.rank_all()[:count]
    lean = best_of_each_order(
        [prune(bench, one) for one in bench.rank_all()[: _FINALISTS_EACH * count]]
    )
    made = [finish_design(bench, one) for one in lean[: count + 1]]
    if rich and made:
        larger = list_larger(bench, min(one.which.size for one in made), count)
        made += [finish_design(bench, one) for one in larger]
    return best_of_each_order(made)


def list_larger(bench: SearchState, fewest: int, count: int) -> list[Trial]:
    """Designs that meet the goals with more layers than it takes, one of each number."""
    return [alike[0] for size, alike in _solved_by_size(bench).items() if size > fewest][:count]


def list_between(bench: SearchState, fewest: int, enough: int) -> list[Trial]:
    """Designs that meet the goals with so many layers or more, but less than are enough.

    A few of each number of layers, those of the fewest first.
    """
    found = sorted(_solved_by_size(bench).items())
    return [one for size, alike in found if fewest <= size < enough for one in alike[:_EACH_SIZE]]


def _solved_by_size(bench: SearchState) -> dict[int, list[Trial]]:
    """Designs that meet the goals by their number of layers, all in order of rank."""
    found: dict[int, list[Trial]] = {}
    for one in bench.rank_all():
        if one.merit <= SOLVED:
            found.setdefault(one.which.size, []).append(one)
    return found


def finish_design(bench: SearchState, candidate: Trial) -> Trial:
    """A design polished on a fine grid until it holds between all points, and centred.

    One that can only near a target is polished on the grid on which its merit is shown.
    """
    fine = replace(bench, merit=bench.merit.with_denser_grids(_POLISHED))
    polished, merit = _polish(fine, candidate)
    if not merit.can_be_zero:
        shown = replace(bench, merit=bench.merit.with_denser_grids(FINER))
        nearer = shown.refine(polished, makeable=True)
        worst = max(find_failing(merit, polished)[1], 0.0)
        return nearer if find_failing(merit, nearer)[1] <= worst else polished
    made = centre_design(replace(fine, merit=merit), polished)
    if find_failing(merit, made)[1] > find_failing(merit, polished)[1]:
        made = polished
    return replace(made, merit=merit.value(made.which, made.thickness_nm))


def keep_those_that_hold(bench: SearchState, candidates: Sequence[Trial]) -> list[Trial]:
    """Designs that meet every goal between all points too, once polished; others are left out."""
    done = [_polish(bench, one)[0] for one in candidates]
    return [one for one in done if holds(bench.merit, one)]


def holds(merit: Merit, candidate: Trial) -> bool:
    """Whether a design meets every goal between all points as well."""
    if not candidate.which.size:
        return False
    return all(one.met for one in check_goals(merit, candidate.which, candidate.thickness_nm))


def best_of_each_order(candidates: list[Trial]) -> list[Trial]:
    """The best of each order of media, the best first."""
    best: dict[tuple[int, ...], Trial] = {}
    for one in sorted(candidates, key=lambda c: c.rank):
        best.setdefault(tuple(one.which.tolist()), one)
    return list(best.values())


def _polish(fine: SearchState, candidate: Trial) -> tuple[Trial, Merit]:
    """A design refined with the wavelengths at which it fails added, and the grid that came of it.

    Bounds are aimed at with a small margin, so that what lies between the points is met as well.
    """
    merit, tried = fine.merit, [candidate]
    for _ in range(_ROUNDS):
        places, worst = find_failing(merit, tried[-1])
        merit = merit.with_more_points(places)
        if worst <= 0.0:
            break
        made = enforce_limits(replace(fine, merit=aim_within(merit)), tried[-1])
        if not made.which.size:
            break
        tried.append(made)
    merits = [merit.value(one.which, one.thickness_nm) for one in tried]
    rated = [replace(one, merit=m) for one, m in zip(tried, merits, strict=True)]
    return min(reversed(rated), key=lambda one: max(one.merit, SOLVED)), merit


def find_failing(merit: Merit, candidate: Trial) -> tuple[list[FloatArray], float]:
    """For each goal the wavelengths [nm] at which it fails, and the worst failure of all."""
    places, worst = [], 0.0
    seen = find_extremes(merit, candidate.which, candidate.thickness_nm)
    for one, goal in zip(seen, merit.goals, strict=True):
        if one is None:
            places.append(np.empty(0))
            continue
        places.append(one.failing_nm(goal))
        worst = max(worst, float(miss_of(goal, one.percent).max()) - goal.allowed_miss)
    return places, worst


def aim_within(merit: Merit) -> Merit:
    """The same with every bound a little stricter, so that what meets it bears a rounding."""
    return make_merit(
        merit.base, merit.palette, [_tighten(goal) for goal in merit.goals],
        density=merit.density, total_nm=merit.total_nm, layers=merit.layers,
        extra_nm=merit.extra_nm, cover=merit.cover,
    )  # fmt: skip


def _tighten(goal: Goal) -> Goal:
    """A bound moved a little into what it allows; a stated ``within`` made a little smaller."""
    if goal.relation == "=":
        return goal if goal.within is None else replace(goal, within=(1.0 - _SHARE) * goal.within)
    toward = 1.0 if goal.relation == ">" else -1.0
    if goal.quantity in PHASES:
        return replace(goal, amount=goal.amount + toward * _MARGIN)
    if goal.quantity in SPLITS:
        return replace(goal, percent=goal.percent + toward * _MARGIN)
    room = 100.0 - goal.percent if goal.relation == ">" else goal.percent
    return replace(goal, percent=goal.percent + toward * min(_MARGIN, _SHARE * room))
