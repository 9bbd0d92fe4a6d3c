"""How thick is this film, from the colours somebody saw?"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..errors import InputError, OutOfRangeError
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..inference.colour_table import STEP_NM
from ..inference.likelihood import earlier_likelihood, fit_p_value, make_prior, tables_for
from ..inference.measured import (
    LightThrough,
    Measurement,
    hue_seen_log_chance,
    parse_light_share,
    parse_sheet_ohms,
)
from ..inference.next_look import NextLook, rank_next_looks
from ..inference.posterior import Prior
from ..inference.question import DEFAULT_BETWEEN_NM, FilmQuestion
from ..inference.reading import Reading, as_readings, parse_reading
from ..inference.simulate import SampledFilms
from ..numerics.integrate import trapezoid
from .candidates import dims_light, find_candidates, interval_and_region
from .result import Estimate

FIT_LEVEL = 0.01
"""Readings rarer than this among those the model gives are said not to fit."""

_CHECK_FILMS = 400
_INDEX_SPREAD = 0.025  # where nothing was looked at, as of any look


def gauge(
    film: str | Sequence[str],
    on: str,
    seen: str | Reading | Sequence[str | Reading] = (),
    *,
    through: str | Reading | Sequence[str | Reading] = (),
    ohms: str | None = None,
    before: str | Reading | Sequence[str | Reading] = (),
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> Estimate:
    """Thickness of a film from the colours seen at one spot.

    Parameters
    ----------
    film : str or sequence of str
        What the film may be, several separated by commas; each stands for its variants and data
        sets. ``oxide`` is what heat grows on the metal.
    on : str
        What it lies on.
    seen : str, Reading, or sequence of them
        Looks at the same spot, independent given the film.
    through : str, Reading, or sequence of them
        What is seen through the piece: a colour, an optical density such as ``OD 1.5``, a share
        of the light such as ``6%``, or ``opaque``, ``dim`` or ``clear``.
    ohms : str, optional
        Sheet resistance of a film that conducts, such as ``0.6ohm/sq``, or ``open``.
    before : str, Reading, or sequence of them
        Colours the spot had when its film was thinner, or that lie between the thin edge of the
        piece and the spot, from thin to thick.
    between_nm : tuple of float
        Range the thickness is known to lie in [nm]; uniform before the readings, but for the oxide
        of tempered steel and stainless, which is likelier thin.
    conditions : ViewingConditions or str, optional
        Light and observer, or the name of the light; D65 and 2° by default.
    seed : int
        Of the simulations for the fit check and the next look.

    Returns
    -------
    Estimate

    Raises
    ------
    InputError
        If nothing was read, or a name, range or uncertainty is refused.

    Examples
    --------
    >>> found = gauge("TiO2", on="Ti", seen="purple")
    >>> round(found.thickness_nm), found.candidates[0].order
    (37, 1)
    """
    question = FilmQuestion.of(film, on, between_nm=between_nm, conditions=conditions)
    colours, light = read_through(through)
    measured: list[Measurement] = [*light]
    if ohms is not None:
        measured.append(parse_sheet_ohms(ohms))
    readings, earlier = (*as_readings(seen), *colours), as_readings(before, "before")
    if not readings and not measured:
        raise InputError("give at least one colour seen, such as purple or #6a3fa0")
    if seed < 0:
        raise OutOfRangeError(f"the seed is {seed}; it must be 0 or more")
    if any(dims_light(pair.film) for pair in question.models):
        readings = tuple(reading.held_to_lamp() for reading in readings)
    return _estimate(question, readings, earlier, tuple(measured), seed)


def read_through(
    through: str | Reading | Sequence[str | Reading],
) -> tuple[tuple[Reading, ...], list[LightThrough]]:
    """Colours seen through the piece, and how much light comes through it."""
    several = [through] if isinstance(through, str | Reading) else list(through)
    shares = [parse_light_share(one) if isinstance(one, str) else None for one in several]
    colours = [one for one, share in zip(several, shares, strict=True) if share is None]
    looks = as_readings(
        [parse_reading(one, view="through") if isinstance(one, str) else one for one in colours],
        "through",
    )
    return looks, [share for share in shares if share is not None]


def _likelihood(
    question: FilmQuestion,
    prior: Prior,
    readings: Sequence[Reading],
    earlier: Sequence[Reading],
    measured: Sequence[Measurement],
) -> tuple[FloatArray, float, float]:
    """Log likelihood of all that was seen and measured (J, E, D), the agreement of the order of
    colours, and how well what was measured fits the rest."""
    looks = (*readings, *earlier)
    each = [
        table.log_mixture(reading.points_lab, reading.weight)
        for table, reading in zip(tables_for(question, looks), looks, strict=True)
    ]
    flat = np.zeros((len(prior.pairs), prior.index_error.size, prior.scale_nm.size))
    spot = sum(each[: len(readings)], flat)
    if any(reading.shows_hue for reading in readings):
        spot = spot + hue_seen_log_chance(question, prior)
    fit = 1.0
    for one in measured:
        fit = min(fit, _shared_fit(prior, spot, one.misfit(question, prior)))
        spot = spot + one.log_likelihood(question, prior)
    log_likelihood, agreement = _chain(prior, each[len(readings) :], spot)
    return log_likelihood, agreement, fit


def _shared_fit(prior: Prior, log_likelihood: FloatArray, misfit: FloatArray) -> float:
    """p-value of one thickness for what was held so far and for one measurement more.

    ``χ² = min(χ²_held + χ²_new) - min χ²_held``, one degree of freedom: what it costs to share the
    thickness (M. Maltoni and T. Schwetz, Phys. Rev. D 68, 033020 (2003)).
    """
    held = np.where(prior.in_range, -2.0 * (log_likelihood - log_likelihood.max()), np.inf)
    apart = float((held - held.min() + misfit).min())
    return math.erfc(math.sqrt(max(apart, 0.0) / 2.0))


def _chain(prior: Prior, earlier: list[FloatArray], spot: FloatArray) -> tuple[FloatArray, float]:
    """The spot's likelihood after the colours before it, and how well their order agrees."""
    if not earlier:
        return spot, 1.0
    before, worst = earlier[0], 1.0
    for later in (*earlier[1:], spot):
        before, agreement = earlier_likelihood(prior, later, before)
        worst = min(worst, agreement)
    return before, worst


