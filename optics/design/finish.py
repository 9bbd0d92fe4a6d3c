"""What is done to the best designs before they are shown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .centring import roomier
from .state import Bench, Candidate, makeable, pruned, simplified

FINER = 5
"""How many times finer the grid is on which a design is checked than the one it was refined on."""

_DENSITIES = (2, 4)
_SPIKE = 0.02  # percent points by which the finer grid may find a worse miss
_FINALISTS_EACH = 3


def finalists(bench: Bench, count: int, hurry: bool, rich: bool = False) -> list[Candidate]:
    """The best designs less what is useless, kept between grid points and with some margin.

    The simplest that meet the goals; with ``rich`` those with more layers too, which may bear
    errors better.
    """
    if hurry:
        return bench.ranked()[:count]
    lean = _best_of([pruned(bench, one) for one in bench.ranked()[: _FINALISTS_EACH * count]])
    simple = _best_of([simplified(bench, one) for one in lean[: count + 2]])
    chosen = simple[: count + 1]
    if rich:
        chosen = _best_of([*chosen, *lean[:count]])
    return [roomier(bench, _dense(bench, one)) for one in chosen]


def _best_of(candidates: list[Candidate]) -> list[Candidate]:
    """The best of each order of media, the best first."""
    best: dict[tuple[int, ...], Candidate] = {}
    for one in sorted(candidates, key=lambda c: c.rank):
        best.setdefault(tuple(one.which.tolist()), one)
    return list(best.values())


def _dense(bench: Bench, candidate: Candidate) -> Candidate:
    """A design refined on finer grids where the finest shows a worse miss between points."""
    finest, merit = bench.merit.denser(FINER), bench.merit
    for density in _DENSITIES:
        fine = finest.worst(candidate.which, candidate.thickness_nm)
        if np.all(fine <= merit.worst(candidate.which, candidate.thickness_nm) + _SPIKE):
            break
        merit = bench.merit.denser(density)
        candidate = makeable(replace(bench, merit=merit), candidate)
    value = merit.value(candidate.which, candidate.thickness_nm)
    return replace(candidate, merit=value)
