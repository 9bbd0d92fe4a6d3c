"""How thick is this film, from the colour somebody saw?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..colour.appearance import appear_xyz
from ..errors import InputError, OutOfRangeError
from .checks import Check, Films, film_xyz, next_looks
from .doubts import Doubts
from .hypotheses import Pair, film_pairs
from .order import interference_order
from .posterior import Prior, fit_p_value, prior_for
from .reading import Reading
from .summary import highest_region, humps, quantiles
from .table import STEP_NM, ColourTable, Viewing, build_table

FloatArray = NDArray[np.float64]

DEFAULT_BETWEEN_NM = (0.0, 250.0)
FIT_LEVEL = 0.01
"""Readings rarer than this among those the model gives are said not to fit."""

_CHECK_FILMS = 400


@dataclass(frozen=True)
class Candidate:
    """One thickness the reading allows.

    Attributes
    ----------
    thickness_nm : float
    interval90_nm : tuple of float
        Equal-tailed 90 % interval if this candidate is the right one [nm].
    probability : float
    order : int
        Interference order, 1 for the first sequence of colours.
    film : str
        The likeliest film hypothesis here.
    srgb_hex, name : str
        The colour such a film has, square on.
    """

    thickness_nm: float
    interval90_nm: tuple[float, float]
    probability: float
    order: int
    film: str
    srgb_hex: str
    name: str


@dataclass(frozen=True, eq=False)
class Estimate:
    """What is held about the thickness after the readings.

    Attributes
    ----------
    thickness_nm : float
        Middle of the likeliest candidate [nm].
    interval90_nm : tuple of float
        Equal-tailed 90 % interval over all candidates together [nm].
    region90_nm : list of tuple
        The shortest set of intervals holding 90 % [nm].
    optical_thickness_nm, optical_interval90_nm
        Thickness times index at 550 nm, known better than the thickness itself [nm].
    candidates : tuple of Candidate
        Likeliest first.
    films : dict
        Probability of each film hypothesis.
    fits : bool
        False when no film in question shows such a colour.
    fit_p : float
        Share of simulated readings at least as unusual.
    next_check : str
    checks : tuple of Check
    grid_nm, density : ndarray, shape (T,)
        Posterior density per nanometre.
    readings : tuple of Reading
    pairs : tuple of Pair
    between_nm : tuple of float
    viewing : Viewing
    seed : int
    """

    thickness_nm: float
    interval90_nm: tuple[float, float]
    region90_nm: list[tuple[float, float]]
    optical_thickness_nm: float
    optical_interval90_nm: tuple[float, float]
    candidates: tuple[Candidate, ...]
    films: dict[str, float]
    fits: bool
    fit_p: float
    next_check: str
    checks: tuple[Check, ...]
    grid_nm: FloatArray
    density: FloatArray
    readings: tuple[Reading, ...]
    pairs: tuple[Pair, ...]
    between_nm: tuple[float, float]
    viewing: Viewing
    seed: int


def gauge(
    films: Sequence[str],
    on: str,
    readings: Sequence[Reading],
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    viewing: Viewing | None = None,
    seed: int = 1,
) -> Estimate:
    """Thickness of a film from the colours seen at one spot.

    Parameters
    ----------
    films : sequence of str
        What the film may be; each stands for its variants and data sets.
    on : str
        What it lies on.
    readings : sequence of Reading
        Looks at the same spot, independent given the film.
    between_nm : tuple of float
        Range the thickness is known to lie in [nm]; uniform before the readings.
    viewing : Viewing, optional
        Light and observer; D65 and 2° by default.
    seed : int
        Of the simulations for the fit check and the next look.

    Returns
    -------
    Estimate

    Raises
    ------
    InputError
        If nothing was read, or a name, range or doubt is refused.
    """
    if not readings:
        raise InputError("give at least one colour seen, such as purple or #6a3fa0")
    if seed < 0:
        raise OutOfRangeError(f"the seed is {seed}; it must be 0 or more")
    viewing = viewing or Viewing()
    pairs = film_pairs(tuple(films), on)
    tables = tables_for(tuple(films), on, readings, between_nm, viewing)
    prior = prior_for(pairs, between_nm, tables[0])
    log_likelihood = sum(
        reading_likelihood(table, reading) for table, reading in zip(tables, readings, strict=True)
    )
    density, _ = prior.film_density(np.asarray(log_likelihood)[None])
    return _estimate(
        prior, density[0], np.asarray(log_likelihood), tables, tuple(readings), viewing, seed
    )


def tables_for(
    films: tuple[str, ...],
    on: str,
    readings: Sequence[Reading],
    between_nm: tuple[float, float],
    viewing: Viewing,
) -> list[ColourTable]:
    """One table for each reading; those that differ only in scatter share their colours."""
    spread = {reading.doubts.index_spread for reading in readings}
    if len(spread) > 1:
        raise InputError("all readings of one spot must assume the same index_spread")
    return [
        _mean_table(films, on, between_nm, _views_only(reading.doubts), viewing).with_doubts(
            reading.doubts
        )
        for reading in readings
    ]


def reading_likelihood(table: ColourTable, reading: Reading) -> FloatArray:
    """Log likelihood of a reading in every row, shape (J, E, D)."""
    each = table.log_likelihood(reading.points_lab)
    peak = each.max()
    mean = np.tensordot(reading.weight, np.exp(each - peak), axes=1)
    total: FloatArray = np.log(np.maximum(mean, 1e-300)) + peak
    return total


def _views_only(doubts: Doubts) -> Doubts:
    """Doubts reduced to what moves the mean colours, so that tables are shared."""
    return Doubts(
        noise_de=1.0,
        glare=doubts.glare,
        angle_low_deg=doubts.angle_low_deg,
        angle_high_deg=doubts.angle_high_deg,
        index_spread=doubts.index_spread,
    )


@lru_cache(maxsize=6)
def _mean_table(
    films: tuple[str, ...],
    on: str,
    between_nm: tuple[float, float],
    doubts: Doubts,
    viewing: Viewing,
) -> ColourTable:
    return build_table(film_pairs(films, on), between_nm, doubts, viewing)


def _estimate(
    prior: Prior,
    density: FloatArray,
    log_likelihood: FloatArray,
    tables: list[ColourTable],
    readings: tuple[Reading, ...],
    viewing: Viewing,
    seed: int,
) -> Estimate:
    rng = np.random.default_rng(seed)
    grid, whole = prior.thickness_nm, density.sum(axis=0)
    low, high = quantiles(grid, whole, np.array([0.05, 0.95]))
    row_weight = prior.row_weights(log_likelihood)
    optical = _optical(prior, row_weight)
    candidates = _candidates(prior, density, viewing)
    fit_p = fit_p_value(tables, [(r.points_lab, r.weight) for r in readings], prior, rng)
    checks = next_looks(
        _drawn(prior, row_weight, rng),
        prior.pairs,
        viewing,
        [(reading.how, reading.doubts) for reading in readings],
        rng,
    )
    return Estimate(
        thickness_nm=candidates[0].thickness_nm,
        interval90_nm=(float(low), float(high)),
        region90_nm=highest_region(grid, whole),
        optical_thickness_nm=optical[1],
        optical_interval90_nm=(optical[0], optical[2]),
        candidates=candidates,
        films={
            name: float(np.trapezoid(own, grid))
            for name, own in zip(prior.film_names, density, strict=True)
        },
        fits=fit_p >= FIT_LEVEL,
        fit_p=fit_p,
        next_check=_in_words(checks, float(high - low), fit_p >= FIT_LEVEL),
        checks=tuple(checks),
        grid_nm=grid,
        density=whole,
        readings=readings,
        pairs=prior.pairs,
        between_nm=prior.between_nm,
        viewing=viewing,
        seed=seed,
    )


def _candidates(prior: Prior, density: FloatArray, viewing: Viewing) -> tuple[Candidate, ...]:
    grid = prior.thickness_nm
    found = humps(grid, density.sum(axis=0))
    likely = []
    for hump in found:
        inside = (grid >= hump.low_nm) & (grid <= hump.high_nm)
        film = prior.film_names[int(np.argmax(density[:, inside].sum(axis=1)))]
        likely.append(next(j for j, p in enumerate(prior.pairs) if p.film_name == film))
    middles = np.array([hump.thickness_nm for hump in found])
    shown = Films(np.array(likely), middles, np.zeros(len(found)))
    xyz = film_xyz(shown, prior.pairs, np.asarray(0.0), viewing)
    look = appear_xyz(xyz, viewing.light, viewing.observer)
    colours = zip(look.srgb_hex, look.name, strict=True)
    return tuple(
        Candidate(
            thickness_nm=hump.thickness_nm,
            interval90_nm=hump.interval90_nm,
            probability=hump.probability,
            order=interference_order(prior.pairs[j], hump.thickness_nm),
            film=prior.pairs[j].film_name,
            srgb_hex=hex_value,
            name=name,
        )
        for hump, j, (hex_value, name) in zip(found, likely, colours, strict=True)
    )


def ramp_of(
    estimate: Estimate,
) -> tuple[FloatArray, NDArray[np.str_], NDArray[np.str_]]:
    """Thickness [nm], hex and name of the colours the likeliest film runs through, square on."""
    likeliest = estimate.candidates[0].film
    j = next(i for i, pair in enumerate(estimate.pairs) if pair.film_name == likeliest)
    nm = np.arange(estimate.between_nm[0], estimate.between_nm[1] + 0.5)
    films = Films(np.full(nm.size, j), nm, np.zeros(nm.size))
    xyz = film_xyz(films, estimate.pairs, np.asarray(0.0), estimate.viewing)
    seen = appear_xyz(xyz, estimate.viewing.light, estimate.viewing.observer)
    return nm, np.asarray(seen.srgb_hex), np.asarray(seen.name)


def _optical(prior: Prior, row_weight: FloatArray) -> tuple[float, float, float]:
    """5, 50 and 95 % points of index times thickness [nm], index at 550 nm."""
    index = np.array([pair.film.nk(550.0).real for pair in prior.pairs])
    values = (index[:, None] * prior.scale_nm).ravel()
    order = np.argsort(values)
    cumulative = np.cumsum(row_weight.sum(axis=1).ravel()[order])
    low, middle, high = np.interp([0.05, 0.5, 0.95], cumulative, values[order])
    return float(low), float(middle), float(high)


def _drawn(prior: Prior, row_weight: FloatArray, rng: np.random.Generator) -> Films:
    """Films drawn from the rows, spread evenly over each row's own width."""
    rows = rng.choice(row_weight.size, size=_CHECK_FILMS, p=row_weight.ravel())
    j, e, d = np.unravel_index(rows, row_weight.shape)
    error = prior.index_error[e]
    scale = prior.scale_nm[d] + STEP_NM * (rng.random(rows.size) - 0.5)
    return Films(j, np.maximum(scale / (1.0 + error), 0.0), error)


def _in_words(checks: list[Check], width_nm: float, fits: bool) -> str:
    if not fits:
        return (
            "first make sure of the reading and of what film and metal it is: none of those in "
            "question shows this colour"
        )
    if not checks or checks[0].width_nm > 0.9 * width_nm:
        return "no further look at the colour would tell much; measure the thickness another way"
    best = checks[0]
    return (
        f"{best.words}: the 90 % interval, {width_nm:.0f} nm wide now, would on average come down "
        f"to {best.width_nm:.0f} nm"
    )
