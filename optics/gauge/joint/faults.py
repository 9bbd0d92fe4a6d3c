"""Faults of surface, oxide, camera and lamp that all spots of a piece share.

What one reading takes as hypotheses of which one is true, many spots take by degrees: each fault
has an amount, nearly 0 or nearly 1 before any reading, and as likely to be past a half as the
fault is. So the sampler comes from none to one along a path, and faults may come together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist

import numpy as np

from ..._typing import FloatArray, IndexArray, SingleArray
from ...colour.conditions import ViewingConditions
from ...films.engine.thickness_scan import base_of
from ...films.spectra import DEFAULT_WAVELENGTH_NM
from ...inference.fault_colours import FaultView, Patterns, fault_patterns, fault_ways
from ...inference.faults import NONE, prior_shares
from ...inference.hypotheses import FilmModel, group_by_film
from ...inference.uncertainty import Uncertainty

WAYS = 2
"""Ways in which a fault may differ from its mean; further ones are small."""
PRESENT = 0.5
"""Amount from which a fault is said to be there."""
_SOFT = 0.35  # of the step from none to whole, in standard deviations of its score (a judgement)


@dataclass(frozen=True, eq=False)
class SharedFaults:
    """What faults do to the colours of all pairs, and how likely they are.

    Attributes
    ----------
    names : tuple of str
        F faults.
    step : ndarray, shape (F,)
        Score at which the amount is a half.
    moves : ndarray, shape (J, F (1 + ways), 3, C)
        Of each pair, the mean of each fault at the knots and its ways, in CIELAB.
    """

    names: tuple[str, ...]
    step: FloatArray
    moves: SingleArray

    @property
    def scores(self) -> int:
        """Scores of all faults: of each its amount, then its ways."""
        return len(self.names) * (1 + WAYS)

    def amounts(self, scores: FloatArray) -> FloatArray:
        """Amount (n, F) of each fault, from 0 to 1."""
        z = self._by_fault(scores)[:, :, 0]
        amount: FloatArray = 1.0 / (1.0 + np.exp((self.step - z) / _SOFT))
        return amount

    def shift(self, scores: FloatArray, pair: IndexArray) -> SingleArray:
        """What faults of these scores (n, S) add to CIELAB, (3, C, n)."""
        factor = np.ascontiguousarray(self._factors(scores).T, dtype=np.float32)
        found = np.empty((*self.moves.shape[2:], len(pair)), dtype=np.float32)
        for j, rows in rows_of_pairs(pair):
            moves = self.moves[j].reshape(self.scores, -1)
            np.matmul(moves.T, factor[:, rows], out=found.reshape(-1, len(pair))[:, rows])
        return found

    def slopes(self, scores: FloatArray, pair: IndexArray, pull: SingleArray) -> FloatArray:
        """Slopes (n, S) in the scores, of what has those slopes in CIELAB (3, C, n)."""
        along = np.empty((len(pair), self.scores))
        for j, rows in rows_of_pairs(pair):
            moves = self.moves[j].reshape(self.scores, -1)
            along[rows] = (moves @ pull.reshape(-1, len(pair))[:, rows]).T
        z, amount = self._by_fault(scores), self.amounts(scores)
        by_fault = along.reshape(z.shape)
        slope = by_fault * amount[:, :, None]
        whole = by_fault[:, :, 0] + (by_fault[:, :, 1:] * z[:, :, 1:]).sum(axis=2)
        slope[:, :, 0] = whole * amount * (1.0 - amount) / _SOFT
        return slope.reshape(len(scores), -1)

    def _factors(self, scores: FloatArray) -> FloatArray:
        """Of each row of ``moves``, its factor (n, F (1 + ways))."""
        factor = self._by_fault(scores).copy()
        factor[:, :, 0] = 1.0
        factor *= self.amounts(scores)[:, :, None]
        return factor.reshape(len(scores), -1)

    def _by_fault(self, scores: FloatArray) -> FloatArray:
        return scores.reshape(len(scores), len(self.names), 1 + WAYS)


def rows_of_pairs(pair: IndexArray) -> Iterator[tuple[int, slice]]:
    """Each pair, and the rows of it, where those of one pair stand together."""
    edges = [0, *(np.flatnonzero(np.diff(pair)) + 1).tolist(), len(pair)]
    for first, beyond in pairwise(edges):
        if beyond > first:
            yield int(pair[first]), slice(first, beyond)


NO_FAULTS = SharedFaults((), np.zeros(0), np.zeros((0, 0, 3, 0), dtype=np.float32))
"""Where films are what their data sets say."""


def share_faults(
    pairs: Sequence[FilmModel],
    knots_nm: FloatArray,
    *,
    finish: str,
    doubts: Uncertainty,
    viewing: ViewingConditions,
) -> SharedFaults:
    """The faults that films in question may have on a piece of that finish, at knots (C,) of
    a scale."""
    likeliest = max(pairs, key=lambda pair: pair.weight)
    shares = {name: share for name, share in prior_shares(likeliest, finish) if name != NONE}
    angle = 0.5 * (doubts.angle_low_deg + doubts.angle_high_deg)
    seen = FaultView(knots_nm, angle, doubts, viewing, "front", coarse=False)
    bases = {id(pair.base): base_of(pair.base, DEFAULT_WAVELENGTH_NM) for pair in pairs}
    may_have = [
        [name for name, _ in prior_shares(pair, finish) if name in shares] for pair in pairs
    ]
    patterns: Patterns = {}
    tried: set[str] = set()
    for pair, own in zip(pairs, may_have, strict=True):
        if new := [name for name in own if name not in tried]:
            base = bases[id(pair.base)]
            patterns |= fault_patterns(pair.film, base, seen=seen, names=new, most=WAYS)
            tried.update(new)
    names = tuple(name for name in shares if name in patterns)
    moves = np.zeros((len(pairs), len(names), 1 + WAYS, 3, knots_nm.size), dtype=np.float32)
    for members in group_by_film(pairs):
        film, below = pairs[members[0]].film, [bases[id(pairs[j].base)] for j in members]
        asked = [name for name in names if any(name in may_have[j] for j in members)]
        ways = fault_ways(film, below, seen=seen, names=asked, patterns=patterns)
        for f, name in enumerate(names):
            for place, j in enumerate(members):
                if name in may_have[j] and name in ways:
                    moves[j, f] = np.swapaxes(ways[name][place], 1, 2)
    step = np.array([NormalDist().inv_cdf(1.0 - shares[name]) for name in names])
    return SharedFaults(names, step, moves.reshape(len(pairs), -1, 3, knots_nm.size))
