"""Sums over the thickness of every spot, each free or none below the one before it."""

from __future__ import annotations

import numpy as np

from ..._typing import FloatArray, SingleArray

_LEAST = np.float32(1e-30)
# Lower ones would end in denormal numbers, which are slow; where no order fits, what a spot can
# cost is bounded by this.
_FLOOR = np.float32(-60.0)


def sum_each(log_weight: SingleArray) -> tuple[FloatArray, SingleArray]:
    """Sums for spots whose thicknesses do not bear on each other.

    Parameters
    ----------
    log_weight : ndarray, shape (n, P, t)
        Log of prior times likelihood of each spot at each step of thickness; overwritten.

    Returns
    -------
    log_sum : ndarray, shape (n,)
        Sum over spots of the log of the sum over steps.
    weight : ndarray, shape (n, P, t)
        Share of each step in its spot's sum.
    """
    peak, weight = _from_peak(log_weight)
    total = weight.sum(axis=2, keepdims=True)
    weight /= total
    log_sum: FloatArray = (peak + np.log(total)).sum(axis=(1, 2), dtype=float)
    return log_sum, weight


def _from_peak(log_weight: SingleArray) -> tuple[SingleArray, SingleArray]:
    """The largest of each spot, and all relative to it; overwrites what it is given."""
    peak = log_weight.max(axis=2, keepdims=True)
    log_weight -= peak
    np.maximum(log_weight, _FLOOR, out=log_weight)
    return peak, np.exp(log_weight, out=log_weight)


def sum_rising(log_weight: SingleArray) -> tuple[FloatArray, SingleArray]:
    """The same for spots whose thickness never falls from one to the next.

    Sums over all rising sequences by a pass forwards, and the shares by one backwards; two spots
    in the same step are in order half the time. The prior is that of the spots put in order.
    """
    peak, weight = _from_peak(log_weight)
    count = weight.shape[1]
    ahead = np.empty_like(weight)
    log_sum = peak.sum(axis=(1, 2), dtype=float)
    before = np.ones_like(weight[:, 0])
    for p in range(count):
        ahead[:, p] = weight[:, p] * before
        total = np.maximum(ahead[:, p].sum(axis=1, keepdims=True), _LEAST)
        log_sum += np.log(total[:, 0] * (p + 1.0))
        ahead[:, p] /= total
        before = np.cumsum(ahead[:, p], axis=1) - 0.5 * ahead[:, p]
    after = np.ones_like(before)
    for p in reversed(range(count)):
        ahead[:, p] *= after
        ahead[:, p] /= np.maximum(ahead[:, p].sum(axis=1, keepdims=True), _LEAST)
        behind = weight[:, p] * after
        behind /= np.maximum(behind.sum(axis=1, keepdims=True), _LEAST)
        after = np.cumsum(behind[:, ::-1], axis=1)[:, ::-1] - 0.5 * behind
    return log_sum, ahead
