"""Where simulated runs end a layer: at a turning point, at a level, or some time after a turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..._typing import BoolArray, FloatArray, IndexArray
from .cues import DARK_SHARE
from .curves import LayerCue, mark_turnings


@dataclass(frozen=True, eq=False)
class Turn:
    """The n-th turning of each of N curves; with n = 0 their start.

    Attributes
    ----------
    at : ndarray of int, shape (N,)
        Point of the grid.
    reached : ndarray of bool, shape (N,)
        Whether there is one; what else is said of it is of no use if not.
    nm, reading, bend : ndarray, shape (N,)
        Where it lies [nm], the reading and its second derivative there.
    """

    at: IndexArray
    reached: BoolArray
    nm: FloatArray
    reading: FloatArray
    bend: FloatArray


def stop_by_turning(
    grid: FloatArray, read: FloatArray, cue: LayerCue, *, timed_nm: FloatArray, z: FloatArray
) -> FloatArray:
    """Where runs end that wait for a turning point [nm], shape (N,).

    It is seen once the reading has gone back by its doubt: ``S'' δ² / 2 = σ |z|``. Who waits for
    it in vain stops by time.
    """
    turn = _nth_turning(grid, read, cue, len(cue.turning_nm))
    gone_back = cue.cue.doubt(turn.reading, turn.reading) * np.abs(z)
    late = np.sqrt(2.0 * gone_back / np.maximum(np.abs(turn.bend), 1e-12))
    return np.where(turn.reached, np.minimum(turn.nm + late, grid[-1]), timed_nm)


def time_from_turning(
    grid: FloatArray, read: FloatArray, cue: LayerCue, *, nm: float, clock: FloatArray
) -> FloatArray:
    """Where runs end that keep time from the last turning point before the end [nm], (N,)."""
    turn = _nth_turning(grid, read, cue, len(cue.turning_nm))
    before = cue.turning_nm[-1] if cue.turning_nm else 0.0
    return np.where(turn.reached, turn.nm + (nm - before) * clock, nm * clock)


def stop_by_level(
    grid: FloatArray,
    read: FloatArray,
    cue: LayerCue,
    *,
    nm: float,
    clock: FloatArray,
    z: FloatArray,
) -> FloatArray:
    """Where runs end at a reading that is so many times an earlier one [nm], shape (N,)."""
    on_time = time_from_turning(grid, read, cue, nm=nm, clock=clock)
    if cue.ratio is None:
        return on_time
    turn = _nth_turning(grid, read, cue, len(cue.turning_nm))
    reference = np.maximum(turn.reading, DARK_SHARE)
    wanted = cue.ratio * reference
    wanted = wanted + cue.cue.doubt(wanted, reference) * z
    level = _first_crossing(grid, read, turn.at, wanted, rises=bool(cue.rises))
    return np.where(turn.reached, level, on_time)


def _nth_turning(grid: FloatArray, read: FloatArray, cue: LayerCue, n: int) -> Turn:
    runs, count = np.arange(len(read)), len(read)
    if n == 0:
        still = np.zeros(count)
        start = np.zeros(count, dtype=np.intp)
        return Turn(start, np.ones(count, dtype=bool), still, read[:, 0], still)
    passed = np.cumsum(mark_turnings(read, cue.cue.doubt(read, read)), axis=-1) >= n
    reached: BoolArray = np.asarray(passed.any(axis=-1))
    i = np.clip(np.argmax(passed, axis=-1), 1, grid.size - 2)
    h = grid[1] - grid[0]
    left, middle, right = read[runs, i - 1], read[runs, i], read[runs, i + 1]
    bend = (right - 2.0 * middle + left) / h**2
    slope = (right - left) / (2.0 * h)
    # the vertex of the parabola through three points: x = -S'/S''
    shift = np.where(bend == 0.0, 0.0, -slope / np.where(bend == 0.0, 1.0, bend))
    return Turn(i, reached, grid[i] + shift, middle + 0.5 * slope * shift, bend)


def _first_crossing(
    grid: FloatArray, read: FloatArray, after: IndexArray, wanted: FloatArray, *, rises: bool
) -> FloatArray:
    """Where the reading first comes to a level past a point, or nearest to it before it turns."""
    gap = (1.0 if rises else -1.0) * (read - wanted[:, None])
    later = np.arange(grid.size) > after[:, None]
    over = later & (gap >= 0.0)
    back = later[:, :-1] & (np.diff(gap, axis=-1) < 0.0)  # it runs the other way again
    first = np.where(over.any(-1), np.argmax(over, -1), grid.size - 1)
    turned = np.where(back.any(-1), np.argmax(back, -1), grid.size - 1)
    runs, i = np.arange(len(read)), np.maximum(first, 1)
    low, high = gap[runs, i - 1], gap[runs, i]
    step = np.where(high == low, 1.0, high - low)
    share = np.clip(np.where(high == low, 0.0, -low / step), 0.0, 1.0)
    crossed = grid[i - 1] + share * (grid[i] - grid[i - 1])
    return np.where(first <= turned, crossed, grid[turned])
