"""The test piece worth running next: the heat whose outcome would narrow the law most."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..inference.colour_table import ColourTable, view_nodes
from ..inference.reading import Reading
from ..inference.simulate import seen_lab
from ..inference.uncertainty import Uncertainty
from ..numerics.parallel import child_rng, map_parallel, rng_root
from ..oxidation.schedule import HeatSchedule, hold
from ..units import format_duration
from .kiln import Kiln
from .shades import require_palette

_WORLDS = 160
_SHARES = (0.1, 0.3, 0.5, 0.7, 0.9)  # of the law's range
_TIMES_MIN = (10.0, 30.0, 90.0)
_THICKNESS_SD = 0.05


@dataclass(frozen=True)
class NextHeat:
    """A heat to run next.

    ``spread_now`` and ``spread_then`` are the relative standard deviation of the predicted
    thickness over the range of heats, now and as it is to be expected after the piece.
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
    *,
    rng: np.random.Generator,
) -> NextHeat:
    """The most telling of a grid of heats, if the next outcome is read like the last one.

    Parameters
    ----------
    reading : Reading or None
        The last colour read, for its doubts; None where thicknesses are measured.

    Notes
    -----
    Worlds drawn from what is held are each taken as the truth in turn: an outcome is simulated,
    the others are weighed by it, and the variance that remains in the logarithm of the thickness
    over all heats of the grid is averaged. Heats already run count too: a repeat tells the scatter.
    """
    doubts = reading.doubts if reading is not None and kiln.metal.colour else None
    rows = rng.permutation(kiln.draws.scatter.size)[:_WORLDS]
    worlds = replace(kiln, draws=kiln.draws.take(rows))
    heats = _grid(kiln)
    values = np.log(worlds.draws.typical_all_nm(kiln.metal, heats))
    now = float(np.sqrt(values.var(axis=1).mean()))
    expected = partial(_expected_sd, worlds, values, doubts, viewing, rng_root(rng))
    then = list(map_parallel(expected, list(enumerate(heats))))
    best = int(np.argmin(then))
    heat, left = heats[best], min(then[best], now)
    words = (
        f"{heat.peak_C:.0f} °C for {format_duration(heat.duration_s)}: the doubt of a predicted "
        f"thickness, {100.0 * now:.0f} % on average over the range, would come down to "
        f"{100.0 * left:.0f} %"
    )
    return NextHeat(heat.peak_C, heat.duration_s / 60.0, now, left, words)


def _grid(kiln: Kiln) -> list[HeatSchedule]:
    low, high = kiln.metal.range_C
    degrees = [round(low + share * (high - low), -1) for share in _SHARES]
    return [hold(degree, 60.0 * minutes) for degree in degrees for minutes in _TIMES_MIN]


def _expected_sd(
    worlds: Kiln,
    values: FloatArray,
    doubts: Uncertainty | None,
    viewing: ViewingConditions,
    root: np.random.SeedSequence,
    numbered: tuple[int, HeatSchedule],
) -> float:
    """Standard deviation of ln thickness (heats, N) to expect after one more piece."""
    i, heat = numbered
    rng = child_rng(root, i)
    true, supposed = (worlds.draws.thickness_nm(worlds.metal, heat, rng) for _ in range(2))
    if doubts is None:
        gap = np.log(true * np.exp(_THICKNESS_SD * rng.standard_normal(true.size)))[:, None]
        log_likelihood = -0.5 * ((gap - np.log(supposed)) / _THICKNESS_SD) ** 2
    else:  # a colour read off each true film: (outcomes, worlds)
        seen, tables = [_table(worlds, film, doubts, viewing) for film in (true, supposed)]
        views = seen.view_weight.size
        view = rng.choice(views, size=len(seen.lab), p=seen.view_weight)
        looks = seen.draw(np.arange(len(seen.lab)) * views + view, rng)
        log_likelihood = tables.log_likelihood(looks)[:, :, 0, 0]
    weight = np.exp(log_likelihood - log_likelihood.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    mean, square = weight @ values.T, weight @ (values**2).T
    return float(np.sqrt(np.maximum(square - mean**2, 0.0).mean()))


def _table(
    worlds: Kiln, thickness_nm: FloatArray, doubts: Uncertainty, viewing: ViewingConditions
) -> ColourTable:
    """Rows for single films, one in each world, at the nodes of angle and glare."""
    angles, glare, weight = view_nodes(doubts)
    palette = require_palette(worlds, viewing)
    each = [
        replace(palette, angle_deg=float(angle)).draw_xyz(worlds, thickness_nm, 1, every=2)
        for angle in angles
    ]
    xyz = np.stack(each, axis=1)[:, :, None, :]
    lab = seen_lab(xyz, np.broadcast_to(glare, (1, 1, glare.size)), viewing)
    shape = (thickness_nm.size, 1, 1, weight.size, 3)
    return ColourTable(
        np.zeros(1), np.zeros(1), weight, lab.reshape(shape).astype(np.float32), doubts
    )
