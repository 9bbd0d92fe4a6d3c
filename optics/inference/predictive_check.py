"""Does any film in question show such a colour? A predictive check calibrated by simulation.

The smallest distance of a reading from the colours of the model does not follow a chi-square
law, so its density under the model's predictions is compared with that of simulated readings. Of
some of the films in question, the others are rivals: what is compared then is how much likelier the
former make a reading than the latter, which finds more of what is not theirs than any other
comparison (J. Neyman and E. S. Pearson, Phil. Trans. R. Soc. A 231, 289 (1933), from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray, SingleArray
from .colour_table import ColourTable
from .normal import features, log_mean
from .posterior import Prior

_DRAWS = 2000
_FIRST_DRAWS = 400  # enough for a reading that is nowhere near being refused
_PLAINLY_FITS = 0.1
_COMPONENTS = 20_000
_DRAWS_AT_A_TIME, _FILMS_AT_A_TIME = 50, 2000  # all at once would take a gigabyte
_LOWEST = np.float32(-80.0)  # less ends in slow denormal numbers


@dataclass(frozen=True, eq=False)
class FitCheck:
    """Random rows that stand for what the model predicts, and simulated readings.

    Attributes
    ----------
    terms : tuple of ndarray, shape (10, rows)
        For each look at the spot, the coefficients of the same random films.
    drawn : tuple of ndarray, shape (draws, 3)
        For each look, simulated readings in CIELAB.
    rivals : tuple of ndarray, shape (10, rows)
        As ``terms``, of random films of the other kind; none where all are asked about.
    """

    terms: tuple[SingleArray, ...]
    drawn: tuple[FloatArray, ...]
    rivals: tuple[SingleArray, ...] = ()

    @cached_property
    def first(self) -> FloatArray:
        """Sorted scores of the first few simulated sets of looks: log densities, or log ratios."""
        return np.sort(self._densities(slice(_FIRST_DRAWS)))

    @cached_property
    def simulated(self) -> FloatArray:
        """Sorted scores (draws,) of all simulated sets of looks."""
        return np.sort(np.append(self.first, self._densities(slice(_FIRST_DRAWS, None))))

    def _densities(self, which: slice) -> FloatArray:
        asked = np.concatenate([features(looks[which]) for looks in self.drawn], axis=1)
        own = _sum_densities(asked, self.terms)
        return own - _sum_densities(asked, self.rivals) if self.rivals else own

    def p_value(self, observed: Sequence[tuple[FloatArray, FloatArray]]) -> float:
        """How ordinary looks are among those the model gives.

        Parameters
        ----------
        observed : sequence of (points, weights)
            Each look as CIELAB points (K, 3) with weights (K,) that sum to 1.

        Returns
        -------
        float
            Share of simulated sets whose score is no higher, between 1/(draws + 1) and 1. The
            first few sets settle it where the share is far above any at which looks are refused.
        """
        looks = [(features(points), share) for points, share in observed]
        seen = _log_seen(looks, self.terms)
        if self.rivals:
            seen -= _log_seen(looks, self.rivals)
        share = _share_no_higher(self.first, seen)
        return share if share > _PLAINLY_FITS else _share_no_higher(self.simulated, seen)


def _sum_densities(asked: SingleArray, terms: Sequence[SingleArray]) -> FloatArray:
    """Log of the summed density of the features of sets of looks (n, 10 looks) under random
    films: some sets under some films at a time, which stay in cache."""
    films = np.concatenate(terms)  # densities of looks multiply
    total = np.full(len(asked), -np.inf)
    spare = np.empty((_DRAWS_AT_A_TIME, _FILMS_AT_A_TIME), dtype=np.float32)
    for first in range(0, films.shape[1], _FILMS_AT_A_TIME):
        some = films[:, first : first + _FILMS_AT_A_TIME]
        for start in range(0, len(asked), _DRAWS_AT_A_TIME):
            rows = slice(start, start + _DRAWS_AT_A_TIME)
            block = spare[: len(asked[rows]), : some.shape[1]]
            np.matmul(asked[rows], some, out=block)
            total[rows] = np.logaddexp(total[rows], _log_sum(block))
    return total


def _log_seen(
    looks: Sequence[tuple[SingleArray, FloatArray]], terms: Sequence[SingleArray]
) -> float:
    """Log of the density of looks at one spot, by the features (K, 10) and weights of the points of
    each, summed over some random films."""
    if len(looks) == len(looks[0][0]) == 1:  # one point: its sum has a floor of its own
        return float(_log_sum(looks[0][0] @ terms[0])[0])
    each = [_log_mean(asked @ own, share) for own, (asked, share) in zip(terms, looks, strict=True)]
    return float(_log_sum(sum(each[1:], each[0])[None])[0])


def _share_no_higher(simulated: FloatArray, seen: float) -> float:
    rarer = np.searchsorted(simulated, seen, side="right")
    return float((1 + rarer) / (simulated.size + 1))


def simulate_fit_check(
    tables: Sequence[ColourTable],
    prior: Prior,
    rng: np.random.Generator,
    *,
    pairs: BoolArray | None = None,
) -> FitCheck:
    """Draw the films that stand for the prediction, and simulate looks at others.

    Parameters
    ----------
    tables : sequence of ColourTable
        One for each look at the spot; they share their grid.
    prior : Prior
    rng : numpy.random.Generator
    pairs : ndarray of bool, shape (J,), optional
        Those that films are drawn from, the others being their rivals; all by default.
    """
    whole = prior.row_weights(np.zeros(tables[0].lab.shape[:3]))
    asked = np.ones(len(whole), dtype=bool) if pairs is None else pairs
    weight = _weigh(whole, asked)
    centres = rng.choice(weight.size, size=_COMPONENTS, p=weight)
    truths = rng.choice(weight.size, size=_DRAWS, p=weight)
    terms, drawn = [], []
    for table in tables:
        views = table.view_weight.size
        terms.append(_terms_at(table, centres, rng))
        seen = rng.choice(views, size=_DRAWS, p=table.view_weight)
        drawn.append(table.draw(truths * views + seen, rng))
    if asked.all():
        return FitCheck(tuple(terms), tuple(drawn))
    others = _weigh(whole, ~asked)
    centres = rng.choice(others.size, size=_COMPONENTS, p=others)
    rivals = tuple(_terms_at(table, centres, rng) for table in tables)
    return FitCheck(tuple(terms), tuple(drawn), rivals)


def _weigh(whole: FloatArray, pairs: BoolArray) -> FloatArray:
    """Weights of the rows (J, E, D) of some pairs alone, flat, summing to 1."""
    own = whole * pairs[:, None, None]
    return np.asarray((own / own.sum()).ravel())


def _terms_at(table: ColourTable, rows: IndexArray, rng: np.random.Generator) -> SingleArray:
    """Coefficients (10, rows) of some rows, each in a view met by chance."""
    met = rng.choice(table.view_weight.size, size=rows.size, p=table.view_weight)
    return np.ascontiguousarray(table.coefficients_at(rows, met))


def _log_mean(log_density: SingleArray, share: FloatArray) -> SingleArray:
    """Log of the weighted mean over the points of a look; overwrites what it is given."""
    if len(share) == 1:
        alone: SingleArray = np.maximum(log_density[0], log_density.max() + _LOWEST)
        return alone
    return log_mean(log_density, share)


def _log_sum(log_density: SingleArray) -> FloatArray:
    """Log of the sum over the last axis; overwrites what it is given."""
    peak = log_density.max(axis=-1, keepdims=True)
    log_density -= peak
    np.maximum(log_density, np.full_like(log_density[:1], _LOWEST), out=log_density)
    weight = np.exp(log_density, out=log_density).sum(axis=-1)
    total: FloatArray = np.log(weight, dtype=float) + peak[:, 0]
    return total
