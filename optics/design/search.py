"""The search for designs: a ladder of more and more layers, then back down to the fewest that do.

On each rung designs grow from those of the rung below, families of the trade join, and random ones
are refined by successive halving: all a few steps, the better half some more, and few to the end.
The first rung that meets all goals is the last; from there layers are taken out again. So the
answer hangs little on how many layers are allowed, where fewer do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .._typing import IndexArray
from .hopping import hop
from .needle import grow_by_needles
from .sampling import sample_designs
from .starts import Start
from .state import LONG, SOLVED, SearchState, Trial, enforce_limits_all
from .thinning import distinct, spread_out, thin_out

_RUNGS = (3, 6, 12, 20, 28, 40)
_POOL_BELOW, _POOL = 0.1, 0.3  # random starts at once, as shares of the effort: lower rungs, top
_FEWEST = 4
# Shares that go on, for so many steps. Counted on anti-reflection coatings: of the starts that come
# to the best valley most are among the best half after 6 steps, a fifth after 15, a tenth after 30.
_HEATS = ((1.0, 6), (0.45, 8), (0.2, 16), (0.1, 40), (0.03, 100))
_STARTS_EACH, _STARTS_MORE = 2, 6  # of a family, and of all others
_GROWN = 4  # designs that grow
_EARLY = 3  # heats of designs that hop from there
_HOPPING, _HOPS = 40, 2**31  # designs at once, and their random stream
_MOST_ROUNDS, _FEWER_ROUNDS = 1000, 16  # of hops, at the top and with a layer less
_CLIMBING = 0.75  # share of the effort that is left for climbing; the rest takes layers out
_POLISH = 400  # steps at the end, for valleys that are long and flat
_KEPT = 8
_WALKED = 2  # how many times finer the grid is on which layers are taken out

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
        Keeps what is found, so that an interrupted search has lost nothing. Where it holds designs
        already, the search goes on from them.
    begin : list of Start
        Designs to start from.
    middle_nm : float
        Random designs get layers of up to half a wave here.
    report : callable
        Called with what is going on, for a person who waits.
    """
    whole, merit = bench.limits, bench.merit
    ladder = _Ladder(bench, begin, middle_nm, int(rng.integers(2**62)), report)
    known = bench.rank_all()[:_KEPT]
    most = whole.most_layers
    rungs = [n for n in _RUNGS if known[0].which.size < n < most] if known else _RUNGS
    top = most
    bench.share = _CLIMBING
    try:
        more = bench.rich  # one rung beyond the first that does
        for n in [*(n for n in rungs if n < most), most]:
            known = ladder.climb(n, known, is_top=n == most)
            top = n
            if any(one.merit <= SOLVED for one in known):
                if not more:
                    break
                more = False
        bench.share = 1.0
        if any(one.merit <= SOLVED for one in known):
            bench.move_to(merit.for_layers(top).with_denser_grids(_WALKED))
            ladder.walk_down(known)
        else:
            for one in bench.refine_all(bench.rank_all()[:_KEPT], True, _POLISH):
                bench.add(one)
    finally:
        bench.limits, bench.share = whole, 1.0
        bench.move_to(merit.for_layers(top))


