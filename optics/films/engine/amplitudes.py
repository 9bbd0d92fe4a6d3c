"""Single coherent stacks: complex amplitudes, and powers of one thickness after another."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from ..._typing import ComplexArray, FloatArray
from .incidence import Incidence, Polarization, separate
from .phase import FEW_TRIPS, few_round_trips, round_trips
from .recursion import (
    RESCALE_EVERY,
    RESCALE_OFTEN,
    abs_squared,
    cross_layer,
    in_range,
    strength_of,
    waves,
)

_FEW = 8_192  # indices of a stack in which a call costs more than its arithmetic


def amplitudes(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    *,
    incidence: Incidence,
    one: Polarization,
) -> tuple[ComplexArray, ComplexArray]:
    """r and t (..., W) of stacks (..., L + 2, W) and (..., L), of E for s and of H for p.

    The fields are carried up as in :mod:`.recursion`, here with all of the phase. Inputs are
    trusted.

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed., section 1.6.2.
    """
    levels = climb(index, thickness_nm, wavelength_nm, incidence=incidence, one=one)
    (top,) = deque(levels, maxlen=1)  # the last
    (across,) = waves(index[..., 0, :], incidence, (one,))[1]
    H = top.H_over_q * top.q
    coming = across * top.E + H
    r = (across * top.E - H) / coming  # (q0 E - H)/(q0 E + H)
    t = 2.0 * across * top.crossing / coming  # 2 q0 / (q0 E + H), the wave below being 1
    return r, t


class Level(NamedTuple):
    """Fields on top of the substrate, or of a layer, on the way up; the next one changes them.

    Attributes
    ----------
    E, H_over_q : ndarray of complex, shape (..., W)
        H over the admittance of what they are on top of.
    crossing : ndarray of complex, shape (..., W)
        ``exp(i Σδ)``, which the fields are short of.
    q : ndarray of complex
        Admittance of what they are on top of.
    kz : ndarray of complex
        In units of the vacuum wave number.
    step : ndarray of complex or float
        Admittance of what lies under the layer over its own.
    trip : ndarray of complex or float
        Its round trip ``(1 - exp(2iδ))/2``.
    size : ndarray or float
        What fields and crossing were divided by, to keep in range.
    """

    E: ComplexArray
    H_over_q: ComplexArray
    crossing: ComplexArray
    q: ComplexArray
    kz: ComplexArray
    step: ComplexArray | float = 1.0
    trip: ComplexArray | float = 0.0
    size: FloatArray | float = 1.0


def climb(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    *,
    incidence: Incidence,
    one: Polarization,
) -> Iterator[Level]:
    """Fields of one polarisation, the wave in the substrate being 1, level by level to the top."""
    lead = np.broadcast_shapes(index.shape[:-2], thickness_nm.shape[:-1], incidence.lead)
    E, H_over_q, crossing = np.ones((3, *lead, wavelength_nm.size), dtype=complex)
    spare = np.empty_like(E)
    k0 = 2.0 * np.pi / wavelength_nm
    kz, (below,) = waves(index[..., -1, :], incidence, (one,))
    yield Level(E, H_over_q, crossing, below, kz)
    for j in range(thickness_nm.shape[-1], 0, -1):
        kz, (q,) = waves(index[..., j, :], incidence, (one,))
        phase = k0 * thickness_nm[..., j - 1, None] * kz  # δ = k0 d kz
        step, trip, size = below / q, round_trips(phase, 1.0), np.ones(())
        H_over_q *= step
        cross_layer((E, H_over_q), (E, H_over_q), trip, spare=spare)
        crossing *= np.exp(1j * phase)
        if j % RESCALE_OFTEN == 0:
            size = np.abs(E) + np.abs(H_over_q)
            E /= size
            H_over_q /= size
            crossing /= size
        yield Level(E, H_over_q, crossing, q, kz, step, trip, size)
        below = q


@dataclass(frozen=True, eq=False)
class FixedMedia:
    """The waves of one stack's media in one polarisation, worked out once for a loop.

    Attributes
    ----------
    crossing : ndarray of complex, shape (L, W)
        ``2i k0 kz`` [1/nm] of each layer, which there and back makes of its thickness.
    steps : ndarray of complex, shape (L, W)
        Admittance of what lies under each layer over its own.
    lowest : ndarray of complex, shape (W,)
        The last of them less 1, or 0 where there is no layer.
    ambient, first, last : ndarray of complex, shape (W,)
        Admittance of the ambient, of what lies under it, and of the substrate.
    few : bool
        Whether round trips are few, and no light is caught between mirrors or at grazing incidence,
        where what is rounded off a phase would tell.
    """

    crossing: ComplexArray
    steps: ComplexArray
    lowest: ComplexArray | float
    ambient: ComplexArray
    first: ComplexArray
    last: ComplexArray
    few: bool

    @classmethod
    def of(cls, media: MediaInLight, one: Polarization) -> FixedMedia:
        """Of media (L + 2, W) from the ambient down."""
        kz, (q,) = waves(media.index, media.incidence, (one,))
        k0 = 2.0 * np.pi / media.wavelength_nm
        # Rounded as in `phases`: of a million turns the last digit counts, and R must fit layer_A.
        crossing = 2.0j * (k0 * kz[1:-1])
        steps = q[2:] / q[1:-1]
        lowest = steps[-1] - 1.0 if len(steps) else 0.0
        few = crossing.size <= FEW_TRIPS and len(crossing) < 3 and media.incidence.is_normal
        return cls(crossing, steps, lowest, q[0], q[1], q[-1], few)

    @cached_property
    def strength(self) -> FloatArray:
        """``4 Re q_s |q_0|²/Re q_0`` (W,), which makes a transmittance of fields."""
        return np.asarray(4.0 * self.last.real * strength_of(self.ambient))

    def power(self, wanted: Literal["R", "T"], d: FloatArray) -> FloatArray | None:
        """R or T (W,) for thicknesses (L,), or None where fields leave the range of numbers."""
        if self.few and wanted == "R" and len(d) == 1:
            return self._reflectance_of_one(d)
        if len(d) <= RESCALE_OFTEN:
            E, H = self._fields(d)
            if wanted == "R":
                return abs_squared((E - H) / (E + H))
            coming = abs_squared(E + H)
        else:
            with np.errstate(all="ignore"):
                E, H = self._fields(d)
                coming = abs_squared(E + H)
            if not in_range(coming):
                return None
        if wanted == "R":
            return abs_squared(E - H) / coming
        return self.strength * np.exp(d @ self.crossing.real) / coming

    def _reflectance_of_one(self, d: FloatArray) -> FloatArray:
        """R (W,) of one layer, whose fields are a constant and a share of ``exp(2iδ) - 1``."""
        turn = np.expm1(self.crossing[0] * d)
        away, coming = self._of_one
        return abs_squared((away[0] + away[1] * turn) / (coming[0] + coming[1] * turn))

    @cached_property
    def _of_one(self) -> tuple[tuple[ComplexArray, ComplexArray], ...]:
        """``q0 E - H`` and ``q0 E + H`` over one layer: what stays, and what goes with its turn."""
        E, H = (self.ambient, -0.5 * self.ambient), (self.first, 0.5 * self.first)
        lowest, step = self.lowest, self.steps[-1]
        return tuple(
            (E[0] + sign * H[0] * step, (E[1] + sign * H[1]) * lowest) for sign in (-1.0, 1.0)
        )

    def _fields(self, d: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        """``q0 E`` and H on top, the wave below being 1, less ``exp(-i Σδ)``."""
        if not len(d):
            return self.ambient, self.first
        if self.few:
            trips = few_round_trips(self.crossing * d[:, None])
        else:
            trips = round_trips(self.crossing * -0.5j, d[:, None])
        turned = trips[-1] * self.lowest
        E, H = 1.0 + turned, self.steps[-1] - turned
        for j in range(len(d) - 2, -1, -1):
            H = H * self.steps[j]
            turned = trips[j] * (H - E)
            E, H = E + turned, H - turned
        return self.ambient * E, self.first * H


@dataclass(frozen=True, eq=False)
class MediaInLight:
    """Media (..., L + 2, W) in one light, whose waves are worked out when first asked for."""

    index: ComplexArray
    wavelength_nm: FloatArray
    incidence: Incidence
    polarization: Polarization

    @cached_property
    def each(self) -> list[FixedMedia]:
        """In each polarisation; none where stacks or directions are many, or layers."""
        many = self.index.size > _FEW or len(self.index) > RESCALE_EVERY
        if self.index.ndim > 2 or self.incidence.lead or many:
            return []
        return [FixedMedia.of(self, one) for one in separate(self.polarization, self.incidence)]

    def power(self, wanted: Literal["R", "T"], d: FloatArray) -> FloatArray | None:
        """R or T of one stack of few layers, None for others."""
        if d.ndim > 1 or not self.each:
            return None
        first = self.each[0].power(wanted, d)
        if len(self.each) == 1 or first is None:
            return first
        other = self.each[1].power(wanted, d)
        return None if other is None else 0.5 * (first + other)
