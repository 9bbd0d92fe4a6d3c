"""A film whose thickness varies over the spot that is read: which films stand for it.

As long as the spread covers a part of a fringe, some thicknesses are enough: few for what is a
polynomial over the spread (Gauss and Hermite), then even steps. Beyond that the power is a wave of
the film's phase with overtones, each of which the spread fades by itself. So films stand for it
that differ by even parts of one fringe, at each wavelength of its own, and weights that make of
their sum just that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from .._typing import FloatArray, IndexArray


def _even_places(count: int, upto: float) -> tuple[FloatArray, FloatArray]:
    places = np.linspace(-upto, upto, count)
    return places, np.exp(-0.5 * places**2)


# Standard deviation of the phase [rad] up to which so many thicknesses are enough: their places in
# standard deviations and their weights. They miss less than some 3e-4 of all light, for films of
# high index on metals and dielectrics.
_RULES = (
    (0.3, *np.polynomial.hermite_e.hermegauss(3)),
    (0.55, *np.polynomial.hermite_e.hermegauss(5)),
    (1.4, *_even_places(11, 3.5)),
)
# Of a wave beyond that, the fifth overtone and higher are less.
_OVERTONES = np.arange(1, 5)
_ROUND = 2.0 * np.pi / 9.0 * np.arange(-4, 5)
_TURNS = _OVERTONES[:, None] * _ROUND
_EACH = 2.0 / _ROUND.size


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
class SpotFilms:
    """The films, J each, that stand for the spots of N pieces at V wavelengths.

    Attributes
    ----------
    thickness_nm, fading_nm : ndarray, shape (N, J, 1 or V)
        By which light turns in each, and by which it fades.
    weight : ndarray, shape (1 or N, J, 1 or V)
        Sum 1.
    to_mean, to_spread : ndarray, shape (N, J or 1)
        How each thickness follows the mean one, and the relative spread [nm].
    to_log_phase : ndarray or None
        How weights change with the logarithm of the spread of the phase, shape (N, J, V).
    """

    thickness_nm: FloatArray
    fading_nm: FloatArray
    weight: FloatArray
    to_mean: FloatArray
    to_spread: FloatArray
    to_log_phase: FloatArray | None = None

    def take(self, rows: slice) -> SpotFilms:
        """Those of some of the pieces."""
        return SpotFilms(
            self.thickness_nm[rows],
            self.fading_nm[rows],
            self.weight if len(self.weight) == 1 else self.weight[rows],
            self.to_mean[rows],
            self.to_spread[rows],
            None if self.to_log_phase is None else self.to_log_phase[rows],
        )

    def mean(self, values: Any) -> Any:
        """Over the spot, of what has shape (..., J, V)."""
        if self.weight.shape[1] == 1:
            return values[..., 0, :]
        return (values * self.weight).sum(axis=-2)


def even(thickness_nm: FloatArray) -> SpotFilms:
    """Films (N,) of one thickness each."""
    one = np.ones((len(thickness_nm), 1))
    met = thickness_nm[:, None, None]
    return SpotFilms(met, met, np.ones((1, 1, 1)), one, 0.0 * one)


def uneven(build: Build, turn_per_nm: FloatArray) -> Iterator[tuple[IndexArray, SpotFilms]]:
    """Films (N,) that vary: those for which as many films stand together, and which they are.

    Parameters
    ----------
    build : Build
        With a spread.
    turn_per_nm : ndarray, shape (N, V)
        Phase that light gains there and back per thickness [rad/nm].
    """
    assert build.spread is not None
    phase = (build.spread * build.thickness_nm)[:, None] * turn_per_nm
    most, from_phase = phase.max(axis=1), -np.inf
    for upto, places, weight in _RULES:
        rows = np.flatnonzero((most > from_phase) & (most <= upto))
        from_phase = upto
        if rows.size:
            yield rows, _of_thicknesses(build.take(rows), places, weight / weight.sum())
    rows = np.flatnonzero(~(most <= from_phase))
    if rows.size:
        yield rows, _of_phases(build.thickness_nm[rows], phase[rows], turn_per_nm[rows])


def _of_thicknesses(build: Build, places: FloatArray, weight: FloatArray) -> SpotFilms:
    assert build.spread is not None
    d = build.thickness_nm[:, None]
    to_mean = 1.0 + build.spread[:, None] * places
    met = np.maximum(d * to_mean, 0.0)
    return SpotFilms(met[..., None], met[..., None], weight[None, :, None], to_mean, d * places)


def _of_phases(thickness_nm: FloatArray, phase: FloatArray, turn_per_nm: FloatArray) -> SpotFilms:
    """``w_j = (1 + 2 Σ_m cos(m θ_j) exp(-(m σ)²/2))/J`` of phases θ_j and spreads σ (N, V).

    Films of all fringes that meet at one phase differ in what they fade. On average they are
    ``-σ² w'/w`` off in phase, which the spread makes less than θ.
    """
    squares = (_OVERTONES * phase[..., None]) ** 2
    left = np.exp(-0.5 * squares)
    weight = 1.0 / _ROUND.size + (left @ np.cos(_TURNS)).swapaxes(1, 2) * _EACH
    steep = -(left * _OVERTONES @ np.sin(_TURNS)).swapaxes(1, 2) * _EACH
    fading = -(left * squares @ np.cos(_TURNS)).swapaxes(1, 2) * _EACH
    off = -(phase[:, None] ** 2) * steep / weight
    d, per_nm = thickness_nm[:, None, None], turn_per_nm[:, None]
    one = np.ones((len(thickness_nm), 1))
    return SpotFilms(
        d + _ROUND[:, None] / per_nm,
        np.maximum(d + off / per_nm, 0.0),
        weight,
        to_mean=one,
        to_spread=0.0 * one,
        to_log_phase=fading,
    )
