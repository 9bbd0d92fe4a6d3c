"""Thicknesses rounded to what is written, one after another, the rest moved to make up for it.

Where the region that meets all goals is narrow, rounding all thicknesses at once leaves it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from .finish import aim_within
from .merit import Merit
from .state import LONG, SearchState, Trial, refine


def round_one_by_one(
    bench: SearchState, candidate: Trial, *, merit: Merit, decimals: int
) -> FloatArray:
    """Rounded thicknesses [nm], shape (L,), of a design that meets the goals of ``merit``.

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
