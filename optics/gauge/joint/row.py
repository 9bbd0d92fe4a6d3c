"""Spots along a line of gently changing thickness: neighbours averaged, then separated again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..._typing import FloatArray, IndexArray
from ...errors import InputError
from ...inference.uncertainty import Uncertainty
from ...numerics.density import quantiles
from ...numerics.integrate import trapezoid, values_at_middles

PLACES = 24
"""Means of neighbours that a line is read as, and more where colours run fast; more of them
teach little about what is shared."""

_ROUGH = 1.5  # scatter over what is due, beyond which neighbours are no neighbours
_LONGEST_DE = 25.0  # run of colour within a place: the mean of its arc is 0.7 ΔE off the middle,
# and 0.1 once its bend is allowed for
_LEVELS = np.linspace(0.00125, 0.99875, 400)


@dataclass(frozen=True, eq=False)
class SpotRow:
    """Means of neighbours.

    Attributes
    ----------
    lab : ndarray, shape (P, 3)
        Colours at the middles of the places.
    at : ndarray, shape (P,)
        Mean number of the spots that each is the mean of.
    each : ndarray of int, shape (P,)
        How many spots that is.
    count : int
        Of all spots.
    """

    lab: FloatArray
    at: FloatArray
    each: IndexArray
    count: int


def average_row(spots_lab: FloatArray, doubts: Uncertainty) -> SpotRow:
    """Average the neighbours of a line of N spots (N, 3) to some 24 places.

    Raises
    ------
    InputError
        If neighbours scatter more about a straight run of colour than their doubts allow.

    Notes
    -----
    Of the mean of m spots, noise and what each has of the discrepancy for itself have an m-th of
    the variance. A mean of colours along a bent line lies on its inner side, for all places alike:
    what the bend took is given back, or films would come out paler, so of a lower index, so
    thicker. A place along which the colour runs far is halved until it does not.
    """
    due = doubts.noise_de**2 + doubts.discrepancy_de**2
    parts = np.array_split(np.arange(len(spots_lab)), min(PLACES, len(spots_lab)))
    parts = [half for part in parts for half in _halve(part, spots_lab, due)]
    runs = [_run(spots_lab[part]) for part in parts]
    free = sum(max(part.size - 2, 0) for part in parts)
    square = sum(own for _, own in runs)
    if free and square / free > _ROUGH**2 * due:
        raise InputError(
            f"neighbouring rows scatter by {np.sqrt(square / free):.1f} ΔE, where "
            f"{np.sqrt(due):.1f} is due: they do not follow a line of gently changing thickness"
        )
    lab = np.array([spots_lab[part].mean(axis=0) for part in parts])
    at = np.array([part.mean() for part in parts])
    lab = values_at_middles(at, np.array([part.var() for part in parts]), lab)
    return SpotRow(lab, at, np.array([part.size for part in parts]), len(spots_lab))


def _halve(part: IndexArray, lab: FloatArray, due: float) -> list[IndexArray]:
    """A place, or its halves and theirs, none with a long run of colour that stands out."""
    if part.size < 2:
        return [part]
    length, _ = _run(lab[part])
    # What noise alone makes of the two ends of a straight line.
    chance = 3.0 * np.sqrt(12.0 * due / part.size)
    if length < max(_LONGEST_DE, chance if part.size > 2 else 0.0):
        return [part]
    middle = part.size // 2
    return _halve(part[:middle], lab, due) + _halve(part[middle:], lab, due)


def _run(lab: FloatArray) -> tuple[float, float]:
    """Length of the straight run through some neighbours [ΔE], and what it leaves [ΔE²]."""
    at = np.arange(len(lab)) - 0.5 * (len(lab) - 1)
    if len(lab) < 2:
        return 0.0, 0.0
    slope = at @ lab / (at @ at)
    off = lab - lab.mean(axis=0) - at[:, None] * slope
    return float(np.linalg.norm(slope)) * len(lab), float((off**2).sum())


def separate_spots(grid_nm: FloatArray, density: FloatArray, row: SpotRow) -> FloatArray:
    """Density of each spot (N, T), from that of their places (P, T).

    All places move together where what they share is off, so that a spot between two of them
    has its quantiles between theirs.
    """
    if row.count == len(row.at):
        return density
    ends = quantiles(grid_nm, density, _LEVELS)
    spot = np.arange(row.count)
    before = np.clip(np.searchsorted(row.at, spot) - 1, 0, max(len(row.at) - 2, 0))
    after = np.minimum(before + 1, len(row.at) - 1)
    part = (spot - row.at[before]) / np.maximum(row.at[after] - row.at[before], 1e-9)
    between = ends[before] + part[:, None] * (ends[after] - ends[before])
    # Past the outermost middles the run is drawn on, where quantiles must keep their order.
    between = np.sort(np.clip(between, grid_nm[0], grid_nm[-1]), axis=1)
    below = np.array([np.interp(grid_nm, own, _LEVELS, 0.0, 1.0) for own in between])
    found = np.gradient(below, grid_nm, axis=1)
    return np.asarray(found / trapezoid(found, grid_nm)[:, None])
