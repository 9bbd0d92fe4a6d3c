"""Many stacks out of one palette of media at the same directions, with slopes to thicknesses.

A search asks for thousands of stacks at the wavelengths and angles it has had from the start, so
that all that belongs to a medium is worked out once. Measured against
:func:`~oxhue.optics.films.engine.gradient.coherent_gradient`, which takes any stacks: two to ten
times as fast, the most for few stacks of many layers. Phases are worked out to 1e-15 of a turn from
a table and a short series, since numpy takes sines and cosines number by number, ten times as
slowly. In single precision, which does for comparing, it takes them many at a time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..._typing import BoolArray, ComplexArray, FloatArray, IndexArray
from ..spectra import Asked
from .incidence import Incidence, Polarization, separate
from .recursion import abs_squared, strength_of, waves

_BLOCK = 6_144  # complex numbers of one layer of a block, which should stay in the caches
MOST_SINGLE = 45
"""Layers whose waves single precision holds: they double at each boundary."""
_STEEP = 1e-3  # kz below which waves up and down are too alike to be told from each other
_PARTS = 4096  # of a turn in the table; half of one to the sixth power is nothing
_TURNS = np.exp(2j * np.pi * np.arange(_PARTS) / _PARTS)


@dataclass(frozen=True, eq=False)
class PaletteWaves:
    """What a palette of M media is to light at N points: wavelengths times angles.

    Attributes
    ----------
    turn : ndarray, shape (M, N)
        Phase of a round trip a nanometre, ``2 k0 Re kz``.
    fade : ndarray, shape (M, N)
        Its loss, ``-2 k0 Im kz``.
    ratio : ndarray of complex, shape (M + 2, M + 2, P, N)
        Admittance of the second medium over that of the first; the last two media are ambient and
        substrate.
    pull : ndarray of complex, shape (M, P, N)
        ``k0 kz q``, what a slope of R is in proportion to.
    across, bottom : ndarray of complex, shape (P, N)
        Admittances of ambient and substrate.
    """

    turn: FloatArray
    fade: FloatArray
    ratio: ComplexArray
    pull: ComplexArray
    across: ComplexArray
    bottom: ComplexArray

    @cached_property
    def is_clear(self) -> bool:
        """Whether no medium takes any light, so that T is 1 - R."""
        return not (self.fades.any() or self.bottom.imag.any() or self.across.imag.any())

    @cached_property
    def fades(self) -> BoolArray:
        """Which media take any light, shape (M,)."""
        return np.asarray(self.fade.any(axis=1))

    @cached_property
    def pulls(self) -> tuple[FloatArray, FloatArray | None]:
        """Real and imaginary part of ``pull``, the second only where it is not all 0."""
        real, imag = (np.ascontiguousarray(part) for part in (self.pull.real, self.pull.imag))
        return real, imag if imag.any() else None

    @cached_property
    def in_single(self) -> PaletteWaves:
        """The same in single precision, for at most `MOST_SINGLE` layers: R and T to 2e-5."""
        real, both = np.float32, np.complex64
        return replace(
            self, turn=self.turn.astype(real), fade=self.fade.astype(real),
            ratio=self.ratio.astype(both), pull=self.pull.astype(both),
            across=self.across.astype(both), bottom=self.bottom.astype(both),
        )  # fmt: skip


def make_palette_waves(
    rows: ComplexArray,
    outer: tuple[ComplexArray, ComplexArray],
    wavelength_nm: FloatArray,
    *,
    incidence: Incidence,
    polarization: Polarization,
) -> PaletteWaves | None:
    """Ready a palette of indices (M, W) between an ambient and a substrate (W,), at K directions.

    None where a medium carries a wave along its surface, for which the general way is safe.
    """
    wanted = separate(polarization, incidence)
    count, points = incidence.lead[0], wavelength_nm.size
    kz, q = [], []
    for n in (*rows, *outer):
        own_kz, own_q = waves(n[None], incidence, wanted)
        kz.append(np.broadcast_to(own_kz, (count, points)).reshape(-1))
        q.append(np.broadcast_to(own_q, (len(wanted), count, points)).reshape(len(wanted), -1))
    normal, level = np.array(kz), np.array(q)
    if np.abs(normal).min() < _STEEP:
        return None
    k0 = np.tile(2.0 * np.pi / wavelength_nm, count)
    round_trip = 2.0 * k0 * normal[:-2]
    return PaletteWaves(
        np.ascontiguousarray(round_trip.real), -round_trip.imag,
        level[None] / level[:, None], (k0 * normal[:-2])[:, None] * level[:-2],
        level[-2], level[-1],
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class PaletteSlopes:
    """R and T, shape (B, N), the mean of the polarisations; slopes (B, own, N), or None."""

    R: FloatArray
    T: FloatArray
    dR: FloatArray | None = None
    dT: FloatArray | None = None


def solve_palette(
    lit: PaletteWaves,
    which: IndexArray,
    thickness_nm: FloatArray,
    *,
    own: slice,
    slopes: Asked | None,
) -> PaletteSlopes:
    """Powers of B stacks of L layers, media ``which`` (L,) or (B, L) and thicknesses (B, L).

    ``slopes`` names the powers whose slopes to the layers ``own`` are wanted, None for none.

    Notes
    -----
    In each layer go a wave down, f, and one up, g, of which the common factor ``exp(-iδ)`` is left
    out, so that crossing a layer multiplies g by the round trip ``z = exp(2iδ)``; each boundary
    doubles both, which is taken out at the end.
    A slice more of layer j changes ``f_j`` and ``g_j`` by ∓iβ of themselves, β = k0 kz, and as
    the boundaries' determinants multiply to ``q_j/q_0``,
    ``dr/dd_j = 2iβ (q_j/q_0) f_j g_j / f_0² · Π z`` over the layers above.
    For T the row of ``f_0`` to ``(f_j, g_j)`` is carried down too:
    ``dT/dd_j = -2T Re(iβ (2 u_g g_j / f_0 - 1))``.
    """
    thickness_nm = thickness_nm.astype(lit.turn.dtype, copy=False)
    stacks = len(thickness_nm)
    points = lit.turn.shape[1] * len(lit.across)
    if which.ndim == 2 and stacks and (which == which[0]).all():
        which = which[0]
    step = max(1, _BLOCK // max(points, 1))
    parts = []
    for start in range(0, max(stacks, 1), step):
        rows = slice(start, start + step)
        media = which if which.ndim == 1 else which[rows]
        parts.append(_PaletteBlock.of(lit, media, thickness_nm[rows]).solve(own, slopes))
    if len(parts) == 1:
        return parts[0]
    joined = (
        np.concatenate([getattr(part, name) for part in parts])
        if getattr(parts[0], name) is not None
        else None
        for name in ("R", "T", "dR", "dT")
    )
    return PaletteSlopes(*joined)  # type: ignore[arg-type]  # R and T are never None


@dataclass(frozen=True, eq=False)
class _PaletteBlock:
    """Some of the stacks.

    Attributes
    ----------
    order : ndarray of int, shape (1 or B, L)
    trips : ndarray of complex, shape (L, B, 1, N)
        ``exp(2iδ)`` of the layers.
    steps : list of ndarray of complex, shape (1 or B, P, N)
        Ratios of admittance at the boundaries, from the top down.
    """

    lit: PaletteWaves
    order: IndexArray
    trips: ComplexArray
    steps: list[ComplexArray]

    @classmethod
    def of(cls, lit: PaletteWaves, which: IndexArray, nm: FloatArray) -> _PaletteBlock:
        order = np.atleast_2d(which)
        ends = (np.full((len(order), 1), len(lit.turn) + more) for more in (0, 1))
        whole = np.concatenate([next(ends), order, next(ends)], axis=1)
        steps = [lit.ratio[whole[:, j], whole[:, j + 1]] for j in range(whole.shape[1] - 1)]
        return cls(lit, order, _round_trips(lit, order, nm)[:, :, None], steps)

    def solve(self, own: slice, slopes: Asked | None) -> PaletteSlopes:
        """Powers, and slopes of the layers ``own``."""
        asked: set[str] = set(slopes or "")
        if asked and self.lit.is_clear:
            asked = {"R"}
        (layers, stacks), lit = self.trips.shape[:2], self.lit
        shape = (stacks, *lit.across.shape)
        kind = self.trips.dtype
        f, g, spare = np.ones(shape, kind), np.zeros(shape, kind), np.empty(shape, kind)
        up, both = (
            np.empty((layers if power in asked else 0, *shape), kind) for power in ("T", "R")
        )
        for j in range(layers - 1, -1, -1):
            _meet(f, g, self.steps[j + 1], spare)
            g *= self.trips[j]
            if len(up):
                up[j] = g
            if len(both):
                np.multiply(f, g, out=both[j])
        _meet(f, g, self.steps[0], spare)
        inverse = np.divide(1.0, f, out=f)
        r = np.multiply(g, inverse, out=g)
        R, T = abs_squared(r), self._passed(inverse)
        dR = self._slopes_of_R(both, r * inverse.conj() ** 2, own) if len(both) else None
        dT = self._slopes_of_T(up, T, inverse, own) if len(up) else None
        if lit.is_clear and dR is not None:  # T = 1 - R
            dT = np.negative(dR) if "T" in str(slopes) else None
            dR = dR if "R" in str(slopes) else None
        return PaletteSlopes(R.mean(axis=1), T.mean(axis=1), dR, dT)

    def _passed(self, inverse: ComplexArray) -> FloatArray:
        """``T = Re q_s / Re q_0 / |f_0|²`` less what layers took, shape (B, P, N)."""
        lit, layers = self.lit, len(self.trips)
        strength = lit.bottom.real * strength_of(lit.across) / abs_squared(lit.across)
        T = abs_squared(inverse)
        T *= strength * 4.0 ** (layers + 1)
        if layers and lit.fades.any():
            T *= np.abs(np.multiply.reduce(self.trips, axis=0))
        return T

    def _slopes_of_R(self, both: ComplexArray, amount: ComplexArray, own: slice) -> FloatArray:
        """Slopes of R, shape (B, own, N), from ``f g`` of every layer and ``r (1/f_0²)*``."""
        first, last, _ = own.indices(len(both))
        share = np.conj(amount, out=amount)
        share *= 4.0j / self.lit.across
        for j in range(last):
            both[j] *= share
            share *= self.trips[j]
        real, imag = self.lit.pulls
        part, order = both[first:last], self.order[:, first:last].T
        slopes = part.real * real[order]  # (own, B, P, N)
        if imag is not None:
            slopes -= part.imag * imag[order]
        # Each boundary doubles f and g.
        slopes *= (4.0 ** np.arange(first + 1, last + 1))[:, None, None, None]
        return _layers_second(slopes)

    def _slopes_of_T(
        self, up: ComplexArray, T: FloatArray, inverse: ComplexArray, own: slice
    ) -> FloatArray:
        """Slopes of T, shape (B, own, N)."""
        first, last, _ = own.indices(len(up))
        down, back = np.ones_like(inverse), np.zeros_like(inverse)
        spare = np.empty_like(inverse)
        for j in range(last):
            _meet(down, back, self.steps[j], spare)
            up[j] *= back
            back *= self.trips[j]
        part, order = up[first:last], self.order[:, first:last].T
        part *= inverse
        # 2iβ = fade + i turn
        slopes = part.imag * self.lit.turn[order][:, :, None]
        if self.lit.fades.any():
            fading = part.real - 0.5
            fading *= self.lit.fade[order][:, :, None]
            slopes -= fading
        slopes *= 2.0 * T
        return _layers_second(slopes)


def _layers_second(slopes: FloatArray) -> FloatArray:
    """The mean of the polarisations, from (own, B, P, N) to (B, own, N)."""
    mixed = slopes[:, :, 0] if slopes.shape[2] == 1 else slopes.mean(axis=2)
    return np.ascontiguousarray(mixed.swapaxes(0, 1))


def _meet(f: ComplexArray, g: ComplexArray, ratio: ComplexArray, spare: ComplexArray) -> None:
    """Twice the waves above a boundary from those below: ``(f + g) ± ρ (f - g)``."""
    np.add(f, g, out=spare)
    f -= g
    f *= ratio
    np.subtract(spare, f, out=g)
    f += spare


def _round_trips(lit: PaletteWaves, order: IndexArray, nm: FloatArray) -> ComplexArray:
    """``exp(2iδ)`` of all layers, shape (L, B, N)."""
    media, thick = order.T, nm.T[..., None]  # (L, 1 or B), (L, B, 1)
    trips = turn_by(lit.turn[media] * thick)
    if lit.fades.any():
        for j in np.flatnonzero(lit.fades[media].any(axis=1)):
            trips[j] *= np.exp(lit.fade[media[j]] * thick[j])
    return trips


def turn_by(angle: FloatArray) -> ComplexArray:
    """``exp(i angle)`` of angles [rad], which are overwritten."""
    if angle.dtype == np.float32:
        single = np.empty(angle.shape, np.complex64)
        single.real, single.imag = np.cos(angle), np.sin(angle)
        return np.asarray(single)
    angle *= _PARTS / (2.0 * np.pi)
    nearest = np.rint(angle)
    angle -= nearest
    angle *= 2.0 * np.pi / _PARTS
    place = nearest.astype(np.intp)
    place &= _PARTS - 1
    turned: ComplexArray = _TURNS.take(place)
    square = np.multiply(angle, angle, out=nearest)
    rest = np.empty_like(turned)
    part = square * (1.0 / 24.0)
    part -= 0.5
    part *= square
    part += 1.0
    rest.real = part
    np.multiply(square, -1.0 / 6.0, out=part)
    part += 1.0
    part *= angle
    rest.imag = part
    turned *= rest
    return turned
