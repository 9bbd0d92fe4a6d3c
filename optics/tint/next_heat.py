"""The test piece worth running next: the heat whose outcome would narrow the law most."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..inference.colour_table import ColourTable, view_nodes
from ..inference.reading import Reading
from ..inference.simulate import seen_lab
from ..inference.uncertainty import DEFAULTS, Uncertainty
from ..numerics.parallel import child_rng, map_parallel, rng_root
from ..oxidation.calibration import LawDraws
from ..oxidation.regime import grow
from ..oxidation.schedule import HeatSchedule, format_time, hold
from .kiln import Kiln
from .shades import palette_for

_WORLDS = 160
_SHARES = (0.1, 0.3, 0.5, 0.7, 0.9)  # of the law's range
_TIMES_MIN = (10.0, 30.0, 90.0)
_THICKNESS_SD = 0.05


@dataclass(frozen=True)
class NextHeat:
    """A heat to run next.

    Attributes
    ----------
    temperature_C, time_min : float
    spread_now, spread_then : float
        Relative standard deviation of the predicted thickness over the range of heats, now and
        as it is to be expected after the piece.
    words : str
    """

    temperature_C: float
    time_min: float
    spread_now: float
    spread_then: float
    words: str


def next_heat(
    kiln: Kiln,
    reading: Reading | None,
    viewing: ViewingConditions,
    rng: np.random.Generator,
) -> NextHeat:
    """The most telling of a grid of heats, if the next outcome is read like the last one.

    Parameters
    ----------
    kiln : Kiln
    reading : Reading or None
        The last colour read, for its doubts; None where thicknesses are measured.

    Notes
    -----
    Worlds drawn from what is held are each taken as the truth in turn: an outcome is simulated,
    the others are weighed by it, and the variance that remains in the logarithm of the thickness
    over all heats of the grid is averaged. Heats already run count too: a repeat tells the scatter.
    """
    doubts = reading.doubts if reading is not None else None
    worlds = kiln.draws.take(rng.permutation(kiln.draws.scatter.size)[:_WORLDS])
    heats = _grid(kiln)
    each = [
        np.log(grow(kiln.metal.regimes, worlds.theta, heat, worlds.native_nm, worlds.pace[:, 0]))
        for heat in heats
    ]
    values = np.array(each)
    now = float(np.sqrt(values.var(axis=1).mean()))
    expected = partial(_expected_sd, kiln, worlds, values, doubts, viewing, rng_root(rng))
    then = list(map_parallel(expected, list(enumerate(heats))))
    best = int(np.argmin(then))
    heat = heats[best]
    words = (
        f"{heat.peak_C:.0f} °C for {format_time(heat.duration_s)}: the doubt of a predicted "
        f"thickness, {100.0 * now:.0f} % on average over the range, would come down to "
        f"{100.0 * min(then[best], now):.0f} %"
    )
    return NextHeat(heat.peak_C, heat.duration_s / 60.0, now, min(then[best], now), words)


def _grid(kiln: Kiln) -> list[HeatSchedule]:
    low, high = kiln.metal.range_C
    degrees = [round(low + share * (high - low), -1) for share in _SHARES]
    return [hold(degree, 60.0 * minutes) for degree in degrees for minutes in _TIMES_MIN]


def _expected_sd(
    kiln: Kiln,
    worlds: LawDraws,
    values: FloatArray,
    doubts: Uncertainty | None,
    viewing: ViewingConditions,
    root: np.random.SeedSequence,
    numbered: tuple[int, HeatSchedule],
) -> float:
    """Standard deviation of ln thickness (heats, N) to expect after one more piece."""
    i, heat = numbered
    rng = child_rng(root, i)
    true, supposed = (worlds.thickness_nm(kiln.metal, heat, rng) for _ in range(2))
    if doubts is None or not kiln.metal.colour:
        gap = np.log(true * np.exp(_THICKNESS_SD * rng.standard_normal(true.size)))[:, None]
        log_likelihood = -0.5 * ((gap - np.log(supposed)) / _THICKNESS_SD) ** 2
    else:
        log_likelihood = _stack_colours(kiln, worlds, (true, supposed), doubts, viewing, rng)
    weight = np.exp(log_likelihood - log_likelihood.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    mean, square = weight @ values.T, weight @ (values**2).T
    return float(np.sqrt(np.maximum(square - mean**2, 0.0).mean()))


def _stack_colours(
    kiln: Kiln,
    worlds: LawDraws,
    films: tuple[FloatArray, FloatArray],
    doubts: Uncertainty,
    viewing: ViewingConditions,
    rng: np.random.Generator,
) -> FloatArray:
    """Log likelihood (outcomes, worlds) of a colour read off each true film."""
    true, supposed = (_table(kiln, worlds, film, doubts, viewing) for film in films)
    views = true.view_weight.size
    seen = rng.choice(views, size=len(true.lab), p=true.view_weight)
    looks = true.draw(np.arange(len(true.lab)) * views + seen, rng)
    return supposed.log_likelihood(looks)[:, :, 0, 0]


def _table(
    kiln: Kiln,
    worlds: LawDraws,
    thickness_nm: FloatArray,
    doubts: Uncertainty,
    viewing: ViewingConditions,
) -> ColourTable:
    """Rows for single films, one in each world, at the nodes of angle and glare."""
    doubts = doubts or DEFAULTS["word"]
    angles, glare, weight = view_nodes(doubts)
    each = []
    for angle in angles:
        palette = palette_for(kiln, viewing, float(angle))
        assert palette is not None
        each.append(palette.draw_xyz(worlds, kiln.film_names, thickness_nm, 1))
    xyz = np.stack(each, axis=1)[:, :, None, :]
    lab = seen_lab(xyz, np.broadcast_to(glare, (1, 1, glare.size)), viewing)
    shape = (thickness_nm.size, 1, 1, weight.size, 3)
    return ColourTable(
        np.zeros(1), np.zeros(1), weight, lab.reshape(shape).astype(np.float32), doubts
    )
