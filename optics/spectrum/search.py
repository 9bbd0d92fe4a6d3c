"""All the ways a film's thickness can meet a spectrum: scan, descend, weigh.

A scan over the whole range of thickness solves for everything else to first order; every peak of
it starts a descent (Levenberg's and Marquardt's damped least squares, all starts of a world
at once, and of all worlds alike, with exact derivatives); what they end in are the modes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray, IndexArray
from .forward_model import DOUBTS, ForwardModel
from .sample_batch import ModelBatch

ROUGH_GAIN = 0.1
"""Nats; a step of a first look that gains less is the last."""
NO_RIVAL = 30.0
"""Nats above the best beyond which an end is given up."""

_COARSEST_NM = 8.0
_STEPS_A_FRINGE = 12.0
_STARTS, _HOPELESS = 7, 60.0  # starts for each world; nats beyond which an end is no rival
_STRONG = 1.0  # standard deviations of a doubt's size
# Bends of the index to look at, in standard deviations, by how far from the nearest of those above
# them one may lie.
_BENT = {np.inf: (0.0,), 3.0: (-2.0, 2.0), 1.0: (-3.0, -1.0, 1.0, 3.0)}
_FURTHEST_BENT, _STRAIGHT = 3.0, 0.01
_FURTHEST = 2.5  # standard deviations of the index looked at past the ends of the range
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


def scan(world: ForwardModel, reading: FloatArray, whitening: FloatArray) -> FloatArray:
    """Likely starts over the range of thickness.

    Parameters
    ----------
    world : ForwardModel
        With a thickness; the numbers z start at 0.
    reading : ndarray, shape (W,)
    whitening : ndarray, shape (W, W)

    Returns
    -------
    ndarray, shape (S, F)
        The highest peaks of the evidence to first order, best first.

    Notes
    -----
    What an index off by a factor does, thickness does nearly too, so that a scan at one index
    passes by every optical thickness. It goes on past either end of the range, with the index
    that gives a film at the end so long a path. A doubt is taken as strong: a weak one hides no
    thickness.
    """
    whole = _thickness_grid(world)
    heights, ends = [], []
    which, offsets = _dispersions(world)
    for offset, from_nm in offsets.items():
        grid = whole[whole >= from_nm] if from_nm < whole[-2] else whole[-2:]
        x = np.zeros((grid.size, 1 + len(world.parameters)))
        x[:, 0] = np.clip(grid, *world.between_nm)
        x[:, 1 + which] = offset
        if world.doubt:
            x[:, -len(DOUBTS[world.doubt])] = _STRONG  # its size comes first
        x = world.ridge.bend_back(x, grid)
        height, moved = _first_order(world, x, reading, whitening, 0.5 * (grid[1] - grid[0]))
        peak = np.concatenate([[True], height[1:] >= height[:-1]])
        peak &= np.concatenate([height[:-1] >= height[1:], [True]])
        heights.append(height[peak])
        ends.append(moved[peak])
    order = np.argsort(-np.concatenate(heights))
    return np.asarray(np.concatenate(ends)[order[: _STARTS * min(len(offsets), 3)]])


def _dispersions(world: ForwardModel) -> tuple[int, dict[float, float]]:
    """Which unknown of the index bends it most over the band, and where to scan along it, each
    place from a thickness [nm] on.

    An index off by a factor moves the fringes as thickness does; one that bends shifts those at
    one end of the band against the other's, by most of a fringe in a film of a micrometre. To
    first order a quarter of a fringe is bridged, to either side of a place.
    """
    x = np.zeros((1, 1 + len(world.parameters)))
    film, to_values = world.film(x, world.index, True)
    slopes = [p.slope(np.zeros(1)) for p in world.parameters[: len(to_values)]]
    bend = [
        float(np.ptp((own[0] * slope).real / film[0].real))
        for own, slope in zip(to_values, slopes, strict=True)
    ]
    which = int(np.argmax(bend))
    if bend[which] <= _STRAIGHT:
        return which, {0.0: -np.inf}
    quarter_nm = 0.25 * world.piece.wavelength_nm[0] / (2.0 * world.middle_index * bend[which])
    return which, {
        offset: quarter_nm / reach for reach, places in _BENT.items() for offset in places
    }


def _thickness_grid(world: ForwardModel) -> FloatArray:
    """Of films with the index in the middle of what it may be [nm]."""
    reach = world.ridge.reach(_FURTHEST)
    low, high = world.between_nm[0] * (1.0 - reach), world.between_nm[1] * (1.0 + reach)
    film, _ = world.film(np.zeros((1, 1 + len(world.parameters))), world.index, False)
    fringe = world.piece.wavelength_nm[0] / (2.0 * max(float(film.real.max()), 1.0))
    step = min(fringe / _STEPS_A_FRINGE, _COARSEST_NM)
    return np.linspace(low, high, max(2, int(np.ceil((high - low) / step)) + 1))


def _first_order(
    world: ForwardModel, x: FloatArray, reading: FloatArray, whitening: FloatArray, cell: float
) -> tuple[FloatArray, FloatArray]:
    """Log evidence about each x with the model taken as linear there, and where it is best.

    Parameters
    ----------
    cell : float
        Standard deviation of the thickness about each x [nm].
    """
    residual, information, pull = _project(world.draft, x, reading, whitening)
    precision = information + np.diag(np.concatenate([[1.0 / cell**2], np.ones(x.shape[1] - 1)]))
    pull[:, 1:] -= x[:, 1:]
    shift = np.linalg.solve(precision, pull[..., None])[..., 0]
    _, size = np.linalg.slogdet(precision)
    start = (residual**2).sum(axis=1) + (x[:, 1:] ** 2).sum(axis=1)
    height = -0.5 * (start - (pull * shift).sum(axis=1) + size)
    moved = np.clip(x + shift, *world.bounds)
    moved[:, 1:] = np.clip(moved[:, 1:], -_FURTHEST_BENT, _FURTHEST_BENT)
    return height, moved


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
            active[at] &= cost[at] - promised < min(rival, float(cost.min())) + NO_RIVAL
    return x, precision, cost


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
    for i in np.argsort(cost):
        near = any(abs(thickness[i] - thickness[j]) < _SAME_NM for j in kept)
        if np.isfinite(cost[i]) and not near and cost[i] < cost.min() + _HOPELESS:
            kept.append(int(i))
    return kept
