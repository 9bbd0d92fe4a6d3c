"""Several looks at one spot as one likelihood over data sets, index error and scale."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..errors import InputError
from ..films.engine.thickness_scan import View
from ..numerics.cache import cache_up_to
from .bands import Bands
from .colour_table import ColourTable, build_table, index_nodes, scale_grid
from .hypotheses import list_film_models
from .posterior import Prior
from .predictive_check import FitCheck, simulate_fit_check
from .reading import Reading
from .uncertainty import Uncertainty

_FLOOR = 1e-300
_MOST_BYTES = 150_000_000  # of tables kept for the next question, each way; a page has 4 workers


@lru_cache(maxsize=16)
def make_prior(
    films: tuple[str, ...], on: str, between_nm: tuple[float, float], index_spread: float
) -> Prior:
    """The prior for films in question, made once."""
    scale_nm, error = scale_grid(between_nm, index_spread), index_nodes(index_spread)
    return Prior(list_film_models(films, on), between_nm, index_spread, scale_nm, error)


@lru_cache(maxsize=8)
def make_fit_check(
    films: tuple[str, ...],
    on: str,
    looks: tuple[tuple[Uncertainty, View], ...],
    between_nm: tuple[float, float],
    viewing: ViewingConditions,
    seed: int,
) -> FitCheck:
    """The fit check for looks with these doubts, simulated once."""
    tables = [table_for(films, on, between_nm, doubts, viewing, view) for doubts, view in looks]
    prior = make_prior(films, on, between_nm, tables[0].doubts.index_spread)
    return simulate_fit_check(tables, prior, np.random.default_rng(seed))


def tables_for(
    films: tuple[str, ...],
    on: str,
    readings: Sequence[Reading],
    between_nm: tuple[float, float],
    viewing: ViewingConditions,
) -> list[ColourTable]:
    """One table for each reading; those that differ only in scatter share their colours."""
    spread = {reading.doubts.index_spread for reading in readings}
    if len(spread) > 1:
        raise InputError("all readings of one spot must assume the same index_spread")
    return [
        table_for(films, on, between_nm, reading.doubts, viewing, reading.view)
        for reading in readings
    ]


def reading_likelihood(table: ColourTable, reading: Reading) -> FloatArray:
    """Log likelihood of a reading in every row, shape (J, E, D)."""
    return table.log_mixture(reading.points_lab, reading.weight)


def single_reading_density(
    films: tuple[str, ...],
    on: str,
    between_nm: tuple[float, float],
    reading: Reading,
    viewing: ViewingConditions,
) -> tuple[Prior, FloatArray]:
    """The prior, and the posterior over thickness of each film (H, T) after one reading."""
    prior = make_prior(films, on, between_nm, reading.doubts.index_spread)
    if len(reading.weight) == 1:
        bands = _bands_for(films, on, between_nm, reading.doubts, viewing, reading.view)
        return prior, bands.film_density(reading.points_lab[0])
    table = table_for(films, on, between_nm, reading.doubts, viewing, reading.view)
    return prior, prior.film_density(reading_likelihood(table, reading)[None])[0][0]


def _keep_views(doubts: Uncertainty) -> Uncertainty:
    """Doubts reduced to what moves the mean colours, so that tables are shared."""
    return Uncertainty(
        noise_de=1.0,
        glare=doubts.glare,
        angle_low_deg=doubts.angle_low_deg,
        angle_high_deg=doubts.angle_high_deg,
        index_spread=doubts.index_spread,
    )


@cache_up_to(_MOST_BYTES)
def table_for(
    films: tuple[str, ...],
    on: str,
    between_nm: tuple[float, float],
    doubts: Uncertainty,
    viewing: ViewingConditions,
    view: View = "front",
) -> ColourTable:
    """The table for one kind of look, built once."""
    mean = _mean_table(films, on, between_nm, _keep_views(doubts), viewing, view)
    return mean.with_uncertainty(doubts)


@cache_up_to(_MOST_BYTES)
def _bands_for(
    films: tuple[str, ...],
    on: str,
    between_nm: tuple[float, float],
    doubts: Uncertainty,
    viewing: ViewingConditions,
    view: View,
) -> Bands:
    table = table_for(films, on, between_nm, doubts, viewing, view)
    return Bands.of(table, make_prior(films, on, between_nm, doubts.index_spread))


@cache_up_to(_MOST_BYTES)
def _mean_table(
    films: tuple[str, ...],
    on: str,
    between_nm: tuple[float, float],
    doubts: Uncertainty,
    viewing: ViewingConditions,
    view: View,
) -> ColourTable:
    return build_table(
        list_film_models(films, on), between_nm, doubts=doubts, viewing=viewing, view=view
    )


def earlier_likelihood(
    prior: Prior, spot: FloatArray, earlier: FloatArray
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
    once = np.exp(earlier - peak) * inside
    thinner = np.cumsum(once, axis=-1)
    count = np.maximum(np.cumsum(inside, axis=-1), 1)
    now = prior.row_weights(spot)
    share = thinner / np.maximum(thinner[..., -1:], _FLOOR)
    both = now * thinner[..., -1:]
    agreement = float((both * share).sum() / max(both.sum(), _FLOOR))
    return spot + np.log(np.maximum(thinner / count, _FLOOR)) + peak, agreement
