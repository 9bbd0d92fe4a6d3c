"""What came out of a heat: its likelihood over the thickness of the oxide, and how usual it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import FloatArray, IndexArray
from ..colour.conditions import ViewingConditions
from ..errors import InputError, OutOfRangeError
from ..inference.colour_table import STEP_NM, ColourTable
from ..inference.hypotheses import list_film_models
from ..inference.likelihood import make_prior, single_reading_density, table_for
from ..inference.question import FilmQuestion
from ..inference.reading import Reading
from ..oxidation.calibration import Coupon, LawDraws
from ..oxidation.metals import Metal
from ..oxidation.schedule import HeatSchedule

_LEAST_SD_NM, _SD_SHARE = 2.0, 0.05
_OUTCOMES = 199
_FLOOR = 1e-300


def film_share(metal: Metal) -> tuple[tuple[str, ...], FloatArray]:
    """Names of the film hypotheses of a metal, and their prior weights (H,), which sum to 1."""
    pairs = list_film_models(metal.films, metal.on)
    names = tuple(dict.fromkeys(pair.film_name for pair in pairs))
    share = [sum(pair.weight for pair in pairs if pair.film_name == name) for name in names]
    return names, np.array(share)


def piece_from_colour(
    metal: Metal, heat: HeatSchedule, reading: Reading, *, viewing: ViewingConditions, kiln: int = 0
) -> Coupon:
    """A test piece whose colour was seen.

    The index error is left out here, for all pieces of one metal share it.

    Raises
    ------
    InputError
        If the metal's colours are not known well enough.
    """
    scale_nm, likelihood = colour_likelihood(metal, reading, viewing=viewing, most_nm=metal.most_nm)
    return Coupon(heat, scale_nm, likelihood, kiln)


def colour_likelihood(
    metal: Metal, reading: Reading, *, viewing: ViewingConditions, most_nm: float
) -> tuple[FloatArray, FloatArray]:
    """Optical scale (D,) [nm] and likelihood (H, D) of a colour seen, for each film; errors as in
    `piece_from_colour`."""
    if not metal.colour:
        raise InputError(
            f"no colour of oxide on {metal.name} can be computed; give thickness_nm in its place"
        )
    prior, density = single_reading_density(
        FilmQuestion(metal.films, metal.on, (0.0, most_nm), viewing), _without_index_error(reading)
    )
    _, share = film_share(metal)
    return prior.thickness_nm, density / share[:, None]


def _question(metal: Metal, viewing: ViewingConditions) -> FilmQuestion:
    return FilmQuestion(metal.films, metal.on, (0.0, metal.most_nm), viewing)


def _without_index_error(reading: Reading) -> Reading:
    return replace(reading, doubts=replace(reading.doubts, index_spread=0.0))


def piece_from_thickness(
    metal: Metal,
    heat: HeatSchedule,
    thickness_nm: float,
    *,
    sd_nm: float | None = None,
    kiln: int = 0,
) -> Coupon:
    """A test piece whose oxide was measured; 5 % or 2 nm where no doubt is stated.

    Raises
    ------
    OutOfRangeError
        If thickness or doubt is out of reach.
    """
    scale_nm, likelihood = thickness_likelihood(
        metal, thickness_nm, sd_nm=sd_nm, most_nm=metal.most_nm
    )
    return Coupon(heat, scale_nm, likelihood, kiln, optical=False)


def piece_from_curve(
    metal: Metal,
    heat: HeatSchedule,
    curve: tuple[FloatArray, FloatArray],
    *,
    kiln: int = 0,
) -> Coupon:
    """A test piece of whose oxide the likelihood is known at each thickness [nm], (D,) both."""
    nm, likelihood = curve
    return Coupon(
        heat, nm, np.tile(likelihood, (len(film_share(metal)[0]), 1)), kiln, optical=False
    )


def thickness_likelihood(
    metal: Metal, thickness_nm: float, *, sd_nm: float | None, most_nm: float
) -> tuple[FloatArray, FloatArray]:
    """Thickness (D,) [nm] and likelihood (H, D) of one measured; errors as in
    `piece_from_thickness`."""
    sd = _sd_of(thickness_nm, sd_nm)
    if not 0.0 <= thickness_nm <= most_nm:
        raise OutOfRangeError(
            f"a thickness of {thickness_nm:g} nm is not between 0 and {most_nm:g} nm, "
            f"as far as {metal.name} is followed"
        )
    if not 0.1 <= sd <= most_nm:
        raise OutOfRangeError(f"a doubt of {sd:g} nm is not from 0.1 nm up")
    grid = np.arange(0.0, most_nm + STEP_NM / 2.0, STEP_NM)
    curve = np.exp(-0.5 * ((grid - thickness_nm) / sd) ** 2)
    return grid, np.tile(curve, (len(film_share(metal)[0]), 1))


def likelihood_at(
    scale_nm: FloatArray, likelihood: FloatArray, *, film: IndexArray, at_nm: FloatArray
) -> FloatArray:
    """Likelihood (N,) of a piece (H, D) for films (N,) of one hypothesis each, at places (N,) of
    the scale."""
    each = np.array([np.interp(at_nm, scale_nm, row, right=0.0) for row in likelihood])
    picked: FloatArray = each[film, np.arange(at_nm.size)]
    return picked


def weighted_median(values: FloatArray, weight: FloatArray) -> float:
    """The value with half of the weight below it."""
    order = np.argsort(values)
    share = np.cumsum(weight[order])
    return float(np.interp(0.5 * share[-1], share, values[order]))


def _sd_of(thickness_nm: float, sd_nm: float | None) -> float:
    return max(_LEAST_SD_NM, _SD_SHARE * thickness_nm) if sd_nm is None else sd_nm


def colour_p(
    metal: Metal,
    reading: Reading,
    predicted_nm: FloatArray,
    *,
    viewing: ViewingConditions,
    draws: LawDraws,
    rng: np.random.Generator,
) -> float:
    """Share of simulated colours at least as unusual as the one seen, 1/200 to 1.

    The density of the colour under the films (N,) that the law predicts is compared with that of
    colours simulated from them; a word counts as the mean over its region.
    """
    question = _question(metal, viewing)
    table = table_for(question, _without_index_error(reading).doubts, reading.view)
    names = make_prior(question, 0.0).film_names
    weight = _row_weight(metal, table, names, draws=draws, thickness_nm=predicted_nm)
    views = table.view_weight.size
    rows = rng.choice(weight.size, size=_OUTCOMES, p=weight)
    seen = rng.choice(views, size=_OUTCOMES, p=table.view_weight)
    simulated = table.draw(rows * views + seen, rng)
    density = _log_density(table, weight, np.concatenate([simulated, reading.points_lab]))
    own = density[_OUTCOMES:]
    observed = float(np.log(reading.weight @ np.exp(own - own.max())) + own.max())
    return float((1 + np.sum(density[:_OUTCOMES] <= observed)) / (_OUTCOMES + 1))


def thickness_p(
    measured_nm: float,
    predicted_nm: FloatArray,
    *,
    sd_nm: float | None,
    rng: np.random.Generator,
) -> float:
    """Share of simulated measurements at least as far from the middle as the one made."""
    noise = _sd_of(measured_nm, sd_nm) * rng.standard_normal(predicted_nm.size)
    drawn = np.log(np.maximum(predicted_nm + noise, 0.1))
    middle = np.median(drawn)
    far = np.abs(drawn - middle) >= abs(np.log(max(measured_nm, 0.1)) - middle)
    return float((1 + far.sum()) / (far.size + 1))


def _row_weight(
    metal: Metal,
    table: ColourTable,
    film_names: tuple[str, ...],
    *,
    draws: LawDraws,
    thickness_nm: FloatArray,
) -> FloatArray:
    """Share of each row of the table (J D,) among the films predicted."""
    pairs = list_film_models(metal.films, metal.on)
    _, share = film_share(metal)
    place = thickness_nm * (1.0 + draws.index_error) / STEP_NM - table.scale_nm[0] / STEP_NM
    column = np.clip(place.round().astype(np.intp), 0, table.scale_nm.size - 1)
    weight = np.zeros((len(pairs), table.scale_nm.size))
    for h, name in enumerate(film_names):
        counts = np.bincount(column[draws.film == h], minlength=table.scale_nm.size)
        for j, pair in enumerate(pairs):
            if pair.film_name == name:
                weight[j] = counts * pair.weight / share[h]
    flat: FloatArray = weight.ravel() / weight.sum()
    return flat


def _log_density(table: ColourTable, weight: FloatArray, readings: FloatArray) -> FloatArray:
    """Log density (N,) of readings under weighted rows; scales of no weight are left out."""
    by_scale = weight.reshape(len(table.lab), -1)
    met = np.flatnonzero(by_scale.any(axis=0))
    each = table.at_scales(met).log_likelihood(readings).reshape(len(readings), -1)
    weight = by_scale[:, met].ravel()
    likely = weight > 0.0
    peak = each[:, likely].max(axis=1, keepdims=True)
    total = np.exp(each[:, likely] - peak) @ weight[likely]
    return np.asarray(np.log(np.maximum(total, _FLOOR)) + peak[:, 0])
