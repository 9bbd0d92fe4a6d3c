"""A long search as several that know nothing of each other, so that they may run side by side.

How many there are hangs on the effort alone, never on who does the work. The first one starts from
the families of the trade and grows; the others only start again, each with its own random numbers.
"""

from __future__ import annotations

import time
from dataclasses import replace
from functools import partial

import numpy as np

from ..numerics.parallel import child_rng, map_parallel, rng_root
from .search import Told, has_enough_designs, search
from .starts import Start
from .state import SearchState, Trial

EACH = 1000
"""Refinements of one search, where the effort is enough for several."""
_SENT = 40  # designs that a search tells of


def search_long(
    bench: SearchState,
    begin: list[Start],
    *,
    middle_nm: float,
    rng: np.random.Generator,
    report: Told = lambda _: None,
) -> None:
    """Fill the bench with designs, as `search` does, by as many searches as the effort allows.

    Parameters
    ----------
    bench, begin, middle_nm, rng, report
        As for `search`. What is found is on the bench as soon as a search has ended, so that an
        interrupt loses only those under way, and nothing of the first.
    """
    count = max(1, bench.effort // EACH)
    if count == 1:
        search(bench, begin, middle_nm=middle_nm, rng=rng, report=report)
        return
    whole = bench.effort
    bench.effort = whole // count
    root, started = rng_root(rng), time.perf_counter()
    search(bench, begin, middle_nm=middle_nm, rng=rng, report=report)
    cost_s = time.perf_counter() - started
    bench.effort = whole
    if has_enough_designs(bench):
        return
    own = partial(_restart, replace(bench, effort=whole // count, best={}), middle_nm, root)
    others = map_parallel(
        own, range(count - 1), report=report, what="searching again", unit_s=cost_s
    )
    for spent, found in others:
        bench.spent += spent
        for one in found:
            bench.add(one)


def _restart(
    bench: SearchState, middle_nm: float, root: np.random.SeedSequence, i: int
) -> tuple[float, list[Trial]]:
    """What one more search spent and found."""
    own = replace(bench, spent=0.0, share=1.0, best={})
    search(own, [], middle_nm=middle_nm, rng=child_rng(root, i))
    return own.spent, own.rank_all()[:_SENT]
