"""One film of many thicknesses on many bases: the table-building case of the engine.

The general engine computes the same numbers; here the round-trip phase is taken once for all
bases and both polarisations, and on an even grid of thicknesses it is a product of few phases,
which makes a table some nine times cheaper.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..errors import InputError
from .phase import round_trips
from .respond import films_as_arrays
from .slab import Face
from .stack import Stack
from .transfer import (
    ComplexArray,
    FloatArray,
    Incidence,
    Polarization,
    fields_at_top,
    reflected_and_passed,
    separate,
)

View = Literal["front", "through", "back"]

_THICKNESSES, _BLOCK_ELEMENTS = 2_048, 65_536  # at a time: what is divided stays in cache
_FINE = 64  # thicknesses that share one coarse phase
_EVEN = 4.0 * np.finfo(float).eps


@dataclass(frozen=True, eq=False)
class Base:
    """All that lies under a film.

    Attributes
    ----------
    index : ndarray of complex, shape (L + 1, W)
        Coherent layers under the film, then the substrate.
    thickness_nm : ndarray, shape (L,)
    slab_nm : float or None
        Thickness [nm] of a substrate with a second face, None for a half-space.
    back : tuple or None
        Index (B + 2, W) and thickness (B,) of the far face, from the air inward to the slab.
    """

    index: ComplexArray
    thickness_nm: FloatArray
    slab_nm: float | None = None
    back: Face | None = None


def base_of(below: Stack, wavelength_nm: FloatArray) -> Base:
    """A stack without sweeps as the base of a film.

    Raises
    ------
    InputError
        If the stack is swept.
    """
    if below.sweep_shape:
        raise InputError("what lies under the film cannot be swept")
    front = films_as_arrays(below, below.layers, wavelength_nm)
    if below.slab_nm is None:
        return Base(front.index[1:], front.thickness_nm)
    far = films_as_arrays(below, below.reversed().layers, wavelength_nm)
    back = far.index, far.thickness_nm
    return Base(front.index[1:], front.thickness_nm, below.slab_nm, back)


def one_film_shares(
    film: ComplexArray,
    bases: Sequence[Base],
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    angle_deg: float = 0.0,
    view: View = "front",
    weights: FloatArray | None = None,
) -> FloatArray:
    """Share of unpolarised light, from air, that a film on each of several bases sends back.

    Parameters
    ----------
    film : ndarray of complex, shape (W,)
        Index of the film.
    bases : sequence of Base
        S of them.
    thickness_nm : ndarray, shape (D,)
    wavelength_nm : ndarray, shape (W,)
    angle_deg : float
        Angle of incidence [°].
    view : {"front", "through", "back"}
        Reflected from the film's side, transmitted, or reflected from behind a slab.
    weights : ndarray, shape (W, n), optional
        Sums over the wavelengths with these in place of the spectra, which are then never stored.

    Returns
    -------
    ndarray, shape (S, D, W), or (S, D, n) of sums

    Raises
    ------
    InputError
        If the back of a half-space is asked for.

    Notes
    -----
    Airy's formula: all powers are ratios over ``|1 + r1 r2 z|²`` with ``z = x + iy = exp(2iδ)``
    and r1, r2 the reflections at the film's top and bottom. Each squared magnitude is a sum of
    four products, ``c0 + c1 |z|² + c2 x + c3 y``, of which only the c depend on base and
    polarisation (M. Born and E. Wolf, Principles of Optics, 7th ed., section 1.6.4). Faces of
    a slab add as in `slab.py`. On an even grid ``z`` is a coarse phase times one of 64 fine ones,
    so each squared magnitude is a matrix product of rank four. Inputs are trusted.
    """
    if view == "back" and any(base.slab_nm is None for base in bases):
        raise InputError("what lies under the film has no back to look at")
    incidence = Incidence.at(np.ones_like(wavelength_nm), np.asarray(angle_deg))
    kz_film = incidence.normal_component(film)
    crossing = 2.0 * np.pi / wavelength_nm * kz_film
    each = [
        [_Forms.of(film, base, wavelength_nm, incidence, one, view) for base in bases]
        for one in separate("mean", incidence)
    ]
    points = wavelength_nm.size if weights is None else weights.shape[1]
    shares = np.zeros((len(bases), points, thickness_nm.size))
    coarse_nm, fine_nm = _split(thickness_nm)
    fine = _Fine.of(round_trips(crossing[:, None] * fine_nm))
    room = np.empty(2 * _BLOCK_ELEMENTS)
    for few in _blocks(coarse_nm.size, _THICKNESSES // fine_nm.size):
        coarse = round_trips(crossing[:, None] * coarse_nm[few])
        rows = [[forms.over(coarse) for forms in one] for one in each]
        place = slice(few.start * fine_nm.size, few.stop * fine_nm.size)
        for at in _blocks(wavelength_nm.size, _BLOCK_ELEMENTS // _THICKNESSES):
            for s in range(len(bases)):
                for one in rows:
                    seen = one[s].at(at).seen(view, fine.at(at), room)
                    if len(rows) > 1:
                        seen *= 0.5
                    plain = seen.reshape(len(seen), -1)[:, : thickness_nm[place].size]
                    if weights is None:
                        shares[s, at, place] += plain
                    else:
                        shares[s, :, place] += weights[at].T @ plain
    return shares.swapaxes(1, 2)


def one_film_reflectance(
    film: ComplexArray,
    below: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    angle_deg: float = 0.0,
    weights: FloatArray | None = None,
) -> FloatArray:
    """Reflectance (S, D, W) of one film on bare half-spaces of index ``below`` (S, W), or sums."""
    bases = [Base(index[None], np.empty(0)) for index in below]
    return one_film_shares(film, bases, thickness_nm, wavelength_nm, angle_deg, "front", weights)


def _split(thickness_nm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Coarse and fine thicknesses whose sums are those given, of an even grid; else all and 0."""
    steps = np.arange(thickness_nm.size)
    if steps.size > 2:
        step = (thickness_nm[-1] - thickness_nm[0]) / (steps.size - 1)
        off = np.abs(thickness_nm - (thickness_nm[0] + step * steps)).max()
        if off <= _EVEN * np.abs(thickness_nm).max():
            return thickness_nm[::_FINE], np.asarray(step * steps[:_FINE], dtype=float)
    return thickness_nm, np.zeros(1)


