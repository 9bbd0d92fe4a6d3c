"""Many designs at a time, each changed, refined and kept where that is better: basin hopping.

A refinement ends in the nearest valley; valleys of coatings lie next to each other, and a layer
taken out here and put in there leads from one to the next. Designs that hop together are computed
at once, which costs a fraction of the time that they would take one after another.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from .sampling import CHANGES, OFTEN, half_waves_nm
from .state import SOLVED, SearchState, Trial

_STEPS = (8, 30)  # of every design tried
_NEAR, _MORE = 1.5, 60  # times the merit within which one is refined further, and so many steps
# Counted: 40 designs of 12 layers at 38 wavelengths take the time of 2 to 4 done by themselves.
_TOGETHER = 1.0 / 3.0
_WORTH = 0.999  # of the merit, below which a change is kept
_MIXED = 8  # rounds after which the best take the places of the worst
_SHARE = 4  # a quarter of them
_TRIES = 4  # changes drawn until one can be made


def hop(
    bench: SearchState,
    begin: Sequence[Trial],
    *,
    middle_nm: float,
    rng: np.random.Generator,
    rounds: int,
    tell: Callable[[], None],
) -> list[Trial]:
    """Designs that have hopped until one meets all goals, or the rounds or the effort are spent.

    Parameters
    ----------
    begin : sequence of Trial
        Designs as they start, which can be made.
    """
    now, half = list(begin), half_waves_nm(bench, middle_nm)
    for turn in range(1, rounds + 1):
        if bench.out_of_budget or not now or min(one.merit for one in now) <= SOLVED:
            break
        tried = [_change(bench, one, half, rng) for one in now]
        for steps in _STEPS:
            tried = bench.refine_all(tried, True, steps, share=_TOGETHER)
        near = [i for i, one in enumerate(tried) if one.merit < _NEAR * now[i].merit]
        further = bench.refine_all([tried[i] for i in near], True, _MORE, share=_TOGETHER)
        for i, one in zip(near, further, strict=True):
            if one.merit < _WORTH * now[i].merit:
                now[i] = bench.add(one)
        if turn % _MIXED == 0:
            now.sort(key=lambda one: one.rank)
            few = len(now) // _SHARE
            now[len(now) - few :] = now[:few]
            tell()
    return sorted(now, key=lambda one: one.rank)


def _change(bench: SearchState, one: Trial, half: FloatArray, rng: np.random.Generator) -> Trial:
    """A design changed in one of the ways, kept to what can be made."""
    for _ in range(_TRIES):
        way = CHANGES[int(rng.choice(len(CHANGES), p=OFTEN))]
        made = way(bench, one, half, rng)
        if 0 < made.which.size <= bench.limits.most_layers:
            break
    else:
        made = one
    nm = np.clip(made.thickness_nm, bench.lower_nm(made.which), bench.upper_nm(made.which))
    return replace(made, thickness_nm=nm)
