"""How thick is this film, from the colours somebody saw?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .._typing import FloatArray
from ..colour.colour import xyz_to_colour
from ..colour.conditions import ViewingConditions
from ..errors import InputError, OutOfRangeError
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..inference.colour_table import STEP_NM
from ..inference.likelihood import earlier_likelihood, fit_p_value, make_prior, tables_for
from ..inference.next_look import NextLook, rank_next_looks
from ..inference.order import interference_order
from ..inference.posterior import Prior
from ..inference.question import DEFAULT_BETWEEN_NM, FilmQuestion
from ..inference.reading import Reading, as_readings
from ..inference.simulate import SampledFilms, normal_incidence_xyz
from ..numerics.density import find_density_modes, highest_region, quantiles
from ..numerics.integrate import trapezoid
from .result import Candidate, Estimate

FIT_LEVEL = 0.01
"""Readings rarer than this among those the model gives are said not to fit."""

_CHECK_FILMS = 400


def gauge(
    film: str | Sequence[str],
    on: str,
    seen: str | Reading | Sequence[str | Reading],
    *,
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
        sets.
    on : str
        What it lies on.
    seen : str, Reading, or sequence of them
        Looks at the same spot, independent given the film.
    before : str, Reading, or sequence of them
        Colours the spot had when its film was thinner, or that lie between the thin edge of the
        piece and the spot, from thin to thick.
    between_nm : tuple of float
        Range the thickness is known to lie in [nm]; uniform before the readings.
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
    readings, earlier = as_readings(seen), as_readings(before, "before")
    if not readings:
        raise InputError("give at least one colour seen, such as purple or #6a3fa0")
    if seed < 0:
        raise OutOfRangeError(f"the seed is {seed}; it must be 0 or more")
    looks = (*readings, *earlier)
    each = [
        table.log_mixture(reading.points_lab, reading.weight)
        for table, reading in zip(tables_for(question, looks), looks, strict=True)
    ]
    spot = np.sum(each[: len(readings)], axis=0)
    fits = [
        fit_p_value(question, together, seed)
        for together in (readings, *([one] for one in earlier))
    ]
    prior = make_prior(question, looks[0].doubts.index_spread)
    log_likelihood, agreement = _chain(prior, each[len(readings) :], spot)
    return _estimate(
        prior,
        log_likelihood,
        readings,
        earlier,
        viewing=question.conditions,
        seed=seed,
        fit_ps=fits,
        agreement=agreement,
    )


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
    prior: Prior,
    log_likelihood: FloatArray,
    readings: tuple[Reading, ...],
    earlier: tuple[Reading, ...],
    *,
    viewing: ViewingConditions,
    seed: int,
    fit_ps: Sequence[float],
    agreement: float,
) -> Estimate:
    rng = np.random.default_rng(seed)
    film_density, _ = prior.film_density(log_likelihood[None])
    grid, density = prior.thickness_nm, film_density[0].sum(axis=0)
    low, high = (float(q) for q in quantiles(grid, density, np.array([0.05, 0.95])))
    row_weight = prior.row_weights(log_likelihood)
    optical = _optical(prior, row_weight)
    candidates = find_candidates(prior, film_density[0], viewing)
    # The rarest of several looks is rarer than one: counted so often, it keeps its meaning.
    fit_p = min(1.0, len(fit_ps) * min(fit_ps))
    fits = fit_p >= FIT_LEVEL and agreement >= FIT_LEVEL
    looks = [(reading.how, reading.view, reading.doubts) for reading in readings]
    films = _draw_films(prior, row_weight, rng)
    checks = (
        rank_next_looks(films, prior.pairs, viewing=viewing, now=looks, rng=rng) if fits else []
    )
    return Estimate(
        thickness_nm=candidates[0].thickness_nm,
        interval90_nm=(low, high),
        region90_nm=highest_region(grid, density),
        optical_thickness_nm=optical[1],
        optical_interval90_nm=(optical[0], optical[2]),
        candidates=candidates,
        films={
            name: float(trapezoid(own, grid))
            for name, own in zip(prior.film_names, film_density[0], strict=True)
        },
        fits=fits,
        fit_p=min(fit_p, agreement) if earlier else fit_p,
        next_check=_phrase_checks(checks, high - low, fits),
        next_checks=tuple(checks),
        grid_nm=grid,
        density=density,
        seen=readings,
        before=earlier,
        warnings=_warnings(readings, prior, agreement) + _find_foreign(earlier, fit_ps[1:]),
        pairs=prior.pairs,
        between_nm=prior.between_nm,
        conditions=viewing,
        seed=seed,
    )


def find_candidates(
    prior: Prior, film_density: FloatArray, viewing: ViewingConditions
) -> tuple[Candidate, ...]:
    """The modes of a density (H, T) with their likeliest film, order and colour."""
    grid = prior.thickness_nm
    found = find_density_modes(grid, film_density.sum(axis=0))
    likely = []
    for mode in found:
        inside = (grid >= mode.low_nm) & (grid <= mode.high_nm)
        film = prior.film_names[int(np.argmax(film_density[:, inside].sum(axis=1)))]
        likely.append(next(j for j, p in enumerate(prior.pairs) if p.film_name == film))
    middles = np.array([mode.thickness_nm for mode in found])
    shown = SampledFilms(np.array(likely), middles, np.zeros(len(found)))
    xyz = normal_incidence_xyz(shown, prior.pairs, viewing)
    colours = zip(*hex_and_name(xyz, viewing), strict=True)
    return tuple(
        Candidate(
            thickness_nm=mode.thickness_nm,
            interval90_nm=mode.interval90_nm,
            probability=mode.probability,
            order=interference_order(prior.pairs[j], mode.thickness_nm),
            film=prior.pairs[j].film_name,
            srgb_hex=str(hex_value),
            name=str(name),
        )
        for mode, j, (hex_value, name) in zip(found, likely, colours, strict=True)
    )


def hex_and_name(
    xyz: FloatArray, viewing: ViewingConditions
) -> tuple[NDArray[np.str_], NDArray[np.str_]]:
    """sRGB hex and name in words of colours (K, 3)."""
    look = xyz_to_colour(xyz, viewing.light, viewing.observer)
    return np.asarray(look.srgb_hex), np.asarray(look.name)


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


def _warnings(readings: tuple[Reading, ...], prior: Prior, agreement: float) -> tuple[str, ...]:
    said = [warning for reading in readings for warning in reading.warnings]
    base = prior.pairs[0].base
    if base.slab_nm is None and not base.is_opaque(DEFAULT_WAVELENGTH_NM):
        said.append(
            f"{base.substrate.label} is taken without a back face; for a plate write its "
            f"thickness, as in 'glass 4mm'"
        )
    if agreement < FIT_LEVEL:
        said.append("the colours named as earlier are not those of a thinner film")
    return tuple(dict.fromkeys(said))


def _find_foreign(earlier: tuple[Reading, ...], fit_ps: Sequence[float]) -> tuple[str, ...]:
    """Earlier colours that no film in question shows."""
    level = FIT_LEVEL / (1 + len(earlier))
    return tuple(
        f"no film in question shows the colour named as earlier, {reading.text}"
        for reading, p in zip(earlier, fit_ps, strict=True)
        if p < level
    )


def _phrase_checks(checks: list[NextLook], width_nm: float, fits: bool) -> str:
    if not fits:
        return (
            "first make sure of the reading and of what film and metal it is: none of those in "
            "question shows this colour"
        )
    if not checks or checks[0].expected_width_nm > 0.9 * width_nm:
        return "no further look at the colour would tell much; measure the thickness another way"
    best = checks[0]
    return (
        f"{best.look}: the 90 % interval, {width_nm:.0f} nm wide now, would on average shrink to "
        f"{best.expected_width_nm:.0f} nm"
    )
