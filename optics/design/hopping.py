"""Many designs at a time, each changed, refined and kept where that is better: basin hopping.

A refinement ends in the nearest valley; valleys of coatings lie next to each other, and a layer
taken out here and put in there leads from one to the next. All designs that hop take a step in one
computation. As soon as one has settled, or falls behind what others had reached after as many
steps, its place is given to the next, so that the computation is always full.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from .._typing import FloatArray
from .changes import change_films, list_shifts
from .least_squares import Descents
from .state import LONG, SHORT, SOLVED, SearchState, Trial

# Successive halving without waiting: after so many steps the share of designs that goes on. Counted
# on anti-reflection coatings and colours: four fifths of the hops that end lower than they began
# are among these.
_RUNGS = ((4, 0.45), (12, 0.65), (32, 0.6))
_MOST_STEPS = 120
_LOOSE = 1e-5  # relative fall of the squared merit at which a design has settled
_LEARNT, _MEMORY = 16, 200  # designs seen at a rung before it drops any; that it remembers
_WORTH = 0.999  # of the merit, below which a change is kept
_MIXED = 8  # hops of each place after which the best take the places of the worst
_SHARE = 4  # a quarter of them
# Hops at least, for each layer and medium to choose, and as a share of those to the best, till they
# end.
_PATIENCE, _PATIENCE_EACH, _AGAIN = 1000, 100, 0.6
_SHIFTED = ((SHORT, 6), (LONG, 1))  # steps after a shift by half waves, and how many go on
_TOLD = 40  # steps between two words to a person who waits


def hop(
    bench: SearchState,
    begin: Sequence[Trial],
    *,
    half_nm: FloatArray,
    rng: np.random.Generator,
    turns: float = np.inf,
    tell: Callable[[], None] = lambda: None,
) -> list[Trial]:
    """Designs that have hopped, the best first.

    It ends where one meets all goals, the effort is spent, or the best has stayed the best for
    long, as measured by the hops that it took to find.

    Parameters
    ----------
    begin : sequence of Trial
        Designs as they start, of no more layers than are allowed, one for each place.
    half_nm : ndarray, shape (M,)
        Half a wave of each medium [nm].
    turns : float
        Steps that all of them may take.
    """
    if not begin:
        return []
    pool = _Pool(bench, list(begin), half_nm, rng)
    turn = 0
    while not (turn >= turns or bench.out_of_budget or pool.least <= SOLVED or pool.has_settled):
        pool.advance()
        turn += 1
        if turn % _TOLD == 0:
            tell()
    return sorted(pool.held, key=lambda one: one.rank)


def shift_orders(bench: SearchState, one: Trial, *, half_nm: FloatArray) -> Trial:
    """The best design that comes of shifting one layer after another by half waves.

    A thick layer has a valley for each half wave, which changes at random seldom come across.
    """
    while one.merit > SOLVED and not bench.out_of_budget:
        most = bench.upper_nm(np.arange(half_nm.size))
        shifted = list_shifts((one.which, one.thickness_nm), half_nm, thickest_nm=most)
        tried = [replace(one, thickness_nm=nm) for _, nm in shifted]
        for steps, count in _SHIFTED:
            tried = bench.refine_all(tried, True, steps)
            tried = sorted(tried, key=lambda o: o.rank)[:count]
        if not tried or tried[0].merit >= _WORTH * one.merit:
            return one
        one = bench.add(tried[0])
    return one


@dataclass(eq=False)
class _Pool:
    """Designs that hold their places, and what is tried in place of each."""

    bench: SearchState
    held: list[Trial]
    half_nm: FloatArray
    rng: np.random.Generator
    hops: int = 0
    found_at: int = 0
    seen: list[list[float]] = field(default_factory=lambda: [[] for _ in _RUNGS])

    def __post_init__(self) -> None:
        count, most = len(self.held), self.bench.limits.most_layers
        blank = np.zeros((count, most))
        media = np.arange(self.half_nm.size)
        self.least_nm, self.most_nm = self.bench.lower_nm(media), self.bench.upper_nm(media)
        self.age = np.zeros(count, dtype=int)
        self.tried = Descents.begin(
            blank.astype(np.intp), blank, lower=blank.copy(), upper=blank.copy()
        )
        for i in range(count):
            self._renew(i)

    @property
    def least(self) -> float:
        """The least merit of those held."""
        return min(one.merit for one in self.held)

    @property
    def has_settled(self) -> bool:
        """Whether it took long since the best was found."""
        least = min(_PATIENCE, _PATIENCE_EACH * self.bench.freedom)
        return self.hops - self.found_at > max(least, _AGAIN * self.found_at)

    def advance(self) -> None:
        """One step of all that is tried."""
        settled = self.tried.advance(self.bench.merit.in_single, _LOOSE)
        self.bench.count_pooled(self.tried.which.shape[1], len(self.held))
        self.age += 1
        for i in np.flatnonzero(settled | (self.age >= _MOST_STEPS)):
            self._judge(int(i))
        for rung, (steps, share) in enumerate(_RUNGS):
            for i in np.flatnonzero(self.age == steps):
                if self._falls_behind(int(i), rung, share):
                    self._renew(int(i))

    def _falls_behind(self, i: int, rung: int, share: float) -> bool:
        """Whether a design is not among the better share of those that came to this rung."""
        ratio = float(np.sqrt(self.tried.cost[i]) / self.held[i].merit)
        seen = self.seen[rung]
        seen.append(ratio)
        del seen[:-_MEMORY]
        return len(seen) > _LEARNT and ratio > sorted(seen)[int(share * (len(seen) - 1))]

    def _judge(self, i: int) -> None:
        """Keep what was tried where it is better, and try another."""
        merit = float(np.sqrt(self.tried.cost[i]))
        if merit < _WORTH * self.held[i].merit:
            nm = self.tried.thickness_nm[i]
            own = self.tried.upper_nm[i] > 0.0
            one = Trial(self.held[i].family, self.tried.which[i][own], nm[own], merit)
            if merit < _WORTH * self.least:
                self.found_at = self.hops
            self.held[i] = self.bench.add(one)
        self._renew(i)

    def _renew(self, i: int) -> None:
        """A changed design to be tried in place of one, made up with empty layers."""
        self.hops += 1
        if self.hops % (_MIXED * len(self.held)) == 0:
            self._mix()
        one, most = self.held[i], self.bench.limits.most_layers
        which, nm = change_films(
            (one.which, one.thickness_nm), self.half_nm, most=most, rng=self.rng
        )
        lower, upper = self.least_nm[which], self.most_nm[which]
        self.tried.renew(i, which, thickness_nm=nm, lower=lower, upper=upper)
        self.age[i] = 0

    def _mix(self) -> None:
        """The best take the places of the worst."""
        order = sorted(range(len(self.held)), key=lambda i: self.held[i].rank)
        few = len(order) // _SHARE
        for good, poor in zip(order[:few], order[len(order) - few :], strict=True):
            self.held[poor] = self.held[good]
