"""The fewest layers that meet all goals, from designs that meet them with more."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from .state import LONG, SHORT, SOLVED, SearchState, Trial, enforce_limits_all, remove_layer

_WIDTH, _FINISHED = 3, 10  # designs from which each layer is taken, and of what is left refined
_APART_NM = 10.0

SearchAgain = Callable[[int, Sequence[Trial]], list[Trial]]
"""Designs of so many layers from those that came near with as many."""


def thin_out(
    bench: SearchState, solved: list[Trial], search_again: SearchAgain, *, tell: Callable[[], None]
) -> list[Trial]:
    """Designs that meet all goals with as few layers as are found to do.

    Every layer of the best designs is left out in turn, its neighbours joined where they are
    alike; where none of that holds, the search for one layer less begins again, from those that
    came nearest.
    """
    level = solved
    while level[0].which.size > 1 and not bench.out_of_budget:
        tell()
        size = min(one.which.size for one in level)
        near = _without_a_layer(bench, [one for one in level if one.which.size == size])
        fewer = [one for one in near if one.merit <= SOLVED]
        if not fewer and not bench.out_of_budget:
            fewer = [one for one in search_again(size - 1, near) if one.merit <= SOLVED]
        if not fewer:
            break
        level = distinct(fewer)
    return level


def _without_a_layer(bench: SearchState, level: list[Trial]) -> list[Trial]:
    """The best designs that come of leaving one layer out, the best first."""
    less = [remove_layer(bench, one, j) for one in level[:_WIDTH] for j in range(one.which.size)]
    short = bench.refine_all(distinct(one for one in less if one.which.size), False, SHORT)
    made = enforce_limits_all(bench, distinct(short)[:_FINISHED], LONG)
    return distinct(bench.add(one) for one in made if one.which.size)


def distinct(pool: Iterable[Trial]) -> list[Trial]:
    """The best first, less designs that are the same to a nanometre."""
    found: dict[tuple[tuple[int, ...], tuple[int, ...]], Trial] = {}
    for one in sorted(pool, key=lambda c: c.rank):
        place = tuple(np.rint(one.thickness_nm).astype(int).tolist())
        found.setdefault((tuple(one.which.tolist()), place), one)
    return list(found.values())


def spread_out(pool: Iterable[Trial], count: int) -> list[Trial]:
    """The best few of which no two lie in one valley: of one order, and alike to `_APART_NM`."""
    found: list[Trial] = []
    for one in sorted(pool, key=lambda c: c.rank):
        if len(found) == count:
            break
        if not any(
            np.array_equal(one.which, other.which)
            and np.abs(one.thickness_nm - other.thickness_nm).max() < _APART_NM
            for other in found
        ):
            found.append(one)
    return found
