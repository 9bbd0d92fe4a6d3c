"""One film of many thicknesses on many bases: the table-building case of the engine.

The general engine computes the same numbers; here the film's phase is taken once for all bases and
both polarisations, and on an even grid of thicknesses it is made of few phases, which makes a table
some nine times cheaper.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np

from ..._typing import ComplexArray, FloatArray
from ...errors import InputError
from ..stack_arrays import Base as Base
from ..stack_arrays import base_of as base_of
from .incoherent import optical_depth, turn_over
from .phase import round_trips
from .recursion import abs_squared, cross_layer, waves
from .thickness_series import sum_by_series
from .transfer_matrix import (
    Incidence,
    Polarization,
    fields_at_top,
    reflectance_transmittance,
    separate,
)
from .two_faces import TwoFaces

View = Literal["front", "through", "back"]
Layers = tuple[ComplexArray, FloatArray]
_Light = tuple[FloatArray, Incidence]

_THICKNESSES, _BLOCK_ELEMENTS = 2_048, 43_008  # at a time: what is divided stays in cache
_FINE = 64  # thicknesses at most that share one coarse phase
_EVEN = 4.0 * np.finfo(float).eps
_MOST_ALIKE = 16  # bases worked out together: what they need stays small


def thickness_scan(
    film: ComplexArray,
    bases: Sequence[Base],
    thickness_nm: FloatArray,
    *,
    wavelength_nm: FloatArray,
    angle_deg: float = 0.0,
    view: View = "front",
    weights: FloatArray | None = None,
    above: Layers | None = None,
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
    above : tuple, optional
        Index (A, W) and thickness (A,) of layers between the air and the film.

    Returns
    -------
    ndarray, shape (S, D, W), or (S, D, n) of sums

    Raises
    ------
    InputError
        If the back of a half-space is asked for.

    Notes
    -----
    The film's matrix on the fields under it makes every outgoing or incoming amplitude a sum
    ``a + b s`` of what the base alone makes, with the round trip ``s = (1 - exp(2iδ))/2`` of the
    film's phase: for incoming light, as which the row ``u = (q0, 1)`` of the air sees the fields,
    ``a = u_E E + u_H H``, ``b = (u_E/q - u_H)(H - q E)`` (M. Born and E. Wolf, Principles of
    Optics, 7th ed., section 1.6.2). Layers above the film turn that row into their product.
    Unlike Airy's sum of reflections it keeps its digits where q is nearly zero. On an even grid s
    is ``S + (1 - 2S) σ`` of a coarse phase and one of 64 fine ones, so each squared magnitude is a
    matrix product of rank four. Faces of a slab add as in `two_faces.py`. Sums at many thicknesses
    are read from series of few (`thickness_series.py`). Inputs are trusted.
    """

    def at(coarse_nm: FloatArray, fine_nm: FloatArray) -> FloatArray:
        found = _scan(
            film[None], bases, (coarse_nm, fine_nm), stretch=np.ones(1),
            wavelength_nm=wavelength_nm, angle_deg=angle_deg, view=view, weights=weights,
            above=above,
        )  # fmt: skip
        return np.asarray(found[0])

    grid, found = _split(thickness_nm), None
    if weights is not None:
        turn = 4.0 * np.pi * (np.abs(film) / wavelength_nm).max(initial=0.0)
        found = sum_by_series(
            at, thickness_nm, even=grid[1].size > 1, turn_per_nm=float(turn),
            scale=np.abs(weights).sum(axis=0),
        )  # fmt: skip
    return at(*grid)[:, : thickness_nm.size] if found is None else found


def scan_films(
    films: ComplexArray,
    bases: Sequence[Base],
    thickness_nm: FloatArray,
    *,
    stretch: FloatArray,
    wavelength_nm: FloatArray,
    angle_deg: float = 0.0,
    view: View = "front",
    weights: FloatArray | None = None,
    above: Layers | None = None,
) -> FloatArray:
    """As `thickness_scan`, of V films (V, W) in one go: shape (V, S, D, W) or (V, S, D, n).

    Each has the thicknesses given times its own ``stretch`` (V,). Together they cost what one
    does and the arithmetic of the others, which for a few hundred thicknesses is half of it.
    """
    grid = _split(thickness_nm)
    found = _scan(
        films, bases, grid, stretch=stretch, wavelength_nm=wavelength_nm, angle_deg=angle_deg,
        view=view, weights=weights, above=above,
    )  # fmt: skip
    return found[:, :, : thickness_nm.size]


