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

from .._typing import ComplexArray, FloatArray, IndexArray


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
# Beyond it nine films a fringe tell four overtones apart. Of the higher ones they miss 1e-5 to 3e-5
# of all light for titania on titanium and silicon, and 3e-4 on aluminium.
_OVERTONES = np.arange(1, 5)
_ROUND = 2.0 * np.pi / 9.0 * np.arange(-4, 5)
_TURNS = (_OVERTONES[:, None] * _ROUND).T
# Sums over the overtones: weights, their slopes to θ, and to σ over σ.
_SUMS = (2.0 / _ROUND.size) * np.concatenate(
    [np.cos(_TURNS), -_OVERTONES * np.sin(_TURNS), -(_OVERTONES**2) * np.cos(_TURNS)]
)
_STRAIGHT = np.ones((1, 1, 1), dtype=complex)


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
    thickness_nm : ndarray, shape (N, J or 1, 1)
    turned : ndarray of complex, shape (1 or N, J or 1, 1 or V)
        By what the round trip in each differs from that in a film so thick.
    weight : ndarray, shape (1 or N, J, 1 or V)
        Sum 1.
    to_mean, to_spread : ndarray, shape (N, J or 1)
        How each thickness follows the mean one, and the relative spread [nm].
    to_log_phase : ndarray or None
        How weights change with the logarithm of the spread of the phase, shape (N, J, V).
    """

    thickness_nm: FloatArray
    turned: ComplexArray
    weight: FloatArray
    to_mean: FloatArray
    to_spread: FloatArray
    to_log_phase: FloatArray | None = None

    def mean(self, values: Any) -> Any:
        """Over the spot, of what has shape (..., J, V)."""
        if self.weight.shape[1] == 1:
            return values[..., 0, :]
        return (values * self.weight).sum(axis=-2)


_Group = tuple[IndexArray, SpotFilms]
"""Places of some films among all, and what stands for them."""


def even(thickness_nm: FloatArray) -> SpotFilms:
    """Films (N,) of one thickness each."""
    one = np.ones((len(thickness_nm), 1))
    weight = np.ones((1, 1, 1))
    return SpotFilms(thickness_nm[:, None, None], _STRAIGHT, weight, one, 0.0 * one)


def group(build: Build, most: int, turn_per_nm: ComplexArray | None = None) -> Iterator[_Group]:
    """Films (N,) some at a time: those for which as many films stand together.

    Parameters
    ----------
    build : Build
    most : int
        How many films at a time.
    turn_per_nm : ndarray of complex, shape (N, V), optional
        Phase that light gains there and back per thickness [rad/nm], where spots vary.
    """
    if build.spread is None or turn_per_nm is None:
        for rows in _split(np.arange(build.thickness_nm.size), most):
            yield rows, even(build.thickness_nm[rows])
        return
    phase = build.spread * build.thickness_nm * turn_per_nm.real.max(axis=1)
    from_phase = -np.inf
    for upto, places, weight in _RULES:
        alike = np.flatnonzero((phase > from_phase) & (phase <= upto))
        from_phase = upto
        for rows in _split(alike, most // places.size):
            yield rows, _of_thicknesses(build.take(rows), places, weight / weight.sum())
    for rows in _split(np.flatnonzero(~(phase <= from_phase)), most // _ROUND.size):
        yield rows, _of_phases(build.take(rows), turn_per_nm[rows])


def _split(rows: IndexArray, step: int) -> Iterator[IndexArray]:
    step = max(step, 1)
    return (rows[start : start + step] for start in range(0, rows.size, step))


def _of_thicknesses(build: Build, places: FloatArray, weight: FloatArray) -> SpotFilms:
    assert build.spread is not None
    d = build.thickness_nm[:, None]
    to_mean = 1.0 + build.spread[:, None] * places
    met = np.maximum(d * to_mean, 0.0)
    return SpotFilms(met[..., None], _STRAIGHT, weight[None, :, None], to_mean, d * places)


def _of_phases(build: Build, turn_per_nm: ComplexArray) -> SpotFilms:
    """``w_j = (1 + 2 Σ_m cos(m θ_j) exp(-(m σ)²/2))/J`` of phases θ_j and spreads σ (N, V).

    Films of all fringes that meet at one phase differ in what they fade. On average they are
    ``-σ² w'/w`` off in phase, which the spread makes less than θ.
    """
    assert build.spread is not None
    d, along = build.thickness_nm[:, None, None], turn_per_nm.real
    square = (build.spread[:, None] * build.thickness_nm[:, None] * along) ** 2
    once = np.exp(-0.5 * square)
    fourth = np.square(np.square(once))
    eighth = fourth * fourth
    left = np.stack([once, fourth, eighth * once, eighth * eighth])  # exp(-(m σ)²/2)
    sums = (_SUMS @ left.reshape(len(left), -1)).reshape(3, _ROUND.size, *along.shape)
    weight, steep, bend = sums.swapaxes(1, 2)
    weight = weight + 1.0 / _ROUND.size
    off = np.maximum(-square[:, None] * steep / weight, -d * along[:, None])
    turned = np.exp(1j * _ROUND)[:, None] * np.exp(-(turn_per_nm.imag / along)[:, None] * off)
    one = np.ones((len(d), 1))
    return SpotFilms(d, turned, weight, one, 0.0 * one, to_log_phase=square[:, None] * bend)
