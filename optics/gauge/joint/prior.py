"""How thickness is spread over a piece: between two ends, more or less evenly.

Were it spread evenly for certain, many spots would vote for whatever makes their thicknesses run
evenly, and pull what they share towards it; a real gradient has no reason to.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ..._typing import FloatArray, SingleArray
from ...numerics.normal_law import normal_cdf, normal_density
from .model import LEAST_WIDTH, UNEVEN, SharedModel, SharedUnknowns

EDGE_NM = 1.5
"""How softly the spread begins and ends [nm]."""


_LEAST_LOG = np.float32(-60.0)


def _chebyshev(count: int) -> SingleArray:
    """``cos(k x) = Σ_j a_jk cos(x)^j`` for k from 1 to ``count``: a, shape (count + 1, count)."""
    each = np.zeros((count + 1, count + 1))
    each[0, 0] = each[1, 1] = 1.0
    for k in range(2, count + 1):
        each[k, 1:] = 2.0 * each[k - 1, :-1]
        each[k] -= each[k - 2]
    return np.ascontiguousarray(each[1:].T, dtype=np.float32)


_POWERS = _chebyshev(UNEVEN.size)


class ThicknessPrior(NamedTuple):
    """Prior of thickness over the scale, each (t, n).

    ``log`` is the log weight of each step; ``below`` and ``above`` how far it is past either end,
    from 0 to 1; ``part`` where between the ends it lies, ``cosine`` that of π times it, and
    ``steep`` the slope in the part of the cosines that make the spread uneven.
    """

    log: SingleArray
    below: SingleArray
    above: SingleArray
    part: SingleArray
    cosine: SingleArray
    steep: SingleArray


def thickness_prior(scale_nm: FloatArray, shared: SharedUnknowns) -> ThicknessPrior:
    """The prior on a scale (t,) of thickness times one plus the index error, for n rows."""
    edges = (scale_nm / EDGE_NM).astype(np.float32)
    stretch = (1.0 / (1.0 + shared.index_error)).astype(np.float32)
    thickness = edges[:, None] * stretch
    low, high = ((end / EDGE_NM).astype(np.float32) for end in (shared.low_nm, shared.high_nm))
    below, past_low = _soft_step(low - thickness)
    above, past_high = _soft_step(thickness - high)
    part = thickness
    part -= low
    part /= high - low
    np.clip(part, np.float32(0.0), np.float32(1.0), out=part)
    cosine = np.cos(np.float32(np.pi) * part)
    powers = _POWERS @ shared.uneven.T.astype(np.float32)
    log = _polynomial(powers, cosine)
    log -= past_low
    log -= past_high
    log -= log.max(axis=0)  # between ends that meet all of it would underflow
    log -= np.log(exp_of(log).sum(axis=0))
    return ThicknessPrior(log, below, above, part, cosine, _steepness(powers, cosine))


def exp_of(log: SingleArray) -> SingleArray:
    """The exponential of what is at most 0 or so, but no denormal numbers, which are slow."""
    found = np.maximum(log, _LEAST_LOG)
    return np.asarray(np.exp(found, out=found))


def log_ends(scale_nm: FloatArray, shared: SharedUnknowns) -> SingleArray:
    """The log of the prior (t, n) but for its unevenness and its sum."""
    thickness = scale_nm[:, None] / (1.0 + shared.index_error)
    past = np.maximum(shared.low_nm - thickness, thickness - shared.high_nm)
    return np.minimum(-past / EDGE_NM, 0.0).astype(np.float32)


def add_prior_slopes(
    model: SharedModel,
    *,
    scores: FloatArray,
    shared: SharedUnknowns,
    spread: ThicknessPrior,
    excess: SingleArray,
    scale_nm: FloatArray,
    slope: FloatArray,
) -> None:
    """Slopes in the ends, the unevenness, and the index error that moves the scale to them.

    ``excess`` (t, n) is how many spots more than the prior has are at each step of ``scale_nm``.
    """
    stretch = 1.0 + shared.index_error
    width = shared.high_nm - shared.low_nm
    inner = excess * spread.steep
    inner /= width.astype(np.float32)
    below, above = (excess * one for one in (spread.below, spread.above))
    below *= np.float32(1.0 / EDGE_NM)
    above *= np.float32(1.0 / EDGE_NM)
    beyond = inner * spread.part
    by_high = (above - beyond).sum(axis=0)
    beyond -= inner
    beyond -= below
    by_low = beyond.sum(axis=0)
    below -= above
    below += inner
    by_thickness = (scale_nm.astype(np.float32) @ below) / stretch**2
    slope[:, 5] -= model.doubts.index_spread * by_thickness
    room = model.between_nm[1] - model.between_nm[0]
    at = (shared.low_nm - model.between_nm[0]) / np.maximum(room - width, 1e-9)
    narrow = np.sqrt(np.maximum(normal_cdf(-scores[:, 6]), 1e-30))
    reach = room * (1.0 - LEAST_WIDTH) * normal_density(scores[:, 6]) * 0.5 / narrow
    slope[:, 6] = reach * ((1.0 - at) * by_high - at * by_low)
    slope[:, 7] = (room - width) * normal_density(scores[:, 7]) * (by_low + by_high)
    slope[:, 9 : 9 + UNEVEN.size] = UNEVEN * _wave_sums(spread.cosine, excess)


def _polynomial(powers: SingleArray, x: SingleArray) -> SingleArray:
    """``Σ a_j x^j`` (t, n) of coefficients (J, n), by Horner's rule."""
    total: SingleArray = powers[-1] * x
    total += powers[-2]
    for power in powers[-3::-1]:
        total *= x
        total += power
    return total


def _steepness(powers: SingleArray, cosine: SingleArray) -> SingleArray:
    """The slope (t, n) of ``Σ a_j cos(π t)^j`` in t: 0 at the ends and beyond, as the sine is."""
    order = np.arange(1, len(powers), dtype=np.float32)[:, None]
    steep = _polynomial(np.float32(-np.pi) * order * powers[1:], cosine)
    square = cosine * cosine
    np.subtract(np.float32(1.0), square, out=square)
    np.maximum(square, np.float32(0.0), out=square)
    steep *= np.sqrt(square, out=square)
    return steep


def _wave_sums(cosine: SingleArray, excess: SingleArray) -> FloatArray:
    """Sums (n, K) over the scale of ``cos(k π t)`` times ``excess``, by powers of the cosine."""
    moments = np.empty((UNEVEN.size + 1, excess.shape[1]), dtype=np.float32)
    each = excess
    moments[0] = each.sum(axis=0)
    for j in range(UNEVEN.size):
        each = each * cosine
        each.sum(axis=0, out=moments[j + 1])
    return np.asarray((_POWERS.T @ moments).T, dtype=float)


def _soft_step(x: SingleArray) -> tuple[SingleArray, SingleArray]:
    """``1 / (1 + exp(-x))`` and its integral."""
    one = np.float32(1.0)
    fade = np.abs(x)
    fade = exp_of(np.negative(fade, out=fade))
    whole = one + fade
    np.divide(fade, whole, out=fade)
    step: SingleArray = np.where(x > 0.0, one - fade, fade)
    np.maximum(x, np.float32(0.0), out=x)
    x += np.log(whole, out=whole)
    return step, x