def _scan(
    films: ComplexArray,
    bases: Sequence[Base],
    grid: tuple[FloatArray, FloatArray],
    *,
    stretch: FloatArray,
    wavelength_nm: FloatArray,
    angle_deg: float,
    view: View,
    weights: FloatArray | None,
    above: Layers | None,
) -> FloatArray:
    """The same over all sums of coarse and fine thicknesses, (V, S, coarse times fine, n)."""
    if view == "back" and any(base.slab_nm is None for base in bases):
        raise InputError("what lies under the film has no back to look at")
    points, (coarse_nm, fine_nm) = wavelength_nm.size, grid
    light = wavelength_nm, Incidence.at(np.ones(points), np.asarray(angle_deg))
    each_nm = 2.0 * np.pi / wavelength_nm * stretch[:, None]
    crossing = (each_nm * light[1].normal_component(films))[..., None]
    sums = None if weights is None else _pad_to_fours(weights)
    rows = points if sums is None else len(sums)
    shares = np.zeros((len(films), len(bases), rows, coarse_nm.size * fine_nm.size))
    passes = view != "front" or any(base.slab_nm is not None for base in bases)
    fine = _FinePhases.of(crossing, fine_nm, passes)
    groups = [
        (place, _FilmAmplitudes.of_all(films, above, bases[place], light, angle_deg, view))
        for place in _group_alike(bases)
    ]
    spare = np.empty(3 * _BLOCK_ELEMENTS)
    for few in _blocks(0, coarse_nm.size, max(1, _THICKNESSES // fine_nm.size // len(films))):
        round_trip = round_trips(crossing, coarse_nm[few])[:, None]
        size = _size(crossing, coarse_nm[few])[:, None] if passes else None
        place = slice(few.start * fine_nm.size, few.stop * fine_nm.size)
        wide = max(1, _BLOCK_ELEMENTS // round_trip.shape[-1] // fine_nm.size)
        for group, forms in groups:
            each = [form.over(round_trip, size) for form in forms]
            for v, some, at in _parts(len(films), group, points, wide):
                own = slice(some.start - group.start, some.stop - group.start)
                for one in each:
                    seen = one.at(v, own, at).view_share(view, fine.at(v, at), spare)
                    if len(each) > 1:
                        seen *= 0.5
                    plain = seen.reshape(*seen.shape[:3], -1)
                    if sums is None:
                        shares[v, some, at, place] += plain
                    else:
                        shares[v, some, :, place] += sums[:, at] @ plain
    return shares[:, :, : None if weights is None else weights.shape[1]].swapaxes(2, 3)


def _parts(
    films: int, group: slice, points: int, most: int
) -> Iterator[tuple[slice, slice, slice]]:
    """Films, bases of a group and wavelengths that are worked out in one go: ``most`` pairs of
    film and base times wavelengths at a time."""
    bases = group.stop - group.start
    several = max(1, most // (points * bases))
    for v in _blocks(0, films, several):
        for some in _blocks(group.start, group.stop, max(1, most // points)):
            for at in _blocks(0, points, most):
                yield v, some, at


def _group_alike(bases: Sequence[Base]) -> list[slice]:
    """Neighbours that differ in indices and thicknesses of as many layers, and in nothing else, so
    that they are worked out in one go."""

    def build(base: Base) -> tuple[object, ...]:
        back = () if base.back is None else (len(base.back[0]), base.back[1].tobytes())
        return len(base.index), base.slab_nm, back

    starts = [s for s, base in enumerate(bases) if s == 0 or build(base) != build(bases[s - 1])]
    return [
        some for group in pairwise([*starts, len(bases)]) for some in _blocks(*group, _MOST_ALIKE)
    ]


@lru_cache(maxsize=64)
def _join(bases: tuple[Base, ...]) -> Base:
    """Bases that are alike as one, their wavelengths end to end; thicknesses (L, S W)."""
    first, points = bases[0], bases[0].index.shape[1]
    index = np.concatenate([base.index for base in bases], axis=1)
    nm = np.repeat(np.array([base.thickness_nm for base in bases]).T, points, axis=1)
    faces = [base.back[0] for base in bases if base.back is not None]
    back = None if first.back is None else (np.concatenate(faces, axis=1), first.back[1])
    return Base(index, nm, first.slab_nm, back)


def reflectance_scan(
    film: ComplexArray,
    below: ComplexArray,
    thickness_nm: FloatArray,
    *,
    wavelength_nm: FloatArray,
    angle_deg: float = 0.0,
    weights: FloatArray | None = None,
) -> FloatArray:
    """Reflectance (S, D, W) of one film on bare half-spaces of index ``below`` (S, W), or sums."""
    bases = [Base(index[None], np.empty(0)) for index in below]
    return thickness_scan(
        film,
        bases,
        thickness_nm,
        wavelength_nm=wavelength_nm,
        angle_deg=angle_deg,
        view="front",
        weights=weights,
    )


def _split(thickness_nm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Coarse and fine thicknesses whose sums are those given, of an even grid; else all and 0."""
    count = thickness_nm.size
    if count > 2:
        first, last = float(thickness_nm[0]), float(thickness_nm[-1])
        steps = np.arange(float(count))
        steps *= (last - first) / (count - 1)
        off = steps + first
        off -= thickness_nm
        if np.abs(off, out=off).max() <= _EVEN * max(abs(first), abs(last)):
            fine = -(-count // -(-count // _FINE))
            return thickness_nm[::fine], steps[:fine]
    return thickness_nm, np.zeros(1)


@dataclass(frozen=True, eq=False)
class _FinePhases:
    """The fine part σ of the round trip ``S + (1 - 2S) σ``, of films (V, 1, W).

    Attributes
    ----------
    parts : ndarray, shape (V, 1, W, 4, I)
        ``1, |σ|², 2 Re σ, -2 Im σ``.
    size : ndarray, shape (V, 1, W, 1, I), or None
        ``|exp(2iδ)|``, where light that passes is asked for.
    """

    parts: FloatArray
    size: FloatArray | None

    @classmethod
    def of(cls, crossing: ComplexArray, nm: FloatArray, passes: bool) -> _FinePhases:
        """Of phases ``crossing nm``, shapes (V, W, 1) and (I,)."""
        round_trip = round_trips(crossing, nm)[:, None]
        parts = np.empty((*round_trip.shape[:-1], 4, nm.size))
        parts[..., 0, :], parts[..., 1, :] = 1.0, abs_squared(round_trip)
        np.multiply(round_trip.real, 2.0, out=parts[..., 2, :])
        np.multiply(round_trip.imag, -2.0, out=parts[..., 3, :])
        return cls(parts, _size(crossing, nm)[:, None, :, None] if passes else None)

    def at(self, films: slice, rows: slice) -> _FinePhases:
        """The same of some films at some of the wavelengths."""
        size = None if self.size is None else self.size[films, :, rows]
        return _FinePhases(self.parts[films, :, rows], size)


@dataclass(frozen=True, eq=False)
class _CoarseRows:
    """Films on bases that are alike, and a polarisation, over coarse phases: squared magnitudes as
    rows (V, S, W, M, 4)."""

    powers: FloatArray  # of incoming and outgoing light, and in a slab, (2 or 3, V, S, W, M, 4)
    passing: FloatArray | None  # transmittance is passing |exp(2iδ)| / incoming, (V, S, W, M, 1)
    slab: tuple[FloatArray, ...] | None  # τ, R, T, R outside, shapes (S, W, 1, 1)

    def at(self, films: slice, bases: slice, rows: slice) -> _CoarseRows:
        """The same of some films on some of the bases at some of the wavelengths."""
        return _CoarseRows(
            self.powers[:, films, bases, rows],
            None if self.passing is None else self.passing[films, bases, rows],
            None if self.slab is None else tuple(part[bases, rows] for part in self.slab),
        )

    def view_share(self, view: View, fine: _FinePhases, spare: FloatArray) -> FloatArray:
        """Share of the light for one view, shape (V, S, W, M, I); ``spare`` is overwritten."""
        shape = *self.powers.shape[:5], fine.parts.shape[-1]
        powers: FloatArray = spare[: math.prod(shape)].reshape(shape)
        np.matmul(self.powers, fine.parts, out=powers)
        powers[1:] /= powers[0]
        share: FloatArray = powers[1]
        if self.passing is None or fine.size is None:
            return share
        passing: FloatArray = self.passing * fine.size
        passing /= powers[0]
        if self.slab is None:
            return passing
        tau, R_far, T_far, R_outside = self.slab
        near, inside, far = (share, passing), (powers[2], passing), (R_far, T_far)
        if view == "back":
            return TwoFaces((R_outside, T_far), far, inside, tau).R
        faces = TwoFaces(near, inside, far, tau)
        return faces.T if view == "through" else faces.R


@dataclass(frozen=True, eq=False)
class _Top:
    """Films and all above them, for one polarisation.

    Attributes
    ----------
    q : ndarray of complex, shape (V, 1, W)
        Admittance of each film.
    q_air : ndarray of complex, shape (W,)
    rows : ndarray of complex, shape (2, 2, W)
        Incoming light, and outgoing turned round, as sums over E and H on top of the film.
    crossing : ndarray of complex, shape (W,)
        ``exp(i Σδ)`` of the layers above, which the rows leave out.
    """

    q: ComplexArray
    q_air: ComplexArray
    rows: ComplexArray
    crossing: ComplexArray

    @classmethod
    def of(
        cls, films: ComplexArray, above: Layers | None, light: _Light, one: Polarization
    ) -> _Top:
        """Rows (±q0, 1) of the air, carried down through the layers above."""
        wavelength_nm, incidence = light
        q_air = _q(np.ones(wavelength_nm.size, dtype=complex), incidence, one)
        rows = np.ones((2, 2, q_air.size), dtype=complex)
        rows[0, 0], rows[1, 0] = q_air, -q_air
        crossing = np.ones_like(q_air)
        for n, d in zip(*above, strict=True) if above is not None else ():
            kz, (q,) = waves(n, incidence, (one,))
            phase = 2.0 * np.pi / wavelength_nm * d * kz
            crossing = crossing * np.exp(1j * phase)
            rows[:, 1] *= q
            pair = rows[:, 0], rows[:, 1]
            cross_layer(pair, pair, round_trips(phase, 1.0), spare=np.empty_like(rows[0]))
            rows[:, 1] /= q
        return cls(_q(films, incidence, one)[:, None], q_air, rows, crossing)

    def amplitudes(self, E: ComplexArray, H: ComplexArray) -> ComplexArray:
        """Both as a and b of ``a + b s`` from the fields (S, W) under the film, shape
        (2, 2, V, S, W, 1)."""
        (to_E, to_H), q = self.rows.swapaxes(0, 1)[:, :, None, None], self.q
        both = np.empty((2, 2, len(q), *E.shape), dtype=complex)
        both[:, 0] = to_E * E + to_H * H
        np.multiply(to_E - to_H * q, (H - q * E) / q, out=both[:, 1])
        return both[..., None]


@dataclass(frozen=True, eq=False)
class _FilmAmplitudes:
    """Films on bases that are alike, and a polarisation: amplitudes ``a + b s`` over the film's
    round trip, and the slab's."""

    # Incoming and outgoing light, and what a slab's light meets from within.
    amplitudes: ComplexArray  # (2 or 3, 2, V, S, W, 1)
    passing: FloatArray | None  # transmittance is passing |exp(2iδ)| / |incoming|², (S, W, 1)
    slab: tuple[FloatArray, ...] | None  # τ, R, T, R outside, shapes (S, W, 1, 1)

    @classmethod
    def of_all(
        cls,
        films: ComplexArray,
        above: Layers | None,
        bases: Sequence[Base],
        light: _Light,
        angle_deg: float,
        view: View,
    ) -> list[_FilmAmplitudes]:
        """Of each polarisation."""
        base, along, shape = bases[0], light, (len(bases), light[0].size)
        if len(bases) > 1:
            base, whole_nm = _join(tuple(bases)), np.tile(light[0], len(bases))
            along = whole_nm, Incidence.at(np.ones_like(whole_nm), np.asarray(angle_deg))
        each = []
        for one in separate("mean", light[1]):
            top = _Top.of(films, above, light, one)
            found = cls.of(top, base, along, one, shape, view)
            slab = _far_face(base, along[0].tobytes(), float(angle_deg), one)
            if slab is not None:
                found = replace(found, slab=tuple(part.reshape(*shape, 1, 1) for part in slab))
            each.append(found)
        return each

    @classmethod
    def of(
        cls,
        top: _Top,
        base: Base,
        along: _Light,
        one: Polarization,
        shape: tuple[int, int],
        view: View,
    ) -> _FilmAmplitudes:
        """From the fields on the base, for light that leaves and, in a slab, comes back up.

        The latter are left out where nothing that passes is asked for.
        """
        q_last = _q(base.index[-1], along[1], one)
        E, H, crossing = (part.reshape(shape) for part in _fields(base, q_last, along, one))
        scale = 1.0 / (np.abs(E) + np.abs(H)) if base.thickness_nm.size else 1.0
        amplitudes = top.amplitudes(E * scale, H * scale)
        if view == "front" and base.slab_nm is None:
            return cls(amplitudes, None, None)
        leaving = 4.0 * top.q_air.real * q_last.real.reshape(shape)
        passing = leaving * abs_squared(crossing * top.crossing * scale)
        if base.slab_nm is not None:
            E, H, _ = (part.reshape(shape) for part in _fields(base, -q_last, along, one))
            inside = top.amplitudes(E * scale, H * scale)
            amplitudes = np.concatenate([amplitudes, inside[:1]])
        return cls(amplitudes, passing[..., None], None)

    def over(self, round_trip: ComplexArray, size: FloatArray | None) -> _CoarseRows:
        """Rows of the rank-four products for coarse round trips (V, 1, W, M); size
        ``|exp(2iδ)|``."""
        still, moving = self.amplitudes[:, 0], self.amplitudes[:, 1]
        coarse, turning = moving * round_trip, moving * (1.0 - 2.0 * round_trip)
        coarse += still
        rows = np.empty((*coarse.shape, 4))
        rows[..., 0], rows[..., 1] = abs_squared(coarse), abs_squared(turning)
        np.multiply(np.conj(coarse, out=coarse), turning, out=rows.view(complex)[..., 1])
        passing = self.passing
        passing = None if passing is None or size is None else (passing * size)[..., None]
        return _CoarseRows(rows, passing, self.slab)


def _fields(
    base: Base, q_last: ComplexArray, light: _Light, one: Polarization
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Fields on the base, and what crosses it, of a wave with that admittance in its substrate."""
    if base.thickness_nm.size == 0:
        whole = np.ones_like(q_last)
        return whole, q_last, whole
    return fields_at_top(
        q_last,
        base.index[:-1],
        base.thickness_nm,
        wavelength_nm=light[0],
        incidence=light[1],
        one=one,
    )


def _size(crossing: ComplexArray, nm: FloatArray) -> FloatArray:
    """``|exp(2iδ)|`` of phases ``crossing nm``."""
    return np.asarray(np.exp(crossing.imag * (-2.0 * nm)))


def _q(index: ComplexArray, incidence: Incidence, one: str) -> ComplexArray:
    kz = incidence.normal_component(index)
    return kz if one == "s" else kz / (index * index)


@lru_cache(maxsize=64)
def _far_face(
    base: Base, wavelengths: bytes, angle_deg: float, one: Polarization
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray] | None:
    """One crossing of the slab, and its far face met from inside (R, T) and outside (R): the same
    for every film on it, so kept."""
    if base.slab_nm is None or base.back is None:
        return None
    wavelength_nm = np.frombuffer(wavelengths)
    incidence = Incidence.at(np.ones_like(wavelength_nm), np.asarray(angle_deg))
    tau = np.exp(-optical_depth(base.index[-1], base.slab_nm, wavelength_nm, incidence=incidence))
    (outer, outer_nm), (inner, inner_nm) = base.back, turn_over(base.back)
    R_outside, _ = reflectance_transmittance(
        outer, outer_nm, wavelength_nm, incidence=incidence, polarization=one
    )
    R, T = reflectance_transmittance(
        inner, inner_nm, wavelength_nm, incidence=incidence, polarization=one
    )
    return tau, R, T, R_outside


def _pad_to_fours(weights: FloatArray) -> FloatArray:
    """Weights (W, n) as rows, with rows of zeros up to a multiple of four: linear algebra takes
    four rows in half the time of three."""
    rows = np.zeros((-(-weights.shape[1] // 4) * 4, len(weights)))
    rows[: weights.shape[1]] = weights.T
    return rows


def _blocks(first: int, end: int, step: int) -> Iterator[slice]:
    return (slice(start, min(start + step, end)) for start in range(first, end, step))
