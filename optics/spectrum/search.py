"""From starts to best fits: Levenberg's and Marquardt's damped least squares.

All starts of a world are followed at once, and of all worlds alike, with exact derivatives; what
they end in are the modes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray, IndexArray
from .forward_model import ForwardModel
from .sample_batch import ModelBatch

ROUGH_GAIN = 0.1
"""Nats; a step of a first look that gains less is the last."""

_NO_RIVAL = 30.0  # nats above the best beyond which an end is given up
_DESCENTS = 30
_GAIN = 2e-3  # nats; a step that gains less is the last
_TRIED = 2  # steps before one is given up that promises to stay too far above its rivals
_HELD = 1e12
_SAME_NM = 0.5


@dataclass(frozen=True, eq=False)
class Mode:
    """A best fit, and the bell about it.

    Attributes
    ----------
    world : ForwardModel
    x : ndarray, shape (F,)
        The unknowns: thickness [nm] if the world has one, then z.
    precision : ndarray, shape (F, F)
        Curvature of half the squared residuals, prior included.
    loose : ndarray, shape (F, F)
        The same if the model misses more than the best fit shows.
    rms : float
        Of the residual [-].
    log_evidence : float
        Of the bell, the world's prior included.
    """

    world: ForwardModel
    x: FloatArray
    precision: FloatArray
    loose: FloatArray
    rms: float
    log_evidence: float

    @property
    def thickness_nm(self) -> float:
        """Thickness of the dense film [nm]."""
        return float(self.world.thickness_nm(self.x[None])[0])


def descend(
    family: ModelBatch,
    which: IndexArray,
    starts: FloatArray,
    *,
    reading: FloatArray,
    whitening: FloatArray,
    rival: float | None = None,
    least_gain: float = _GAIN,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Best fits from starts (N, F) of a family's worlds numbered ``which`` (N,).

    Unknowns (N, F), curvature (N, F, F) and cost (N,) are returned. Steps end where they gain less
    than ``least_gain`` nats and, where the cost of a ``rival`` is given, where they promise to stay
    far above it and the best of their own.

    Notes
    -----
    Own code for its speed: with all starts of all worlds in one call it takes a seventh to a
    fiftieth of the time of ``scipy.optimize.least_squares`` and finds the same best fits
    (``benchmarks/descents.md``).

    K. Levenberg, Q. Appl. Math. 2, 164 (1944); D. W. Marquardt, J. SIAM 11, 431 (1963).
    """
    low, high = family.worlds[0].bounds
    ridge = family.worlds[0].ridge
    x = np.clip(starts, low, high)
    damping = np.full(len(x), 1e-2)
    cost, precision, pull = _cost(family.at(which), x, reading, whitening)
    active = np.ones(len(x), dtype=bool)
    for steps in range(_DESCENTS):
        at = np.flatnonzero(active)
        if at.size == 0:
            break
        stiff = damping[at, None] * np.diagonal(precision[at], axis1=1, axis2=2)
        # An unknown that is pushed against its bound is held there.
        held = ((x[at] <= low) & (pull[at] < 0.0)) | ((x[at] >= high) & (pull[at] > 0.0))
        stiff = np.where(held, _HELD * (1.0 + stiff), stiff)
        step = np.linalg.solve(
            precision[at] + stiff[:, :, None] * np.eye(x.shape[1]), pull[at][..., None]
        )[..., 0]
        tried = np.clip(ridge.step_along(x[at], np.asarray(step, dtype=float)), low, high)
        promised = ((np.clip(x[at] + step, low, high) - x[at]) * pull[at]).sum(axis=1)
        new_cost, new_precision, new_pull = _cost(family.at(which[at]), tried, reading, whitening)
        better = new_cost < cost[at]
        gain = np.where(better, cost[at] - new_cost, np.inf)
        won = at[better]
        x[won], cost[won] = tried[better], new_cost[better]
        precision[won], pull[won] = new_precision[better], new_pull[better]
        damping[at] = np.where(better, damping[at] * 0.1, damping[at] * 8.0)
        active[at] = (gain > least_gain) & (promised > least_gain)
        if rival is not None and steps >= _TRIED:
            best = min(rival, float(cost.min()))
            active[at] &= cost[at] - promised < rival_limit(best, reading.size)
    return x, precision, cost


def rival_limit(best: float, count: int) -> float:
    """Cost up to which an end may be a rival of the best, with so many readings.

    The best costs half a nat a reading where the noise is as it was taken; where the noise is
    larger, costs say less.
    """
    return best + _NO_RIVAL * max(1.0, 2.0 * best / count)


def curvature(
    world: ForwardModel, x: FloatArray, *, reading: FloatArray, whitening: FloatArray
) -> FloatArray:
    """Curvature (N, F, F) of half the squared residuals, prior included, at unknowns (N, F)."""
    return _cost(world, x, reading, whitening)[1]


def _cost(
    world: ForwardModel, x: FloatArray, reading: FloatArray, whitening: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Half the squared residuals (N,), curvature (N, F, F) and downhill pull (N, F)."""
    residual, information, pull = _project(world, x, reading, whitening)
    first = int(world.has_thickness)
    prior = np.ones(x.shape[1])
    prior[:first] = 12.0 / (world.between_nm[1] - world.between_nm[0]) ** 2  # of a uniform range
    precision = information + np.diag(prior)
    pull[:, first:] -= x[:, first:]
    cost = 0.5 * ((residual**2).sum(axis=1) + (x[:, first:] ** 2).sum(axis=1))
    bad = ~(np.isfinite(cost) & np.isfinite(precision).all(axis=(1, 2)))
    cost[bad], precision[bad], pull[bad] = np.inf, np.eye(x.shape[1]), 0.0
    return cost, precision, pull


def _project(
    world: ForwardModel, x: FloatArray, reading: FloatArray, whitening: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Whitened residuals (N, W), what readings tell of the unknowns (N, F, F), and how residuals
    pull them (N, F)."""
    curve, jacobian = world.slopes(x)
    residual = (reading - curve) @ whitening.T
    # One product of large matrices: the unknowns come first in memory.
    steep = np.swapaxes(np.moveaxis(jacobian, -1, 0) @ whitening.T, 0, 1)
    return residual, steep @ np.swapaxes(steep, 1, 2), (steep @ residual[..., None])[..., 0]


def find_distinct(x: FloatArray, cost: FloatArray, world: ForwardModel) -> list[int]:
    """Positions of the different ends of descents, best first."""
    kept: list[int] = []
    thickness = world.thickness_nm(x)
    limit = rival_limit(float(cost.min()), world.slit.read_nm.size)
    for i in np.argsort(cost):
        near = any(abs(thickness[i] - thickness[j]) < _SAME_NM for j in kept)
        if np.isfinite(cost[i]) and not near and cost[i] < limit:
            kept.append(int(i))
    return kept
