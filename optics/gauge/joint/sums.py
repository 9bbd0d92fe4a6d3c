"""Sums over the thickness of every spot, each free or none below the one before it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..._typing import FloatArray, SingleArray

_LEAST = np.float32(1e-30)
# Lower ones would end in denormal numbers, which are slow. A spot may be anywhere, and out of its
# order, at this cost: far from the posterior draws still tell which order is the less wrong.
_FLOOR = np.float32(-30.0)
_NOTHING = np.exp(_FLOOR)
_CHUNK = 64  # steps summed by one product
_HALF = np.tri(_CHUNK, k=-1, dtype=np.float32) + 0.5 * np.eye(_CHUNK, dtype=np.float32)

Logs = Sequence[SingleArray]
"""Log of prior times likelihood of each spot at the steps of its window, (w, n) each."""


def sum_each(logs: Logs, windows: Sequence[slice], steps: int) -> tuple[FloatArray, SingleArray]:
    """Sums for spots whose thicknesses do not bear on each other.

    Parameters
    ----------
    logs : sequence of ndarray
        Overwritten.
    windows : sequence of slice
        The steps of thickness at which each spot may lie.
    steps : int

    Returns
    -------
    log_sum : ndarray, shape (n,)
        Sum over spots of the log of the sum over steps.
    weight : ndarray, shape (P, steps, n)
        Share of each step in its spot's sum.
    """
    peak, total = np.empty((2, len(logs), logs[0].shape[1]), dtype=np.float32)
    weight = np.zeros((len(logs), steps, peak.shape[1]), dtype=np.float32)
    for p, (own, window) in enumerate(zip(logs, windows, strict=True)):
        _from_peak(own, peak[p])
        np.subtract(own, _NOTHING, out=own)  # no order ever puts it there
        own.sum(axis=0, out=total[p])
        np.multiply(own, np.float32(1.0) / total[p], out=weight[p, window])
    return (peak + np.log(total)).sum(axis=0, dtype=float), weight


def _from_peak(log_weight: SingleArray, peak: SingleArray) -> None:
    """Make logs (w, n) the weights relative to the largest of each row, whose log is given out."""
    log_weight.max(axis=0, out=peak)
    log_weight -= peak
    np.maximum(log_weight, _FLOOR, out=log_weight)
    np.exp(log_weight, out=log_weight)


def sum_rising(logs: Logs, windows: Sequence[slice], steps: int) -> tuple[FloatArray, SingleArray]:
    """The same for spots whose thickness never falls from one to the next.

    Sums over all rising sequences by a pass forwards, and the shares by one backwards; two spots
    in the same step are in order half the time. The prior is that of the spots put in order.
    """
    peak, total = np.empty((2, len(logs), logs[0].shape[1]), dtype=np.float32)
    weight = np.zeros((len(logs), steps, peak.shape[1]), dtype=np.float32)
    reach = np.ones(weight.shape[1:], dtype=np.float32)
    for p, (own, window) in enumerate(zip(logs, windows, strict=True)):
        _from_peak(own, peak[p])
        ahead = np.multiply(own, reach[window], out=weight[p, window])
        reach[: window.start], reach[window.stop :] = _NOTHING, 1.0
        _sum_up_to(ahead, reach[window], total[p])
    ways = np.arange(1.0, len(logs) + 1.0)[:, None]
    log_sum = (peak + np.log(total * ways)).sum(axis=0)
    reach[:] = 1.0
    for p in reversed(range(len(logs))):
        own, window = logs[p], windows[p]
        share = weight[p, window]
        share *= reach[window]
        share *= np.float32(1.0) / np.maximum(share.sum(axis=0), _LEAST)
        own *= reach[window]
        reach[: window.start], reach[window.stop :] = 1.0, _NOTHING
        _sum_up_to(own, reach[window], total[p], falling=True)
    return np.asarray(log_sum), weight


def _sum_up_to(
    part: SingleArray, out: SingleArray, total: SingleArray, *, falling: bool = False
) -> None:
    """Share of the sum of ``part`` (w, n) up to each step, half of its own with it, and the sum;
    falling, down to each step. No share is less than what being out of order costs."""
    half, last = (_HALF.T, 0) if falling else (_HALF, -1)
    starts = range(0, len(part), _CHUNK)
    total[:] = 0.0
    for start in reversed(starts) if falling else starts:
        own, along = part[start : start + _CHUNK], out[start : start + _CHUNK]
        np.matmul(half[: len(own), : len(own)], own, out=along)
        along += total
        np.add(along[last], np.float32(0.5) * own[last], out=total)
    np.maximum(total, _LEAST, out=total)
    out *= np.float32(1.0) / total
    out += _NOTHING
