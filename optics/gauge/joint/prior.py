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

_ORDER = np.float32(np.pi) * np.arange(1, UNEVEN.size + 1, dtype=np.float32)


class ThicknessPrior(NamedTuple):
    """Prior of thickness over the scale.

    ``log`` (n, t) is the log weight of each step; ``below`` and ``above`` (n, t) how far it is
    past either end, from 0 to 1; ``part`` (n, t) where between the ends it lies, ``waves``
    (n, K, t) the cosines that make it uneven, and ``steep`` (n, t) the slope of their sum.
    """

    log: SingleArray
    below: SingleArray
    above: SingleArray
    part: SingleArray
    waves: SingleArray
    steep: SingleArray


def thickness_prior(scale_nm: FloatArray, shared: SharedUnknowns) -> ThicknessPrior:
    """The prior on a scale (t,) of thickness times one plus the index error, for n rows."""
    edges = (scale_nm / EDGE_NM).astype(np.float32)
    stretch = (1.0 / (1.0 + shared.index_error)).astype(np.float32)
    thickness = edges * stretch[:, None]
    low, high = (
        (end / EDGE_NM).astype(np.float32)[:, None] for end in (shared.low_nm, shared.high_nm)
    )
    below, past_low = _soft_step(low - thickness)
    above, past_high = _soft_step(thickness - high)
    part = np.clip((thickness - low) / (high - low), np.float32(0.0), np.float32(1.0))
    uneven = shared.uneven.astype(np.float32)
    waves, steep = _waves(part, uneven)
    log = np.matmul(uneven[:, None], waves)[:, 0]
    log -= past_low
    log -= past_high
    log -= log.max(axis=1, keepdims=True)  # between ends that meet all of it would underflow
    log -= np.log(np.exp(log).sum(axis=1, keepdims=True))
    return ThicknessPrior(log, below, above, part, waves, steep)


def log_ends(scale_nm: FloatArray, shared: SharedUnknowns) -> SingleArray:
    """The log of the prior (n, t) but for its unevenness and its sum."""
    thickness = scale_nm / (1.0 + shared.index_error)[:, None]
    past = np.maximum(shared.low_nm[:, None] - thickness, thickness - shared.high_nm[:, None])
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

    ``excess`` (n, t) is how many spots more than the prior has are at each step of ``scale_nm``.
    """
    stretch = 1.0 + shared.index_error
    width = shared.high_nm - shared.low_nm
    inner = excess * spread.steep
    inner /= width.astype(np.float32)[:, None]
    below, above = excess * spread.below / EDGE_NM, excess * spread.above / EDGE_NM
    by_low = -(below + inner * (1.0 - spread.part)).sum(axis=1, dtype=float)
    by_high = (above - inner * spread.part).sum(axis=1, dtype=float)
    by_thickness = ((below - above + inner) @ scale_nm.astype(np.float32)) / stretch**2
    slope[:, 5] -= model.doubts.index_spread * by_thickness
    room = model.between_nm[1] - model.between_nm[0]
    at = (shared.low_nm - model.between_nm[0]) / np.maximum(room - width, 1e-9)
    narrow = np.sqrt(np.maximum(normal_cdf(-scores[:, 6]), 1e-30))
    reach = room * (1.0 - LEAST_WIDTH) * normal_density(scores[:, 6]) * 0.5 / narrow
    slope[:, 6] = reach * ((1.0 - at) * by_high - at * by_low)
    slope[:, 7] = (room - width) * normal_density(scores[:, 7]) * (by_low + by_high)
    slope[:, 9 : 9 + UNEVEN.size] = UNEVEN * np.matmul(spread.waves, excess[:, :, None])[:, :, 0]


def _waves(part: SingleArray, uneven: SingleArray) -> tuple[SingleArray, SingleArray]:
    """``cos(k π t)`` (n, K, t), and the slope (n, t) of their sum, by recurrence in k."""
    cosine = np.cos(np.float32(np.pi) * part)
    twice = cosine + cosine
    waves = np.empty((len(part), UNEVEN.size, part.shape[1]), np.float32)
    waves[:, 0] = cosine
    np.multiply(twice, cosine, out=waves[:, 1])
    waves[:, 1] -= np.float32(1.0)
    for k in range(2, UNEVEN.size):
        np.multiply(twice, waves[:, k - 1], out=waves[:, k])
        waves[:, k] -= waves[:, k - 2]
    # sin(k x) is sin(x) times a polynomial of cos(x); beyond the ends, where t stops, sin(x) is 0.
    factor = -_ORDER * uneven
    steep, before = np.zeros_like(part), np.zeros_like(part)
    for k in reversed(range(UNEVEN.size)):
        before *= np.float32(-1.0)
        before += twice * steep
        before += factor[:, k, None]
        steep, before = before, steep
    steep *= np.sqrt(np.maximum(np.float32(1.0) - cosine * cosine, np.float32(0.0)))
    return waves, steep


def _soft_step(x: SingleArray) -> tuple[SingleArray, SingleArray]:
    """``1 / (1 + exp(-x))`` and its integral."""
    fade = np.exp(-np.abs(x))
    part = fade / (np.float32(1.0) + fade)
    step: SingleArray = np.where(x > 0.0, np.float32(1.0) - part, part)
    return step, np.maximum(x, np.float32(0.0)) + np.log(np.float32(1.0) + fade)
