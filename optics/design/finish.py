"""What is done to the best designs before they are shown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .centring import centre_design
from .state import SearchState, Trial, enforce_limits, prune, simplify

FINER = 5
"""How many times finer the grid is on which a design is checked than the one it was refined on."""

_DENSITIES = (2, 4)
_SPIKE = 0.02  # percent points by which the finer grid may find a worse miss
_FINALISTS_EACH = 3


def choose_finalists(
    bench: SearchState, count: int, *, hurry: bool, rich: bool = False
) -> list[Trial]:
    """The best designs less what is useless, kept between grid points and with some margin.

    The simplest that meet the goals; with ``rich`` those with more layers too, which may bear
    errors better.
    """
    if hurry:
        return bench.rank_all()[:count]
    lean = _best_of([prune(bench, one) for one in bench.rank_all()[: _FINALISTS_EACH * count]])
    simple = _best_of([simplify(bench, one) for one in lean[: count + 2]])
    chosen = simple[: count + 1]
    if rich:
        chosen = _best_of([*chosen, *lean[:count]])
    return [centre_design(bench, _refine_densely(bench, one)) for one in chosen]


def _best_of(candidates: list[Trial]) -> list[Trial]:
    """The best of each order of media, the best first."""
    best: dict[tuple[int, ...], Trial] = {}
    for one in sorted(candidates, key=lambda c: c.rank):
        best.setdefault(tuple(one.which.tolist()), one)
    return list(best.values())


def _refine_densely(bench: SearchState, candidate: Trial) -> Trial:
    """A design refined on finer grids where the finest shows a worse miss between points."""
    finest, merit = bench.merit.with_denser_grids(FINER), bench.merit
    for density in _DENSITIES:
        fine = finest.worst(candidate.which, candidate.thickness_nm)
        if np.all(fine <= merit.worst(candidate.which, candidate.thickness_nm) + _SPIKE):
            break
        merit = bench.merit.with_denser_grids(density)
        candidate = enforce_limits(replace(bench, merit=merit), candidate)
    value = merit.value(candidate.which, candidate.thickness_nm)
    return replace(candidate, merit=value)
