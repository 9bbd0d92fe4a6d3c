"""A density over thickness in the figures people ask for: intervals, regions, candidates."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .._typing import BoolArray, FloatArray

_SMOOTHING_NM = 1.5
_CANDIDATE_SHARE = 0.1  # of the highest peak
_CLEAR_VALLEY = 0.7  # of the lower of two peaks: below it they are two humps (a judgement)
_LEAST_PROBABILITY = 0.005
_LEVELS = np.array([0.05, 0.5, 0.95])


@dataclass(frozen=True)
class DensityMode:
    """One connected region of a density that stands by itself.

    Attributes
    ----------
    low_nm, high_nm : float
        Where it is parted from its neighbours [nm].
    probability : float
    thickness_nm : float
        Its median [nm].
    interval90_nm : tuple of float
        Its own equal-tailed 90 % interval [nm].
    """

    low_nm: float
    high_nm: float
    probability: float
    thickness_nm: float
    interval90_nm: tuple[float, float]


def interval90(draws: FloatArray) -> tuple[float, float]:
    """5 and 95 % points of draws."""
    low, high = np.quantile(draws, [0.05, 0.95])
    return float(low), float(high)


def cumulate(grid: FloatArray, density: FloatArray) -> FloatArray:
    """Mass of a density (..., T) from the start of its grid (T,) to each place, shape (..., T)."""
    mass = np.zeros(density.shape)
    steps = 0.5 * (density[..., 1:] + density[..., :-1])
    steps *= grid[1:] - grid[:-1]
    np.cumsum(steps, axis=-1, out=mass[..., 1:])
    return mass


def quantiles(grid: FloatArray, density: FloatArray, levels: FloatArray) -> FloatArray:
    """Quantiles of a density (..., T) tabulated on a grid (T,), shape (..., levels)."""
    flat = cumulate(grid, density).reshape(-1, grid.size)
    rows = [np.interp(levels * row[-1], row, grid) for row in flat]
    return np.array(rows).reshape(*density.shape[:-1], len(levels))


def highest_region(
    grid: FloatArray, density: FloatArray, mass: float = 0.9, *, rank: FloatArray | None = None
) -> list[tuple[float, float]]:
    """The set of intervals of an even grid that holds the given mass: the shortest, or that of
    highest rank."""
    chosen = _highest(density, mass, rank)
    half = 0.5 * (grid[1] - grid[0])
    return [
        (float(max(grid[a] - half, grid[0])), float(min(grid[b] + half, grid[-1])))
        for a, b in _runs(chosen)
    ]


def _highest(density: FloatArray, mass: float, rank: FloatArray | None = None) -> BoolArray:
    """The places that hold the given mass, those of highest density or rank first."""
    order = np.argsort(density if rank is None else rank)[::-1]
    enough = np.searchsorted(np.cumsum(density[order]), mass * density.sum()) + 1
    chosen = np.zeros(density.size, dtype=bool)
    chosen[order[:enough]] = True
    return chosen


def find_density_modes(
    grid: FloatArray, density: FloatArray, *, clear_valley: float = _CLEAR_VALLEY
) -> list[DensityMode]:
    """Candidates: humps of the smoothed density that rise above a tenth of its peak, and each
    further part of its 90 % region, likeliest first.

    Between two humps it falls to ``clear_valley`` of the lower one; with 0, for a density of drawn
    films that ripples, below a tenth of the highest.

    The valleys between them part the range, so their probabilities sum to 1 save for humps
    of less than half a percent, which are left out.
    """
    smooth = _smooth(grid, density)
    high = smooth > _CANDIDATE_SHARE * smooth.max()
    # What is told as a region of its own is a candidate of its own, however low and wide it is.
    apart = [
        a + int(np.argmax(smooth[a : b + 1]))
        for a, b in _runs(_highest(smooth, 0.9))
        if not high[a : b + 1].any()
    ]
    tops = sorted([*_find_tops(np.where(high, smooth, 0.0), clear_valley), *apart])
    cuts = [0, *(a + int(np.argmin(smooth[a : b + 1])) for a, b in pairwise(tops)), grid.size - 1]
    mass = cumulate(grid, density)
    found = []
    for a, b in pairwise(cuts):
        inside = slice(a, b + 1)
        probability = float((mass[b] - mass[a]) / mass[-1])
        if probability < _LEAST_PROBABILITY:
            continue
        ends = mass[a] + _LEVELS * (mass[b] - mass[a])
        low, middle, high = np.interp(ends, mass[inside], grid[inside]).tolist()
        found.append(DensityMode(float(grid[a]), float(grid[b]), probability, middle, (low, high)))
    return sorted(found, key=lambda hump: -hump.probability)


def _find_tops(curve: FloatArray, clear_valley: float) -> list[int]:
    """Places of the peaks of a curve (T,) with a clear valley between any two."""
    level = np.concatenate([[0.0], curve, [0.0]])
    peaks = np.flatnonzero((level[1:-1] > level[:-2]) & (level[1:-1] >= level[2:]))
    found: list[int] = []
    for peak in peaks.tolist():
        found.append(peak)
        while len(found) > 1:
            before, last = found[-2:]
            lower, higher = sorted([before, last], key=lambda one: float(curve[one]))
            if curve[before : last + 1].min() <= clear_valley * curve[lower]:
                break
            found[-2:] = [higher]
    return found


def _smooth(grid: FloatArray, density: FloatArray) -> FloatArray:
    step = grid[1] - grid[0]
    reach = int(np.ceil(4.0 * _SMOOTHING_NM / step))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) * step / _SMOOTHING_NM) ** 2)
    padded = np.concatenate([np.full(reach, density[0]), density, np.full(reach, density[-1])])
    return np.convolve(padded, kernel / kernel.sum(), mode="valid")


def _runs(chosen: BoolArray) -> list[tuple[int, int]]:
    """First and last position of each unbroken run of True."""
    inside = np.zeros(chosen.size + 2, dtype=bool)
    inside[1:-1] = chosen
    edges = np.flatnonzero(inside[1:] != inside[:-1]).tolist()
    return [(a, b - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
