"""The search for designs: start, grow, exchange, and restart many times over.

Random starts are refined by successive halving: all a few steps, the better half some more, a
fifth to the end. Which valley is deepest shows only late: with less of the pool kept, a deep one is
found less often for the time spent.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .needle import exchange_layers, grow_by_needles
from .sampling import sample_designs
from .starts import Start
from .state import LONG, SOLVED, SearchState, Trial, enforce_limits_all, simplify

_STARTS_EACH, _STARTS_MORE, _GROWN = 2, 6, 4
_POOL, _FIRST_STEPS = 96, 15  # starts of one heat
_HEATS = ((0.6, 30), (0.35, 60), (0.2, 150))  # shares of the pool that go on, for so many steps
_GROWING, _RESTARTING = (
    0.3,
    0.85,
)  # shares of the effort at which growing and restarting end
_POLISH = 400  # steps at the end, for valleys that are long and flat
_ENOUGH = 3  # designs that meet all goals

Told = Callable[[str], None]


def search(
    bench: SearchState,
    begin: list[Start],
    *,
    middle_nm: float,
    rng: np.random.Generator,
    report: Told = lambda _: None,
) -> None:
    """Fill the bench with designs, the best of every order of media.

    Parameters
    ----------
    bench : SearchState
        Keeps what is found, so that an interrupted search has lost nothing.
    begin : list of Start
        Designs to start from.
    middle_nm : float
        Random designs get layers of up to half a wave here.
    report : callable
        Called with what is going on, for a person who waits.
    """
    _screen(bench, begin, report)
    bench.share = _GROWING
    _tell(bench, report)
    exchange_layers(bench, grow_by_needles(bench, bench.rank_all()[:_GROWN]))
    bench.share = _RESTARTING
    while not bench.best or not (bench.out_of_budget or has_enough_designs(bench)):
        _tell(bench, report)
        _halve_successively(bench, middle_nm, rng)
    bench.share = 1.0
    _tell(bench, report)
    exchange_layers(bench, grow_by_needles(bench, bench.rank_all()[:_ENOUGH]))
    for one in bench.refine_all(bench.rank_all()[:_ENOUGH], True, _POLISH):
        bench.add(one)
    for one in bench.rank_all()[: 2 * _ENOUGH]:
        bench.add(simplify(bench, one))


def has_enough_designs(bench: SearchState) -> bool:
    """Whether so many designs meet all goals that no more are looked for."""
    return sum(one.merit < SOLVED for one in bench.best.values()) >= _ENOUGH


def _tell(bench: SearchState, report: Told) -> None:
    if not bench.best:
        return
    best = bench.rank_all()[0]
    report(
        f"{bench.spent} of {bench.effort} refinements; best so far misses by {best.merit:.3g} "
        f"with {best.which.size} layers"
    )


def _screen(bench: SearchState, begin: list[Start], report: Told) -> None:
    """Refine the best starts of every family, and the best of the rest."""
    made = [bench.make_trial(s.family, s.which, s.thickness_nm) for s in begin]
    made.sort(key=lambda c: c.rank)
    families: dict[str, int] = {}
    chosen: list[Trial] = []
    rest: list[Trial] = []
    for one in made:
        families[one.family] = families.get(one.family, 0) + 1
        (chosen if families[one.family] <= _STARTS_EACH else rest).append(one)
    report("starting from the families of the trade")
    begun = bench.refine_all(chosen + rest[:_STARTS_MORE], False, LONG)
    for one in enforce_limits_all(bench, begun):
        bench.add(one)


def _halve_successively(bench: SearchState, middle_nm: float, rng: np.random.Generator) -> None:
    """Refine a pool of random starts, fewer and fewer of them further and further."""
    pool = bench.refine_all(
        sample_designs(bench, _POOL, middle_nm=middle_nm, rng=rng), True, _FIRST_STEPS
    )
    for share, steps in _HEATS:
        best = _drop_duplicates(pool)[: max(1, round(share * _POOL))]
        pool = bench.refine_further(best, True, steps)
    for one in pool:
        bench.add(one)


def _drop_duplicates(pool: list[Trial]) -> list[Trial]:
    """The pool, the best first, less designs that have come to the same place."""
    found: dict[tuple[tuple[int, ...], tuple[int, ...]], Trial] = {}
    for one in sorted(pool, key=lambda c: c.rank):
        place = tuple(np.rint(one.thickness_nm).astype(int).tolist())
        found.setdefault((tuple(one.which.tolist()), place), one)
    return list(found.values())
