"""Several looks at one spot as one likelihood over data sets, index error and scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from .._typing import FloatArray, RealArray
from ..errors import InputError
from ..films.engine.thickness_scan import View
from ..numerics.cache import cache_up_to
from .binned import BinnedTable, build_binned_table
from .colour_table import ColourTable, build_table
from .posterior import Prior
from .predictive_check import FitCheck, simulate_fit_check
from .question import FilmQuestion
from .reading import Reading
from .uncertainty import Uncertainty

_FLOOR = 1e-300
Seen = tuple[bytes, bytes]  # the points of a reading and their weights, as something hashable
_MOST_BYTES = 150_000_000  # of tables kept for the next question, each way; a page has 4 workers


@lru_cache(maxsize=16)
def make_prior(question: FilmQuestion, index_spread: float) -> Prior:
    """The prior for films in question, made once."""
    return Prior.of(question.hypotheses, question.between_nm, index_spread, usual=question.usual)


@lru_cache(maxsize=12)
def make_fit_check(
    question: FilmQuestion,
    looks: tuple[tuple[Uncertainty, View], ...],
    seed: int,
    *,
    faultless: bool = False,
) -> FitCheck:
    """The fit check for looks with these doubts, simulated once; of all films in question, or of
    those without a fault."""
    tables = [table_for(question, doubts, view) for doubts, view in looks]
    prior = make_prior(question, looks[0][0].index_spread)
    pairs = prior.faultless if faultless else None
    return simulate_fit_check(tables, prior, np.random.default_rng(seed), pairs=pairs)


def fit_p_value(
    question: FilmQuestion, readings: Sequence[Reading], seed: int, *, faultless: bool = False
) -> float:
    """How ordinary looks at one spot at one time are among those the model gives: all that is in
    question, or films without a fault."""
    looks = tuple((reading.doubts, reading.view) for reading in readings)
    if faultless and make_prior(question, looks[0][0].index_spread).faultless.all():
        faultless = False  # the same films
    seen = tuple(_bytes_of(one) for one in readings)
    return _fit_p_value(question, looks, seed, faultless, seen)


@lru_cache(maxsize=256)
def _fit_p_value(
    question: FilmQuestion,
    looks: tuple[tuple[Uncertainty, View], ...],
    seed: int,
    faultless: bool,
    seen: tuple[Seen, ...],
) -> float:
    check = make_fit_check(question, looks, seed, faultless=faultless)
    return check.p_value([_points_of(one) for one in seen])


def tables_for(question: FilmQuestion, readings: Sequence[Reading]) -> list[ColourTable]:
    """One table for each reading; those that differ only in scatter share their colours."""
    if len({reading.doubts.index_spread for reading in readings}) > 1:
        raise InputError("all readings of one spot must assume the same index_spread")
    return [table_for(question, reading.doubts, reading.view) for reading in readings]


def reading_likelihood(question: FilmQuestion, readings: Sequence[Reading]) -> list[RealArray]:
    """Log likelihood of each reading in every row of the tables, shapes (J, E, D); of several,
    which are to be added up, in 64 bits."""
    each = zip(tables_for(question, readings), readings, strict=True)
    found = [
        table.log_mixture(one.points_lab, one.weight)
        if len(one.weight) == 1
        else _word_likelihood(question, one.doubts, one.view, _bytes_of(one))
        for table, one in each
    ]
    return found if len(found) == 1 else [one.astype(float, copy=False) for one in found]


def _bytes_of(reading: Reading) -> Seen:
    return reading.points_lab.tobytes(), reading.weight.tobytes()


def _points_of(seen: Seen) -> tuple[FloatArray, FloatArray]:
    points, weight = (np.frombuffer(one) for one in seen)
    return points.reshape(-1, 3), weight


@cache_up_to(_MOST_BYTES // 5)
def _word_likelihood(
    question: FilmQuestion, doubts: Uncertainty, view: View, seen: Seen
) -> RealArray:
    """Of a word, whose many points are gone through once: words come again and again."""
    found = table_for(question, doubts, view).log_word(*_points_of(seen))
    found.flags.writeable = False
    return found


def single_reading_density(question: FilmQuestion, reading: Reading) -> tuple[Prior, FloatArray]:
    """The prior, and the posterior over thickness of each film (H, T) after one reading."""
    prior = make_prior(question, reading.doubts.index_spread)
    (log_likelihood,) = reading_likelihood(question, [reading])
    return prior, prior.density_of(prior.weigh_rows(log_likelihood))[0]


@cache_up_to(_MOST_BYTES)
def table_for(question: FilmQuestion, doubts: Uncertainty, view: View = "front") -> ColourTable:
    """The table for one kind of look, built once."""
    # Reduced to what moves the mean colours, so that looks that differ in scatter share them.
    still = replace(doubts, noise_de=1.0, discrepancy_de=0.0, gain=0.0, white_balance_de=0.0)
    return _mean_table(question, still, view).with_uncertainty(doubts)


@cache_up_to(_MOST_BYTES)
def binned_table_for(
    question: FilmQuestion,
    doubts: Uncertainty,
    *,
    view: View = "front",
    seed: int = 1,
    plain: bool = True,
) -> BinnedTable:
    """The table for many readings of one kind, built once."""
    prior = make_prior(question, doubts.index_spread)
    return build_binned_table(table_for(question, doubts, view), prior, seed, plain=plain)


@cache_up_to(_MOST_BYTES)
def _mean_table(question: FilmQuestion, doubts: Uncertainty, view: View) -> ColourTable:
    return build_table(
        question.hypotheses,
        question.between_nm,
        doubts=doubts,
        viewing=question.conditions,
        view=view,
    )


def earlier_likelihood(
    prior: Prior, spot: RealArray, earlier: RealArray
) -> tuple[FloatArray, float]:
    """Likelihood of a spot that was once thinner and then showed another colour.

    Parameters
    ----------
    prior : Prior
    spot, earlier : ndarray, shape (J, E, D)
        Log likelihoods of what is seen now and of what was seen when the film was thinner, or
        at a place nearer its thin edge.

    Returns
    -------
    log_likelihood : ndarray, shape (J, E, D)
        The earlier thickness is taken as uniform from the lower end of the range to the present.
    agreement : float
        Probability that the order is as stated had nothing been said of it; near 0 the two
        colours contradict it.
    """
    inside = prior.in_range
    peak = earlier.max()
    once = np.exp(np.subtract(earlier, peak, dtype=float)) * inside
    thinner = np.cumsum(once, axis=-1)
    count = np.maximum(np.cumsum(inside, axis=-1), 1)
    now = prior.row_weights(spot)
    share = thinner / np.maximum(thinner[..., -1:], _FLOOR)
    both = now * thinner[..., -1:]
    agreement = float((both * share).sum() / max(both.sum(), _FLOOR))
    return spot + np.log(np.maximum(thinner / count, _FLOOR)) + peak, agreement