@dataclass(frozen=True, eq=False)
class _Fine:
    """The fine part ζ of ``z = exp(2iδ) = Z ζ``, wavelengths first.

    Attributes
    ----------
    parts : ndarray, shape (W, 4, I)
        ``1, |ζ|², Re ζ, Im ζ``.
    size : ndarray, shape (W, 1, I)
        ``|ζ|``.
    """

    parts: FloatArray
    size: FloatArray

    @classmethod
    def of(cls, z: ComplexArray) -> _Fine:
        """From ζ of shape (W, I)."""
        parts = np.ones((len(z), 4, z.shape[1]))
        size = np.abs(z)
        parts[:, 1], parts[:, 2], parts[:, 3] = size * size, z.real, z.imag
        return cls(parts, size[:, None])

    def at(self, rows: slice) -> _Fine:
        """The same at some of the wavelengths."""
        return _Fine(self.parts[rows], self.size[rows])


@dataclass(frozen=True, eq=False)
class _Rows:
    """One base and polarisation over coarse phases: squared magnitudes as rows (W, M, 4)."""

    powers: FloatArray  # what all is divided by, and what the front sends back, (2, W, M, 4)
    inside: FloatArray | None  # of a slab
    passing: FloatArray | None  # transmittance is passing |ζ| / under, shape (W, M, 1)
    slab: tuple[FloatArray, ...] | None  # τ, R, T, R outside, shapes (W, 1, 1)

    def at(self, rows: slice) -> _Rows:
        """The same at some of the wavelengths."""
        return _Rows(
            self.powers[:, rows],
            None if self.inside is None else self.inside[rows],
            None if self.passing is None else self.passing[rows],
            None if self.slab is None else tuple(part[rows] for part in self.slab),
        )

    def seen(self, view: View, fine: _Fine, room: FloatArray) -> FloatArray:
        """Share of the light for one view, shape (W, M, I); ``room`` (2 W M I) is overwritten."""
        shape = 2, *self.powers.shape[1:3], fine.parts.shape[2]
        both: FloatArray = room[: math.prod(shape)].reshape(shape)
        np.matmul(self.powers, fine.parts, out=both)
        under: FloatArray = both[0]
        share: FloatArray = both[1]
        share /= under
        if self.passing is None:
            return share
        passing: FloatArray = self.passing * fine.size / under
        if self.slab is None or self.inside is None:
            return passing
        tau, R_far, T_far, R_outside = self.slab
        inside = (self.inside @ fine.parts) / under
        around = 1.0 - inside * R_far * tau**2
        if view == "through":
            share = passing * tau * T_far / around
        elif view == "back":
            share = R_outside + (T_far * tau) ** 2 * inside / around
        else:
            share += (passing * tau) ** 2 * R_far / around
        return share


