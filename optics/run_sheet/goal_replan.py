"""The layers still to come changed so that the finished piece meets what it was designed for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .._typing import FloatArray, IndexArray
from ..design.extremes import check_goals, find_extremes
from ..design.goals import Goal
from ..design.least_squares import descend
from ..design.merit import GoalResult, Merit, make_merit
from ..design.practice import limits_for
from ..design.stack_tolerance import list_media
from ..design.tolerance import FINE
from ..errors import InputError
from ..films.materials.medium import Medium
from ..films.stack import Layer, Stack

_STARTS, _SEED = 24, 1
_FURTHER, _FIRST, _LAST = 6, 25, 120  # starts that go on, steps at first and to the end
_STOP = 1e-8
_ROUNDS = 3  # of adding the wavelengths at which the goals fail
_SPREAD = 0.3  # standard deviation of the logarithm of a start's thicknesses
_THINNEST_NM, _REACH, _REACH_NM = 5.0, 2.0, 100.0
# Of merits this close, in percent points and as a share, the design nearest to the plan wins.
_LEVEL, _LEVEL_SHARE = 1e-4, 0.02


def replan_on_goals(
    plan: Stack, with_made: Stack, free: Sequence[int], *, goals: Sequence[Goal]
) -> Stack:
    """The stack with other thicknesses at the positions ``free`` of its front.

    Raises
    ------
    InputError
        If the goals cannot be counted on this piece.

    Notes
    -----
    Least squares of the goals' misses from the plan and from other starts, its Jacobian exact; the
    wavelengths at which the result fails between the grid's points are added, three times over.
    """
    front = [i for i in free if i < len(with_made.layers)]
    if not front:
        return with_made
    media, which = list_media(with_made)
    count = max(front) + 1  # layers further in are made: part of the base
    base = replace(with_made, layers=with_made.layers[count:])
    merit = make_merit(base, media, goals, density=FINE, layers=len(with_made.layers))
    wanted = np.array([float(plan.layers[i].thickness_nm) for i in range(count)])
    lower = thinnest_nm([media[i] for i in which[:count]], wanted)
    nm = _search(merit, which[:count], wanted, lower)
    layers = [Layer(media[i], np.asarray(d)) for i, d in zip(which[:count], nm, strict=True)]
    return replace(with_made, layers=(*layers, *base.layers))


def thinnest_nm(
    media: Sequence[Medium], planned_nm: FloatArray, *, share: float = 0.0
) -> FloatArray:
    """The thinnest [nm] that planned layers are changed to, shape (L,).

    Nobody deposits a nanometre on purpose, and a metal that thin is islands. ``share`` is what
    stays of a plan at least.
    """
    limits = limits_for(list(dict.fromkeys(media)))
    made = {one.material: max(one.thinnest_nm or 0.0, _THINNEST_NM) for one in limits}
    least = np.array([made[medium.label] for medium in media])
    return np.asarray(np.minimum(planned_nm, np.maximum(least, share * planned_nm)))


def judge_goals(stack: Stack, goals: Sequence[Goal]) -> tuple[GoalResult, ...]:
    """What a finished piece does about its goals; empty without goals."""
    if not goals:
        return ()
    if not stack.layers:
        raise InputError("goals need films on the front of the piece", parameter="goals")
    media, which = list_media(stack)
    nm = np.array([float(layer.thickness_nm) for layer in stack.layers])
    merit = make_merit(replace(stack, layers=()), media, goals, density=5, layers=len(stack.layers))
    return check_goals(merit, which, nm)


def _search(merit: Merit, which: IndexArray, wanted: FloatArray, lower: FloatArray) -> FloatArray:
    """Thicknesses [nm] of the least misses, shape (L,)."""
    upper = _REACH * wanted + _REACH_NM
    rng = np.random.default_rng(_SEED)
    kicks = np.exp(_SPREAD * rng.standard_normal((_STARTS - 1, wanted.size)))
    starts = np.concatenate([wanted[None], wanted * kicks])

    def refine(nm: FloatArray, steps: int) -> tuple[FloatArray, FloatArray]:
        order = np.tile(which, (len(nm), 1))
        return descend(merit, order, nm, lower_nm=lower, upper_nm=upper, steps=steps, stop=_STOP)

    found, value = refine(starts, _FIRST)
    keep = np.union1d(np.argsort(value, kind="stable")[:_FURTHER], [0])
    found, value = refine(found[keep], _LAST)
    level = found[value <= (1.0 + _LEVEL_SHARE) * value.min() + _LEVEL]
    best: FloatArray = level[np.argmin(np.abs(level - wanted).sum(axis=-1))]
    for _ in range(_ROUNDS):
        extremes = find_extremes(merit, which, best)
        places = [
            np.empty(0) if one is None else one.failing_nm(goal)
            for one, goal in zip(extremes, merit.goals, strict=True)
        ]
        if not any(place.size for place in places):
            break
        merit = merit.with_more_points(places)
        best = refine(best[None], _LAST)[0][0]
    return best
