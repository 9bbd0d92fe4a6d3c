"""Sums over the thickness of every spot, each free or none below the one before it."""

from __future__ import annotations

import numpy as np

from ..._typing import FloatArray, SingleArray

_LEAST, _HALF = np.float32(1e-30), np.float32(0.5)
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
    spare, along = np.empty_like(weight[:, 0]), np.ones_like(weight[:, 0])
    for p in range(count):
        own = np.multiply(weight[:, p], along, out=ahead[:, p])
        total = _scale_to_one(own)
        log_sum += np.log(total[:, 0] * (p + 1.0))
        np.cumsum(own, axis=1, out=along)
        along -= np.multiply(own, _HALF, out=spare)
    along[:] = 1.0
    behind = np.empty_like(along)
    for p in reversed(range(count)):
        ahead[:, p] *= along
        _scale_to_one(ahead[:, p])
        np.multiply(weight[:, p], along, out=behind)
        _scale_to_one(behind)
        np.cumsum(behind[:, ::-1], axis=1, out=along[:, ::-1])
        along -= np.multiply(behind, _HALF, out=spare)
    return log_sum, ahead


def _scale_to_one(part: SingleArray) -> SingleArray:
    """Divide rows (n, t) by their sums, which are given back (n, 1)."""
    total = np.maximum(part.sum(axis=1, keepdims=True), _LEAST)
    part *= np.float32(1.0) / total
    return np.asarray(total)