def _estimate(
    question: FilmQuestion,
    readings: tuple[Reading, ...],
    earlier: tuple[Reading, ...],
    measured: tuple[Measurement, ...],
    seed: int,
) -> Estimate:
    looks = (*readings, *earlier)
    spread = looks[0].doubts.index_spread if looks else _INDEX_SPREAD
    prior = make_prior(question, spread)
    log_rows, agreement, shared_fit = _likelihood(question, prior, readings, earlier, measured)
    together = [readings, *([one] for one in earlier)]
    fit_ps = [fit_p_value(question, looked, seed) for looked in together if looked]
    film_density = prior.film_density(log_rows[None])[0][0]
    grid, density = prior.thickness_nm, film_density.sum(axis=0)
    row_weight = prior.row_weights(log_rows)
    optical = _optical(prior, row_weight)
    candidates = find_candidates(prior, film_density, question.conditions)
    interval, region = interval_and_region(grid, density, candidates)
    # The rarest of several looks is rarer than one: counted so often, it keeps its meaning.
    fit_p = min(1.0, max(1, len(fit_ps)) * min(fit_ps, default=1.0), shared_fit)
    fits = fit_p >= FIT_LEVEL and agreement >= FIT_LEVEL
    checks = _rank_looks(prior, row_weight, readings, question.conditions, seed) if fits else ()
    warnings = _warnings(looks, prior, agreement, shared_fit)
    return Estimate(
        thickness_nm=candidates[0].thickness_nm,
        interval90_nm=interval,
        region90_nm=region,
        optical_thickness_nm=optical[1],
        optical_interval90_nm=(optical[0], math.inf if math.isinf(interval[1]) else optical[2]),
        candidates=candidates,
        films=dict(zip(prior.film_names, trapezoid(film_density, grid).tolist(), strict=True)),
        fits=fits,
        fit_p=min(fit_p, agreement) if earlier else fit_p,
        next_check=_phrase_checks(checks, interval, fits),
        next_checks=tuple(checks),
        grid_nm=grid,
        density=density,
        seen=readings,
        before=earlier,
        measured=tuple(one.measured for one in measured),
        warnings=warnings + _find_foreign(earlier, fit_ps[bool(readings) :]),
        pairs=prior.pairs,
        between_nm=prior.between_nm,
        conditions=question.conditions,
        seed=seed,
    )