@dataclass(frozen=True, eq=False)
class _Forms:
    """One base and polarisation: coefficients (4, W) for ``1, |z|², x, y``, and the slab's."""

    powers: FloatArray  # what all is divided by, and what the front sends back, (2, 4, W)
    inside: FloatArray | None  # reflection met from within the substrate, a slab
    passing: FloatArray | None  # transmittance is passing |z| / under, shape (W,)
    slab: tuple[FloatArray, FloatArray, FloatArray, FloatArray] | None  # τ, R, T, R outside

    @classmethod
    def of(
        cls,
        film: ComplexArray,
        base: Base,
        wavelength_nm: FloatArray,
        incidence: Incidence,
        one: Polarization,
        view: View,
    ) -> _Forms:
        """Reflections and transmissions of the base, as met from the film and from below.

        The latter are left out where nothing that passes is asked for.
        """
        q_air = _q(np.ones_like(film), incidence, one)
        q_film = _q(film, incidence, one)
        q_last = _q(base.index[-1], incidence, one)
        light = wavelength_nm, incidence, one
        E, H, crossing = fields_at_top(q_last, base.index[:-1], base.thickness_nm, *light)
        incoming = q_film * E + H
        r1, r2 = (q_air - q_film) / (q_air + q_film), (q_film * E - H) / incoming
        powers = np.stack([_squared(np.ones_like(r1), r1 * r2), _squared(r1, r2)])
        if view == "front" and base.slab_nm is None:
            return cls(powers, None, None, None)
        t1, t2 = 2.0 * q_air / (q_air + q_film), 2.0 * q_film * crossing / incoming
        E, H, crossing = fields_at_top(
            q_film, base.index[:-1][::-1], base.thickness_nm[::-1], *light
        )
        back_r, back_t = (
            (q_last * E - H) / (q_last * E + H),
            2.0 * q_last * crossing / (q_last * E + H),
        )
        return cls(
            powers,
            _squared(back_r, r1 * (r2 * back_r - t2 * back_t)),
            np.abs(t1 * t2) ** 2 * q_last.real / q_air.real,
            _far_face(base, *light),
        )

    def over(self, coarse: ComplexArray) -> _Rows:
        """Rows of the rank-four products for coarse phases (W, M)."""
        slab = self.slab
        return _Rows(
            _rows(self.powers, coarse),
            None if self.inside is None else _rows(self.inside, coarse),
            None if self.passing is None else (self.passing[:, None] * np.abs(coarse))[..., None],
            None if slab is None else tuple(part[:, None, None] for part in slab),
        )


def _rows(c: FloatArray, coarse: ComplexArray) -> FloatArray:
    """``c0 + c1 |Zζ|² + c2 Re Zζ + c3 Im Zζ`` as factors of ``1, |ζ|², Re ζ, Im ζ``.

    Shapes (..., 4, W) of c, (W, M) of Z and (..., W, M, 4) of the factors.
    """
    x, y = coarse.real, coarse.imag
    c0, c1, c2, c3 = np.moveaxis(c[..., None], -3, 0)
    rows = np.empty((*c0.shape[:-1], x.shape[-1], 4))
    rows[..., 0] = c0
    rows[..., 1] = c1 * (x * x + y * y)
    rows[..., 2] = c2 * x + c3 * y
    rows[..., 3] = c3 * x - c2 * y
    return rows


def _q(index: ComplexArray, incidence: Incidence, one: str) -> ComplexArray:
    kz = incidence.normal_component(index)
    return kz if one == "s" else kz / (index * index)


def _far_face(
    base: Base, wavelength_nm: FloatArray, incidence: Incidence, one: Polarization
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray] | None:
    """One crossing of the slab, and its far face met from inside (R, T) and outside (R)."""
    if base.slab_nm is None or base.back is None:
        return None
    index, thickness_nm = base.back
    kz = incidence.normal_component(base.index[-1])
    tau = np.exp(-4.0 * np.pi * base.slab_nm / wavelength_nm * kz.imag)
    R_outside, _ = reflected_and_passed(index, thickness_nm, wavelength_nm, incidence, one)
    R_far, T_far = reflected_and_passed(
        index[::-1], thickness_nm[::-1], wavelength_nm, incidence, one
    )
    return tau, R_far, T_far, R_outside


def _squared(constant: ComplexArray, turning: ComplexArray) -> FloatArray:
    """``|constant + turning z|²`` as coefficients (4, W) of ``1, |z|², x, y``."""
    crossed = np.conj(constant) * turning
    return np.stack(
        [np.abs(constant) ** 2, np.abs(turning) ** 2, 2.0 * crossed.real, -2.0 * crossed.imag]
    )


def _blocks(count: int, step: int) -> Iterator[slice]:
    return (slice(start, start + step) for start in range(0, count, step))
