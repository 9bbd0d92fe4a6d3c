"""One film of many thicknesses on many bases: the table-building case of the engine.

The general engine computes the same numbers; here the round-trip phase is taken once for all
bases and both polarisations, which makes a table some fourteen times cheaper.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..errors import InputError
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

_BLOCK_ELEMENTS = 16_384


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

    Returns
    -------
    ndarray, shape (S, D, W)

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
    a slab add as in `slab.py`. Inputs are trusted.
    """
    if view == "back" and any(base.slab_nm is None for base in bases):
        raise InputError("what lies under the film has no back to look at")
    incidence = Incidence.at(np.ones_like(wavelength_nm), np.asarray(angle_deg))
    kz_film = incidence.normal_component(film)
    round_trip = 4j * np.pi / wavelength_nm * kz_film
    each = [
        [_Forms.of(film, base, wavelength_nm, incidence, one) for base in bases]
        for one in separate("mean", incidence)
    ]
    shares = np.empty((len(bases), thickness_nm.size, wavelength_nm.size))
    for rows in _blocks(thickness_nm.size, wavelength_nm.size):
        z = np.exp(thickness_nm[rows, None] * round_trip)
        parts = z.real.copy(), z.imag.copy()
        size = parts[0] ** 2 + parts[1] ** 2
        for s in range(len(bases)):
            seen = [forms[s].seen(view, size, *parts) for forms in each]
            shares[s, rows] = seen[0] if len(seen) == 1 else 0.5 * (seen[0] + seen[1])
    return shares


def one_film_reflectance(
    film: ComplexArray,
    below: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    angle_deg: float = 0.0,
) -> FloatArray:
    """Reflectance (S, D, W) of one film on bare half-spaces of index ``below`` (S, W)."""
    bases = [Base(index[None], np.empty(0)) for index in below]
    return one_film_shares(film, bases, thickness_nm, wavelength_nm, angle_deg)


@dataclass(frozen=True, eq=False)
class _Forms:
    """One base and polarisation: coefficients (4, W) for ``1, |z|², x, y``, and the slab's."""

    under: FloatArray
    front: FloatArray
    inside: FloatArray  # reflection met from within the substrate
    passing: FloatArray  # transmittance is passing |z| / under, shape (W,)
    slab: tuple[FloatArray, FloatArray, FloatArray, FloatArray] | None  # τ, R, T, R outside

    @classmethod
    def of(
        cls,
        film: ComplexArray,
        base: Base,
        wavelength_nm: FloatArray,
        incidence: Incidence,
        one: Polarization,
    ) -> _Forms:
        """Reflections and transmissions of the base, as met from the film and from below."""
        q_air = _q(np.ones_like(film), incidence, one)
        q_film = _q(film, incidence, one)
        q_last = _q(base.index[-1], incidence, one)
        E, H, crossing = fields_at_top(
            q_last, base.index[:-1], base.thickness_nm, wavelength_nm, incidence, one
        )
        r2, t2 = (q_film * E - H) / (q_film * E + H), 2.0 * q_film * crossing / (q_film * E + H)
        E, H, crossing = fields_at_top(
            q_film, base.index[:-1][::-1], base.thickness_nm[::-1], wavelength_nm, incidence, one
        )
        back_r, back_t = (
            (q_last * E - H) / (q_last * E + H),
            2.0 * q_last * crossing / (q_last * E + H),
        )
        r1 = (q_air - q_film) / (q_air + q_film)
        t1 = 2.0 * q_air / (q_air + q_film)
        return cls(
            _squared(np.ones_like(r1), r1 * r2),
            _squared(r1, r2),
            _squared(back_r, r1 * (r2 * back_r - t2 * back_t)),
            np.abs(t1 * t2) ** 2 * q_last.real / q_air.real,
            _far_face(base, wavelength_nm, incidence, one),
        )

    def seen(self, view: View, size: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
        """Share of the light for one view, shape (D, W)."""
        under = _combined(self.under, size, x, y)
        if self.slab is None:
            if view == "front":
                return _combined(self.front, size, x, y) / under
            through: FloatArray = self.passing * np.sqrt(size) / under
            return through
        tau, R_far, T_far, R_outside = self.slab
        inside = _combined(self.inside, size, x, y) / under
        passing = self.passing * np.sqrt(size) / under
        turns = 1.0 - inside * R_far * tau**2
        if view == "through":
            return passing * tau * T_far / turns
        if view == "back":
            return R_outside + (T_far * tau) ** 2 * inside / turns
        return _combined(self.front, size, x, y) / under + (passing * tau) ** 2 * R_far / turns


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


def _combined(c: FloatArray, size: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    total: FloatArray = c[1] * size
    total += c[0]
    total += c[2] * x
    total += c[3] * y
    return total


def _blocks(rows: int, points: int) -> Iterator[slice]:
    step = max(1, _BLOCK_ELEMENTS // points)
    return (slice(start, start + step) for start in range(0, rows, step))
