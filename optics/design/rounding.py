"""Thicknesses rounded to what is written, one after another, the rest moved to make up for it.

Where the region that meets all goals is narrow, rounding all thicknesses at once leaves it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from .extremes import check_goals
from .finish import aim_within, find_failing
from .merit import GoalResult, Merit
from .state import LONG, SOLVED, SearchState, Trial, refine

_TRIES = 4  # of rounding, each with the wavelengths at which the one before fails
_DECIMALS = 1  # thicknesses are given to a tenth of a nanometre


def round_films(
    bench: SearchState, fine: Merit, candidate: Trial
) -> tuple[FloatArray, tuple[GoalResult, ...]]:
    """Thicknesses as they are written [nm], and what they do about each goal of ``fine``."""
    which = candidate.which
    nm: FloatArray = np.maximum(candidate.thickness_nm.round(_DECIMALS), bench.lower_nm(which))
    results = check_goals(fine, which, nm)
    if candidate.merit > SOLVED:
        closer = round_one_by_one(bench, candidate, merit=fine, decimals=_DECIMALS)
        again = check_goals(fine, which, closer)
        nearer = fine.value(which, closer) < fine.value(which, nm)
        holds = all(one.met for one in again) or not all(one.met for one in results)
        return (closer, again) if nearer and holds else (nm, results)
    closer, again, merit = nm, results, fine
    for _ in range(_TRIES):
        if all(result.met for result in again):
            return closer, again
        failing, _ = find_failing(merit, replace(candidate, thickness_nm=closer))
        merit = merit.with_more_points(failing)
        closer = round_one_by_one(bench, candidate, merit=merit, decimals=_DECIMALS)
        again = check_goals(fine, which, closer)
    return (closer, again) if all(result.met for result in again) else (nm, results)


def round_one_by_one(
    bench: SearchState, candidate: Trial, *, merit: Merit, decimals: int
) -> FloatArray:
    """Rounded thicknesses [nm], shape (L,), of a design refined to the goals of ``merit``.

    The layers that tell most are rounded first, so that the last ones, for which nothing is left to
    make up, matter least.
    """
    which, aimed = candidate.which, aim_within(merit)
    lower, upper = bench.lower_nm(which), bench.upper_nm(which)
    _, slopes, weights = merit.used_with_slopes(which, candidate.thickness_nm)
    telling = weights @ slopes**2
    for j in np.argsort(-telling, kind="stable"):
        pinned = np.maximum(candidate.thickness_nm[j].round(decimals), lower[j])
        nm = candidate.thickness_nm.copy()
        nm[j] = lower[j] = upper[j] = pinned
        start = replace(candidate, thickness_nm=nm)
        candidate = refine(aimed, start, lower_nm=lower, upper_nm=upper, steps=LONG)
    return candidate.thickness_nm
