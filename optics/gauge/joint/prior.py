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
    waves, sines = _waves(part)
    uneven = shared.uneven[:, None].astype(np.float32)
    steep = np.matmul(-_ORDER * uneven, sines)[:, 0]
    log = np.matmul(uneven, waves)[:, 0] - past_low - past_high
    log -= log.max(axis=1, keepdims=True)  # between ends that meet all of it would underflow
    log -= np.log(np.exp(log).sum(axis=1, keepdims=True))
    return ThicknessPrior(log, below, above, part, waves, steep)


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
    stretch = (1.0 + shared.index_error)[:, None]
    width = shared.high_nm - shared.low_nm
    inner = excess * spread.steep / width[:, None]
    below, above = excess * spread.below / EDGE_NM, excess * spread.above / EDGE_NM
    by_low = -(below + inner * (1.0 - spread.part)).sum(axis=1, dtype=float)
    by_high = (above - inner * spread.part).sum(axis=1, dtype=float)
    by_thickness = (below - above + inner) * scale_nm / stretch**2
    slope[:, 5] -= model.doubts.index_spread * by_thickness.sum(axis=1)
    room = model.between_nm[1] - model.between_nm[0]
    at = (shared.low_nm - model.between_nm[0]) / np.maximum(room - width, 1e-9)
    narrow = np.sqrt(np.maximum(normal_cdf(-scores[:, 6]), 1e-30))
    reach = room * (1.0 - LEAST_WIDTH) * normal_density(scores[:, 6]) * 0.5 / narrow
    slope[:, 6] = reach * ((1.0 - at) * by_high - at * by_low)
    slope[:, 7] = (room - width) * normal_density(scores[:, 7]) * (by_low + by_high)
    slope[:, 9 : 9 + UNEVEN.size] = UNEVEN * np.matmul(spread.waves, excess[:, :, None])[:, :, 0]


def _waves(part: SingleArray) -> tuple[SingleArray, SingleArray]:
    """``cos(k π t)`` and ``sin(k π t)``, (n, K, t) each, from their recurrence in k."""
    cosines, sines = (np.empty((len(part), UNEVEN.size, part.shape[1]), np.float32) for _ in "cs")
    angle = np.float32(np.pi) * part
    cosine, sine = np.cos(angle), np.sin(angle)
    cosines[:, 0], sines[:, 0] = cosine, sine
    spare = np.empty_like(angle)
    for k in range(1, UNEVEN.size):
        np.multiply(cosines[:, k - 1], cosine, out=cosines[:, k])
        cosines[:, k] -= np.multiply(sines[:, k - 1], sine, out=spare)
        np.multiply(sines[:, k - 1], cosine, out=sines[:, k])
        sines[:, k] += np.multiply(cosines[:, k - 1], sine, out=spare)
    # Beyond the ends the prior is level but for its edge.
    sines *= ((part > 0.0) & (part < 1.0))[:, None]
    return cosines, sines


def _soft_step(x: SingleArray) -> tuple[SingleArray, SingleArray]:
    """``1 / (1 + exp(-x))`` and its integral."""
    fade = np.exp(-np.abs(x))
    part = fade / (np.float32(1.0) + fade)
    step: SingleArray = np.where(x > 0.0, np.float32(1.0) - part, part)
    return step, np.maximum(x, np.float32(0.0)) + np.log(np.float32(1.0) + fade)
