"""Where a film may lie: every thickness, bend of its index and doubt, weighed by curves alone.

The curves of all thicknesses are worked out once. How they change from one to the next is their
slope, what haze, a wide slit or an uneven film makes of them follows without working them out
again, and what else is unknown is solved for to first order about each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._typing import FloatArray
from .forward_model import DOUBTS, ForwardModel

_COARSEST_NM, _STEPS_A_FRINGE = 8.0, 8.0
_SIZES = (-1.0, 1.0)  # of a doubt, in standard deviations
# Bends of the index to look at, in standard deviations, by how far from the nearest of those above
# them one may lie.
_BENT = {np.inf: (0.0,), 3.0: (-2.0, 2.0), 1.0: (-3.0, -1.0, 1.0, 3.0)}
_FURTHEST_BENT, _STRAIGHT = 3.0, 0.01
_FURTHEST = 2.5  # standard deviations of the index looked at past the ends of the range


@dataclass(frozen=True, eq=False)
class Survey:
    """Curves of one film over the whole range of its thickness.

    Attributes
    ----------
    world : ForwardModel
        Without a doubt, smooth.
    grid_nm : ndarray, shape (G,)
        Thickness; past either end of the range, what an index off by a factor makes of the film at
        that end.
    bent : ndarray, shape (B,)
        Offsets of the unknown that bends the index most, upwards.
    from_nm : ndarray, shape (B,)
        Thickness from which each offset tells anything new.
    column : int
        The place of that unknown.
    """

    world: ForwardModel
    grid_nm: FloatArray
    bent: FloatArray
    from_nm: FloatArray
    column: int

    @classmethod
    def of(cls, world: ForwardModel) -> Survey:
        """The curves to be looked at for a world with a thickness and without a doubt."""
        column, offsets = _bends(world)
        bent = sorted(offsets)
        return cls(
            world.draft,
            _thickness_grid(world),
            np.array(bent),
            np.array([offsets[z] for z in bent]),
            column,
        )

    @property
    def fringe_nm(self) -> float:
        """Thickness from one fringe of the shortest wave to the next."""
        return _fringe_nm(self.world)

    @cached_property
    def _curve(self) -> FloatArray:
        """What is read of each without a doubt, shape (B, G, W)."""
        return _by(self._power, self.world.slit.known_blur)

    @cached_property
    def _power(self) -> FloatArray:
        """Before the slit, shape (B, G, V)."""
        return self.world.sweep(self._bent_only(self.world), self.grid_nm)

    def _bent_only(self, world: ForwardModel, size: float = 0.0) -> FloatArray:
        """Unknowns (B, F) of the offsets, with a doubt of some size, whatever the thickness."""
        x = np.zeros((self.bent.size, 1 + len(world.parameters)))
        x[:, self.column] = self.bent
        if world.doubt:
            x[:, -len(DOUBTS[world.doubt])] = size
        return x

    def starts(
        self, doubt: str, reading: FloatArray, whitening: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """The best places to descend from in a world with a doubt, or none.

        Parameters
        ----------
        doubt : str
        reading : ndarray, shape (W,)
        whitening : ndarray, shape (W, W)

        Returns
        -------
        x : ndarray, shape (S, F)
            Of ``world.with_doubt(doubt)``, best first.
        cost : ndarray, shape (S,)
            What a descent may come to, as far as that can be told from here.
        """
        world = self.world.with_doubt(doubt) if doubt else self.world
        sizes = _SIZES if doubt else (0.0,)
        left = [_by(reading - self._read(world, size), whitening.T) for size in sizes]
        to_size = (left[0] - left[-1]) / (sizes[-1] - sizes[0]) if doubt else None
        each = [
            self._peaks(world, size, residual, to_size)
            for size, residual in zip(sizes, left, strict=True)
        ]
        x, cost, height = (np.concatenate(part) for part in zip(*each, strict=True))
        order = np.argsort(-height)
        return x[order], cost[order]

    def _read(self, world: ForwardModel, size: float) -> FloatArray:
        """What is read of films with a doubt of some size, shape (B, G, W)."""
        x = self._bent_only(world, size)
        value = float(world.values(x[:1])[world.doubt][0]) if world.doubt else 0.0
        if world.doubt in ("absorption", "mixed layer"):
            return _by(world.sweep(x, self.grid_nm), world.slit.known_blur)
        if world.doubt == "bandwidth":
            return _by(self._power, world.slit.blur_of(value))
        if world.doubt == "thickness spread":
            return self._spread_over(value) @ self._curve
        if world.doubt == "finish":
            return self._curve * world.left_by(value, world.slit.read_nm)
        return self._curve * value if world.doubt == "scale" else self._curve

    def _spread_over(self, share: float) -> FloatArray:
        """Matrix (G, G) of means over films that vary by a share of their thickness."""
        step = self.grid_nm[1] - self.grid_nm[0]
        spread = share * np.maximum(self.grid_nm, 0.0) + 0.1 * step
        weight = np.exp(-0.5 * ((self.grid_nm - self.grid_nm[:, None]) / spread[:, None]) ** 2)
        return np.asarray(weight / weight.sum(axis=1, keepdims=True))

    def _peaks(
        self, world: ForwardModel, size: float, residual: FloatArray, to_size: FloatArray | None
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Unknowns (S, F), cost and log evidence (S,) where it is highest, to first order about
        whitened residuals (B, G, W)."""
        step = self.grid_nm[1] - self.grid_nm[0]
        columns, places = [-np.gradient(residual, step, axis=1)], [0]
        spread = [0.5 * step]
        if self.bent.size > 1:
            columns.append(-np.gradient(residual, self.bent, axis=0))
            places.append(self.column)
            spread.append(1.0)
        if to_size is not None:
            columns.append(to_size)
            places.append(1 + len(world.parameters) - len(DOUBTS[world.doubt]))
            spread.append(1.0)
        x = np.repeat(self._bent_only(world, size)[:, None], self.grid_nm.size, axis=1)
        z = x[..., places]
        precision, pull = _normal_equations(columns, residual)
        precision += np.diag(np.array(spread) ** -2)
        pull -= z
        shift = np.linalg.solve(precision, pull[..., None])[..., 0]
        start = np.einsum("bgw,bgw->bg", residual, residual) + (z**2).sum(axis=-1)
        cost = 0.5 * (start - (pull * shift).sum(axis=-1))
        height = -cost - 0.5 * np.linalg.slogdet(precision)[1]
        height[(self.grid_nm < self.from_nm[:, None]) | ~np.isfinite(height)] = -np.inf
        beside = np.pad(height, ((0, 0), (1, 1)), constant_values=-np.inf)
        peak = (height >= beside[:, :-2]) & (height >= beside[:, 2:]) & np.isfinite(height)
        x[..., 0] = self.grid_nm
        x[..., places] += shift
        return self._within(world, x[peak]), cost[peak], height[peak]

    def _within(self, world: ForwardModel, x: FloatArray) -> FloatArray:
        """Unknowns (N, F) in their bounds: past either end of the range, the index that gives a
        film at that end so long a path."""
        x[:, 1:] = np.clip(x[:, 1:], -_FURTHEST_BENT, _FURTHEST_BENT)
        grid = x[:, 0].copy()
        x[:, 0] = np.clip(grid, *world.between_nm)
        low, high = world.bounds
        return np.clip(world.ridge.bend_back(x, grid), low, high)


