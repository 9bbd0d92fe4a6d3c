"""A film whose thickness varies over the spot that is read: which thicknesses stand for it.

The more of a fringe the spread covers, the more of them it takes. Few are enough for what is a
polynomial over the spread (Gauss and Hermite). Beyond that even steps are better, as the mean of a
wave over a bell by steps h misses only waves of about 2π/h and more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .._typing import FloatArray, IndexArray

_NO_FRINGE = 9.0  # standard deviations of the phase [rad] beyond which nothing changes


def _even_steps(count: int, upto: float) -> tuple[FloatArray, FloatArray]:
    places = np.linspace(-upto, upto, count)
    return places, np.exp(-0.5 * places**2)


# Places in standard deviations and their weights, and the spread of the phase [rad] up to which
# they miss less than some 3e-4 of all light, for films of high index on metals and dielectrics.
_RULES = (
    (0.3, *np.polynomial.hermite_e.hermegauss(3)),
    (0.55, *np.polynomial.hermite_e.hermegauss(5)),
    (1.4, *_even_steps(11, 3.5)),
    (2.5, *_even_steps(19, 3.6)),
    (np.inf, *_even_steps(41, 3.9)),
)


@dataclass(frozen=True, eq=False)
class Build:
    """How N pieces are built, all of shape (N,).

    Attributes
    ----------
    thickness_nm : ndarray
        Of the dense film.
    rough_nm, mixed_nm : ndarray or None
        Of half film, half air on it, and of half film, half base under it; None for none.
    spread : ndarray or None
        Standard deviation of the thickness over the spot, relative; None for none.
    """

    thickness_nm: FloatArray
    rough_nm: FloatArray | None = None
    mixed_nm: FloatArray | None = None
    spread: FloatArray | None = None

    def take(self, rows: IndexArray) -> Build:
        """Some of the pieces."""
        parts = (self.rough_nm, self.mixed_nm, self.spread)
        return Build(
            self.thickness_nm[rows], *(None if one is None else one[rows] for one in parts)
        )


@dataclass(frozen=True, eq=False)
class Places:
    """Thicknesses met in the spots of N pieces, J each.

    Attributes
    ----------
    thickness_nm : ndarray, shape (N, J)
    weight : ndarray, shape (J,)
        Sum 1.
    to_mean, to_spread : ndarray, shape (N, J)
        How each thickness follows the mean one, and the relative spread [nm].
    """

    thickness_nm: FloatArray
    weight: FloatArray
    to_mean: FloatArray
    to_spread: FloatArray

    def mean(self, values: Any) -> Any:
        """Over the spot, of what has shape (N, J, ...)."""
        if self.weight.size == 1:
            return values[:, 0]
        return np.einsum("nj...,j->n...", values, self.weight)

    def slopes(self, to_d: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Derivatives to thickness and spread out of those (N, J, W) to each spot's thickness."""
        return self.mean(to_d * self.to_mean[..., None]), self.mean(
            to_d * self.to_spread[..., None]
        )


def even(thickness_nm: FloatArray) -> Places:
    """Films (N,) of one thickness each."""
    one = np.ones((len(thickness_nm), 1))
    return Places(thickness_nm[:, None], np.ones(1), one, 0.0 * one)


def uneven(build: Build, turn_per_nm: FloatArray) -> list[tuple[IndexArray, Places]]:
    """Films (N,) that vary: those that need as many thicknesses together, and which they are.

    Parameters
    ----------
    build : Build
        With a spread.
    turn_per_nm : ndarray, shape (N,)
        Phase that light gains there and back per thickness, where it gains most [rad/nm].
    """
    assert build.spread is not None
    phase = build.spread * build.thickness_nm * turn_per_nm
    found, from_phase = [], -np.inf
    for upto, places, weight in _RULES:
        rows = np.flatnonzero((phase > from_phase) & (phase <= upto))
        from_phase = upto
        if rows.size:
            own = build.take(rows)
            found.append((rows, _spots(own, turn_per_nm[rows], places, weight / weight.sum())))
    return found


def _spots(build: Build, turn_per_nm: FloatArray, places: FloatArray, weight: FloatArray) -> Places:
    assert build.spread is not None
    d = build.thickness_nm
    spread_nm = build.spread * d
    widest_nm = _NO_FRINGE / turn_per_nm
    free = (spread_nm <= widest_nm)[:, None]
    off_nm = np.minimum(spread_nm, widest_nm)[:, None] * places
    met = np.maximum(d[:, None] + off_nm, 0.0)
    to_mean = np.where(free, 1.0 + build.spread[:, None] * places, 1.0)
    return Places(met, weight, to_mean, np.where(free, d[:, None] * places, 0.0))