@dataclass(frozen=True, eq=False)
class _Ladder:
    """One search under way."""

    bench: SearchState
    begin: list[Start]
    middle_nm: float
    seed: int
    report: Told

    def climb(self, n: int, known: list[Trial], is_top: bool) -> list[Trial]:
        """The best designs of up to ``n`` layers, from the best of fewer."""
        bench = self.bench
        fewer = max((one.which.size for one in known), default=0)
        bench.limits = replace(bench.limits, most_layers=n)
        bench.move_to(bench.merit.for_layers(n))
        known = [replace(o, merit=bench.merit.value(o.which, o.thickness_nm)) for o in known]
        self._tell()
        found = [*known, *self._families(fewer, n)]
        near = [*found, *grow_by_needles(bench, distinct(found)[:_GROWN])]
        drawn = self.draw(n, 0, near, orders=near, is_full=is_top)
        found = distinct([*near, *drawn])
        if not is_top or found[0].merit <= SOLVED or bench.out_of_budget:
            return found[:_KEPT]
        return distinct([*found, *self.hop(n, found, _MOST_ROUNDS)])[:_KEPT]

    def draw(
        self,
        n: int,
        pool: int,
        known: Sequence[Trial],
        *,
        orders: Sequence[Trial] = (),
        is_full: bool = True,
    ) -> list[Trial]:
        """Random designs of ``n`` layers, fewer and fewer of them refined further and further.

        Some lie near those ``known``, some are of the ``orders`` of media of good ones.
        """
        bench = self.bench
        rng = np.random.default_rng((self.seed, n, pool))
        count = max(_FEWEST, round((_POOL if is_full else _POOL_BELOW) * bench.effort))
        before, bench.limits = bench.limits, replace(bench.limits, most_layers=n)
        some = sample_designs(
            bench, spread_out([one for one in known if one.which.size <= n], _KEPT), count,
            middle_nm=self.middle_nm, rng=rng, orders=_list_orders([*known, *orders], n),
        )  # fmt: skip
        for share, steps in _HEATS[:_EARLY] if is_full else _HEATS:
            left = distinct(some)[: max(1, round(share * count))]
            some = bench.refine_all(left, True, steps)
        bench.limits = before
        return [bench.add(one) for one in some]

    def hop(self, n: int, known: Sequence[Trial], rounds: int) -> list[Trial]:
        """Designs of up to ``n`` layers that come of hopping from those known, the best first."""
        bench, before = self.bench, self.bench.limits
        bench.limits = replace(before, most_layers=n)
        begin = spread_out([one for one in known if one.which.size <= n], _HOPPING)
        rng = np.random.default_rng((self.seed, n, _HOPS))
        found = hop(bench, begin, middle_nm=self.middle_nm, rng=rng, rounds=rounds, tell=self._tell)
        bench.limits = before
        return found

    def walk_down(self, known: list[Trial]) -> None:
        """Look for the fewest layers that meet all goals, on a finer grid."""
        bench = self.bench
        self._tell()
        again = bench.refine_all(known, True, LONG)
        solved = [bench.add(one) for one in distinct(again) if one.merit <= SOLVED]
        if solved:
            thin_out(bench, solved, self._try_anew, tell=self._tell)

    def _try_anew(self, n: int, near: Sequence[Trial]) -> list[Trial]:
        """Designs of ``n`` layers that hop from those near and from random ones."""
        return self.hop(n, [*near, *self.draw(n, 0, near[:_KEPT])], _FEWER_ROUNDS)

    def _families(self, fewer: int, n: int) -> list[Trial]:
        """The best designs of every family, and the best of the rest, refined."""
        bench = self.bench
        made = [
            bench.make_trial(s.family, s.which, s.thickness_nm)
            for s in self.begin
            if fewer < len(s.which) <= n or (not fewer and len(s.which) <= n)
        ]
        made.sort(key=lambda c: c.rank)
        families: dict[str, int] = {}
        chosen: list[Trial] = []
        rest: list[Trial] = []
        for one in made:
            families[one.family] = families.get(one.family, 0) + 1
            (chosen if families[one.family] <= _STARTS_EACH else rest).append(one)
        begun = bench.refine_all(chosen + rest[:_STARTS_MORE], False, LONG)
        return [bench.add(one) for one in enforce_limits_all(bench, begun) if one.which.size]

    def _tell(self) -> None:
        bench = self.bench
        if not bench.best:
            self.report("starting from the families of the trade")
            return
        best = bench.rank_all()[0]
        self.report(
            f"{bench.spent:.0f} of {bench.effort} refinements; best so far misses by "
            f"{best.merit:.3g} with {best.which.size} layers"
        )


def _list_orders(known: Sequence[Trial], n: int) -> list[IndexArray]:
    """Orders of media of ``n`` layers or one less, those of the best designs first."""
    found = {
        tuple(one.which.tolist()): one.which
        for one in reversed(distinct(known))
        if n - 1 <= one.which.size <= n
    }
    return list(reversed(found.values()))


def has_enough_designs(bench: SearchState) -> bool:
    """Whether a design meets all goals, so that no other search is begun."""
    return any(one.merit <= SOLVED for one in bench.best.values())