def _by(curves: FloatArray, matrix: FloatArray) -> FloatArray:
    """Curves (B, G, V) times a matrix (V, W), as one product."""
    flat = curves.reshape(-1, curves.shape[-1]) @ matrix
    return np.asarray(flat.reshape(*curves.shape[:-1], -1))


def _normal_equations(
    columns: Sequence[FloatArray], residual: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """What whitened residuals (..., W) tell of the unknowns whose slopes are given: information
    (..., F, F) and pull (..., F)."""
    count = len(columns)
    information = np.empty((*residual.shape[:-1], count, count))
    pull = np.empty((*residual.shape[:-1], count))
    for i, first in enumerate(columns):
        pull[..., i] = np.einsum("bgw,bgw->bg", first, residual)
        for j, second in enumerate(columns[: i + 1]):
            information[..., i, j] = np.einsum("bgw,bgw->bg", first, second)
            information[..., j, i] = information[..., i, j]
    return information, pull


def _bends(world: ForwardModel) -> tuple[int, dict[float, float]]:
    """Which unknown bends the index most over the band, and where to look along it, each place
    from a thickness [nm] on.

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
        return 1 + which, {0.0: -np.inf}
    quarter_nm = 0.25 * world.piece.wavelength_nm[0] / (2.0 * world.middle_index * bend[which])
    return 1 + which, {
        offset: quarter_nm / reach for reach, places in _BENT.items() for offset in places
    }


def _thickness_grid(world: ForwardModel) -> FloatArray:
    """Of films with the index in the middle of what it may be [nm].

    What an index off by a factor does, thickness does nearly too, so that a scan at one index
    passes by every optical thickness; it goes on past either end of the range.
    """
    reach = world.ridge.reach(_FURTHEST)
    low, high = world.between_nm[0] * (1.0 - reach), world.between_nm[1] * (1.0 + reach)
    step = min(_fringe_nm(world) / _STEPS_A_FRINGE, _COARSEST_NM)
    return np.linspace(low, high, max(3, int(np.ceil((high - low) / step)) + 1))


def _fringe_nm(world: ForwardModel) -> float:
    film, _ = world.film(np.zeros((1, 1 + len(world.parameters))), world.index, False)
    return float(world.piece.wavelength_nm[0] / (2.0 * max(float(film.real.max()), 1.0)))