def _rank_looks(
    prior: Prior,
    row_weight: FloatArray,
    readings: Sequence[Reading],
    viewing: ViewingConditions,
    seed: int,
) -> Sequence[NextLook]:
    """Further looks, the most telling first; none where nothing was looked at yet."""
    if not readings:
        return ()
    rng = np.random.default_rng(seed)
    looks = [(reading.how, reading.view, reading.doubts) for reading in readings]
    films = _draw_films(prior, row_weight, rng)
    return rank_next_looks(films, prior.pairs, viewing=viewing, now=looks, rng=rng)


def _optical(prior: Prior, row_weight: FloatArray) -> tuple[float, float, float]:
    """5, 50 and 95 % points of index times thickness [nm], index at 550 nm."""
    values, order = prior.optical_nm
    cumulative = np.cumsum(row_weight.sum(axis=1).ravel()[order])
    low, middle, high = np.interp([0.05, 0.5, 0.95], cumulative, values)
    return float(low), float(middle), float(high)


def _draw_films(prior: Prior, row_weight: FloatArray, rng: np.random.Generator) -> SampledFilms:
    """Films drawn from the rows, spread evenly over each row's own width."""
    rows = rng.choice(row_weight.size, size=_CHECK_FILMS, p=row_weight.ravel())
    j, e, d = np.unravel_index(rows, row_weight.shape)
    error = prior.index_error[e]
    scale = prior.scale_nm[d] + STEP_NM * (rng.random(rows.size) - 0.5)
    return SampledFilms(j, np.maximum(scale / (1.0 + error), 0.0), error)


def _warnings(
    readings: tuple[Reading, ...], prior: Prior, agreement: float, shared_fit: float
) -> tuple[str, ...]:
    said = [warning for reading in readings for warning in reading.warnings]
    base = prior.pairs[0].base
    if base.slab_nm is None and not base.is_opaque(DEFAULT_WAVELENGTH_NM):
        said.append(
            f"{base.substrate.label} is taken without a back face; for a plate write its "
            f"thickness, as in 'glass 4mm'"
        )
    if prior.usual is not None:
        said.append(prior.usual.words)
    if agreement < FIT_LEVEL:
        said.append("the colours named as earlier are not those of a thinner film")
    if shared_fit < FIT_LEVEL:
        said.append("no thickness fits both what was measured and the rest")
    return tuple(dict.fromkeys(said))


def _find_foreign(earlier: tuple[Reading, ...], fit_ps: Sequence[float]) -> tuple[str, ...]:
    """Earlier colours that no film in question shows."""
    level = FIT_LEVEL / (1 + len(earlier))
    return tuple(
        f"no film in question shows the colour named as earlier, {reading.text}"
        for reading, p in zip(earlier, fit_ps, strict=True)
        if p < level
    )


def _phrase_checks(checks: Sequence[NextLook], interval_nm: tuple[float, float], fits: bool) -> str:
    width_nm = interval_nm[1] - interval_nm[0]
    if not fits:
        return (
            "first make sure of the reading and of what film and metal it is: none of those in "
            "question shows this colour"
        )
    if math.isinf(width_nm):
        return (
            "the film is opaque, so its colour tells no more; measure its sheet resistance or "
            "weigh the piece"
        )
    if not checks or checks[0].expected_width_nm > 0.9 * width_nm:
        return "no further look at the colour would tell much; measure the thickness another way"
    best = checks[0]
    return (
        f"{best.look}: the 90 % interval, {width_nm:.0f} nm wide now, would on average shrink to "
        f"{best.expected_width_nm:.0f} nm"
    )
