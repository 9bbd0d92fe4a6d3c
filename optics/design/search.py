"""The search for designs: a ladder of more and more layers, then back down to the fewest that do.

On each rung designs grow from those of the rung below, and families of the trade join. The first
rung that meets all goals is the last; from there layers are taken out again, and where that fails,
designs that came near hop from valley to valley. So the answer hangs little on how many layers are
allowed, where fewer do. Where the top rung meets them not, crowds that know nothing of each other
hop until the best was found twice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .._typing import FloatArray
from .finish import aim_within, keep_those_that_hold
from .hopping import hop, shift_orders
from .needle import grow_by_needles
from .sampling import half_waves_nm, sample_designs
from .starts import Start
from .state import LONG, SOLVED, SearchState, Trial, enforce_limits_all
from .thinning import distinct, spread_out, thin_out

_RUNGS = (3, 6, 12, 20, 28, 40)
_PLACES = 48  # designs that hop at once; the more, the less each takes, up to about so many
# Random designs for each place they take, and heats of steps and the share that goes on. Counted on
# anti-reflection coatings: most that come to the best valley are among the best half after 6.
_DRAWN, _HEATS = 4, ((6, 0.5), (10, 0.25))
# Each misses the best valley of eight layers one time in four; of four layers, hardly ever.
_FEWEST_CROWDS, _CROWDS = (2, 4), 20
_AGREE = 1.002  # merits of crowds that have found the same
_STARTS_EACH, _STARTS_MORE = 2, 6  # of a family, and of all others
_GROWN = 4  # designs that grow
_CLIMBING = 0.85  # share of the effort that is left for climbing; the rest takes layers out
_POLISH, _POLISHED = 400, 4  # steps at the end, for valleys that are long and flat; for so many
_SHIFTED = 2  # of these in which layers are shifted by half waves
_KEPT = 8
# Designs known or near, and the places they hop from; for a layer less, steps for each refinement.
# Random ones beside them start so far behind that their places are lost.
_CAME_NEAR, _FEW_PLACES, _TURNS = 12, 24, 0.8
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
            bench.move_to(aim_within(merit.for_layers(top).with_denser_grids(_WALKED)))
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
        bench.move_to(bench.merit.for_layers(n, is_rough=True))
        known = [replace(o, merit=bench.merit.value(o.which, o.thickness_nm)) for o in known]
        self._tell()
        found = [*known, *self._families(fewer, n)]
        found = [*found, *grow_by_needles(bench, distinct(found)[:_GROWN])]
        if not is_top or any(one.merit <= SOLVED for one in found):
            return distinct(found)[:_KEPT]
        return self.hop_until_found_twice(n, found)

    def hop_until_found_twice(self, n: int, known: Sequence[Trial]) -> list[Trial]:
        """The best of crowds of which the first knows what was found, and the others nothing.

        Two of the others must agree on the best: what the first was told, another may end at too.
        """
        found, ends = list(known), []
        fewest = int(np.clip(self.bench.freedom // 2, *_FEWEST_CROWDS))
        for crowd in range(_CROWDS):
            own = self.hop(n, crowd, [] if crowd else found)
            found = distinct([*found, *own])
            ends.append(own[0].merit)
            agree = sum(one <= _AGREE * min(ends) for one in ends[1:]) >= 2
            enough = agree and len(ends) >= fewest
            if min(ends) <= SOLVED or self.bench.out_of_budget or enough:
                break
        return found[:_KEPT]

    def hop(self, n: int, crowd: int, known: Sequence[Trial]) -> list[Trial]:
        """Designs of up to ``n`` layers that come of hopping: from those known, or from any."""
        bench = self.bench
        rng = self._draw(n, crowd)
        if known:
            return self._hop_on(self._places(known, n), rng)
        some = sample_designs(bench, _DRAWN * _PLACES, half_nm=self._half_waves_nm, rng=rng)
        for steps, share in _HEATS:
            some = bench.refine_all(some, True, steps)
            some = sorted(some, key=lambda one: one.rank)[: round(share * _DRAWN * _PLACES)]
        return self._hop_on(some, rng)

    def _places(self, known: Sequence[Trial], n: int) -> list[Trial]:
        """The best of those known, some times each where they are few."""
        near = spread_out([one for one in known if one.which.size <= n], _CAME_NEAR)
        return [near[i % len(near)] for i in range(_FEW_PLACES)] if near else []

    def _hop_on(
        self, begin: Sequence[Trial], rng: np.random.Generator, turns: float = np.inf
    ) -> list[Trial]:
        """What comes of designs that hop, the best polished and shifted by half waves."""
        bench, half = self.bench, self._half_waves_nm
        found = hop(bench, begin, half_nm=half, rng=rng, turns=turns, tell=self._tell)
        best = bench.refine_all(spread_out(found, _POLISHED), True, _POLISH)
        best = [shift_orders(bench, one, half_nm=half) for one in spread_out(best, _SHIFTED)]
        return distinct(bench.add(one) for one in [*best, *found])

    @cached_property
    def _half_waves_nm(self) -> FloatArray:
        return half_waves_nm(self.bench, self.middle_nm)

    def _draw(self, n: int, crowd: int) -> np.random.Generator:
        return np.random.default_rng((self.seed, n, crowd))

    def walk_down(self, known: list[Trial]) -> None:
        """Look for the fewest layers that meet all goals, on a finer grid."""
        bench = self.bench
        self._tell()
        again = bench.refine_all(known, True, LONG)
        solved = [bench.add(one) for one in distinct(again) if one.merit <= SOLVED]
        if not solved:
            return
        fewest = thin_out(bench, solved, self._search_again, tell=self._tell)
        for one in reversed(keep_those_that_hold(bench, fewest[:_POLISHED])):
            bench.put(one)

    def _search_again(self, n: int, near: Sequence[Trial]) -> list[Trial]:
        """Designs of ``n`` layers, from those that came near."""
        bench = self.bench
        before, bench.limits = bench.limits, replace(bench.limits, most_layers=n)
        places, turns = self._places(near, n), _TURNS * bench.effort
        found = self._hop_on(places, self._draw(n, 0), turns)
        bench.limits = before
        return found

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
        does = "meets the goals" if best.merit <= SOLVED else f"misses by {best.merit:.3g}"
        self.report(
            f"{bench.spent:.0f} of {bench.effort} refinements; best so far {does} with "
            f"{best.which.size} layers"
        )


def has_enough_designs(bench: SearchState) -> bool:
    """Whether a design meets all goals, so that no other search is begun."""
    return any(one.merit <= SOLVED for one in bench.best.values())
