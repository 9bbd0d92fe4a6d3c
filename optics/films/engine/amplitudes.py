"""Single coherent stacks: complex amplitudes, and powers of one thickness after another."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from ..._typing import ComplexArray, FloatArray
from .incidence import Incidence, Polarization, separate
from .phase import round_trip_of, round_trips
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
    lead = np.broadcast_shapes(index.shape[:-2], thickness_nm.shape[:-1], incidence.lead)
    E, H_over_q, crossing = np.ones((3, *lead, wavelength_nm.size), dtype=complex)
    spare = np.empty_like(E)
    k0 = 2.0 * np.pi / wavelength_nm
    (below,) = waves(index[..., -1, :], incidence, (one,))[1]
    for j in range(thickness_nm.shape[-1], 0, -1):
        kz, (q,) = waves(index[..., j, :], incidence, (one,))
        phase = k0 * thickness_nm[..., j - 1, None] * kz  # δ = k0 d kz
        H_over_q *= below / q
        cross_layer((E, H_over_q), (E, H_over_q), round_trips(phase, 1.0), spare=spare)
        crossing *= np.exp(1j * phase)  # what the fields are short of: exp(-i Σδ)
        if j % RESCALE_OFTEN == 0:
            size = np.abs(E) + np.abs(H_over_q)
            E /= size
            H_over_q /= size
            crossing /= size
        below = q
    (across,) = waves(index[..., 0, :], incidence, (one,))[1]
    H = H_over_q * below
    coming = across * E + H
    r = (across * E - H) / coming  # (q0 E - H)/(q0 E + H)
    t = 2.0 * across * crossing / coming  # 2 q0 / (q0 E + H), the wave below being 1
    return r, t


@dataclass(frozen=True, eq=False)
class FixedMedia:
    """The waves of one stack's media in one polarisation, worked out once for a loop.

    Attributes
    ----------
    across, loss : ndarray, shape (L, W)
        ``-k0 Re kz`` and ``-k0 Im kz`` [1/nm] of each layer.
    steps : ndarray of complex, shape (L, W)
        Admittance of what lies under each layer over its own.
    ambient, first : ndarray of complex, shape (W,)
        Admittance of the ambient, and of what lies under it.
    strength : ndarray, shape (W,)
        ``4 Re q_s |q_0|²/Re q_0``, which makes a transmittance of fields.
    fades : bool
        Whether a layer absorbs, or a wave in it does not travel.
    """

    across: FloatArray
    loss: FloatArray
    steps: ComplexArray
    ambient: ComplexArray
    first: ComplexArray
    strength: FloatArray
    fades: bool

    @classmethod
    def of(cls, media: MediaInLight, one: Polarization) -> FixedMedia:
        """Of media (L + 2, W) from the ambient down."""
        kz, (q,) = waves(media.index, media.incidence, (one,))
        crossing = -2.0 * np.pi / media.wavelength_nm * kz[1:-1]
        strength = 4.0 * q[-1].real * strength_of(q[0])
        across, loss = crossing.real.copy(), crossing.imag.copy()
        return cls(across, loss, q[2:] / q[1:-1], q[0], q[1], strength, bool(loss.any()))

    def power(self, wanted: Literal["R", "T"], d: FloatArray) -> FloatArray | None:
        """R or T (W,) for thicknesses (L,), or None where fields leave the range of numbers."""
        if len(d) <= RESCALE_OFTEN:
            E, H = self._fields(d)
            coming = abs_squared(E + H)
        else:
            with np.errstate(all="ignore"):
                E, H = self._fields(d)
                coming = abs_squared(E + H)
            if not in_range(coming):
                return None
        if wanted == "R":
            return abs_squared(E - H) / coming
        return self.strength * np.exp(2.0 * (d @ self.loss)) / coming

    def _fields(self, d: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        """``q0 E`` and H on top, the wave below being 1, less ``exp(-i Σδ)``."""
        column = d[:, None]
        across, decay = self.across * column, self.loss * column if self.fades else None
        trips = np.empty(across.shape, dtype=complex)
        round_trip_of(across, decay, np.empty((2, *across.shape)), round_trip=trips)
        E: ComplexArray | float = 1.0
        H: ComplexArray | float = 1.0
        for j in range(len(d) - 1, -1, -1):
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
        first, *other = (media.power(wanted, d) for media in self.each)
        if not other or first is None:
            return first
        return None if other[0] is None else 0.5 * (first + other[0])
