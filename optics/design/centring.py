"""A design that meets all its goals, moved to where it is farthest from missing any.

Bounds leave a whole region of designs that miss by nothing, and a search stops anywhere in it.
The design in the middle of the region tolerates errors best, and there is only one of it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import FloatArray, IndexArray
from ..numerics.descent import minimise_between
from .merit import Merit
from .state import SOLVED, SearchState, Trial

_POWER = 8
"""High, so that the goal nearest to being missed counts most; finite, so that the others count."""
_MORE_POWERS = (_POWER, 32)
_STEPS, _STILL = 400, 1e-13
_STRIDE_NM = 5.0  # a step: the design stays the one that was found
_NOTHING = 1e-12  # used up of what a goal allows; there is no more room than then


def centre_design(bench: SearchState, candidate: Trial) -> Trial:
    """The design nearby with the most room to its bounds; itself if it misses a goal.

    Notes
    -----
    With ``u`` the share of what a goal allows that is used up at a wavelength and an angle (a
    bound allows the way from it to 100 or 0 %), ``(Σ w u^p)^{1/p}`` is made least: nearly the
    largest ``u``. Should it trade one bound for others, a higher power is taken.
    """
    if candidate.merit > SOLVED or not candidate.which.size:
        return candidate
    for power in _MORE_POWERS:
        moved = _minimise_used(bench, candidate, power)
        if moved.merit <= SOLVED:
            return moved
    return candidate


def _minimise_used(bench: SearchState, candidate: Trial, power: int) -> Trial:
    merit, which = bench.merit, candidate.which
    lower, upper = bench.lower_nm(which), bench.upper_nm(which)
    start = np.clip(candidate.thickness_nm, lower, upper)

    def value(nm: FloatArray) -> tuple[float, FloatArray]:
        return _log_used(merit, which, nm, power)

    nm = minimise_between(
        value, start, lower=lower, upper=upper, steps=_STEPS, stride=_STRIDE_NM, still=_STILL
    )
    return replace(candidate, thickness_nm=nm, merit=merit.value(which, nm))


def _log_used(
    merit: Merit, which: IndexArray, nm: FloatArray, power: int
) -> tuple[float, FloatArray]:
    """Logarithm of the mean of powers of what is used up, and its slopes, shape (L,)."""
    used, slopes, weights = merit.used_with_slopes(which, nm)
    largest = float(used.max())
    value, slope = np.log(_NOTHING), np.zeros(nm.size)
    if largest > _NOTHING:
        share = used / largest
        whole = float(weights @ share**power)
        slope = (weights * share ** (power - 1)) @ slopes / (largest * whole)
        value = np.log(largest) + np.log(whole) / power
    if merit.total_nm is not None:
        over = max(float(nm.sum()) - merit.total_nm, 0.0)
        value, slope = value + over**2, slope + 2.0 * over
    return float(value), np.asarray(slope)
