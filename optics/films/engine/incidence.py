"""The direction and polarisation of the light, which all layers share."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from ..._typing import ComplexArray, FloatArray
from ...errors import InputError

Polarization = Literal["s", "p", "mean"]
Spare = tuple[FloatArray, FloatArray]

TINY_KZ = 1e-30
"""Stands for kz = 0, where s/kz has a finite limit."""


@dataclass(frozen=True, eq=False)
class Incidence:
    """The direction of the light, which all layers share.

    Attributes
    ----------
    ambient_n : ndarray, shape (..., W)
        Index of the medium in which the angle is counted.
    cosine : ndarray, shape (..., 1)
        Of the angle.
    """

    ambient_n: FloatArray
    cosine: FloatArray

    @classmethod
    def at(cls, ambient_n: FloatArray, angle_deg: FloatArray) -> Incidence:
        """Light at angles (...) in a medium of real index (..., W)."""
        return cls(ambient_n, np.cos(np.deg2rad(angle_deg))[..., None])

    @cached_property
    def ambient_eps(self) -> FloatArray:
        """``n0²``, shape (..., W)."""
        return np.square(self.ambient_n)

    @cached_property
    def normal_squared(self) -> FloatArray:
        """``(n0 cos θ)²``, shape (..., W)."""
        return np.square(self.ambient_n * self.cosine)

    def normal_component(self, index: ComplexArray) -> ComplexArray:
        """``kz`` [-] in media of index (..., W), in units of the vacuum wave number.

        ε has a non-negative imaginary part, so the principal root is the wave that decays or
        leaves downward: its real and imaginary parts are both non-negative.
        """
        return index if self.is_normal else self.normal_component_of(index * index)

    def normal_component_of(self, eps: ComplexArray, spare: Spare | None = None) -> ComplexArray:
        """The same in media of relative permittivity ``eps`` (..., W), computed at any angle.

        ``kz² = (ε - n0²) + (n0 cos θ)²`` keeps every digit near grazing incidence and in layers
        that match the ambient, where ``ε - (n0 sin θ)²`` cancels. ``spare``, of the shape of the
        answer, is overwritten.
        """
        if spare is None:
            shape = np.broadcast_shapes(eps.shape, self.normal_squared.shape)
            spare = np.empty(shape), np.empty(shape)
        real, twice = spare
        np.subtract(eps.real, self.ambient_eps, out=real)
        real += self.normal_squared
        if not eps.imag.any() and real.min(initial=np.inf) > 0.0:
            return np.sqrt(real)
        return _root(real, eps.imag, twice)

    def take(self, at: slice) -> Incidence:
        """The same at some of the wavelengths."""
        return Incidence(self.ambient_n[..., at], self.cosine)

    @property
    def lead(self) -> tuple[int, ...]:
        """The leading shape of the directions."""
        return np.broadcast_shapes(self.ambient_n.shape[:-1], self.cosine.shape[:-1])

    @cached_property
    def is_normal(self) -> bool:
        """Whether all light falls at right angles, where s and p are the same."""
        return bool((self.cosine == 1.0).all())


def _root(real: FloatArray, imag: FloatArray, twice: FloatArray) -> ComplexArray:
    """Principal roots of squares with these parts, the imaginary not negative; ``real`` and
    ``twice`` are overwritten.

    ``Re √w`` and ``Im √w`` are ``√((|w| ± Re w)/2)``; the larger is taken so, the other from
    ``Im w``. numpy takes a complex root number by number, four times as slowly.
    """
    root = np.empty(real.shape, dtype=complex)
    np.square(real, out=twice)
    twice += np.square(imag)
    np.sqrt(twice, out=twice)
    least = real.min(initial=np.inf)
    turned = real < 0.0 if least < 0.0 else None
    twice += real if least > 0.0 else np.abs(real, out=real)
    twice *= 2.0
    np.sqrt(twice, out=twice)
    if least <= 0.0:
        np.maximum(twice, 2.0 * TINY_KZ, out=twice)
    if turned is None:
        np.divide(imag, twice, out=root.imag)
        np.multiply(twice, 0.5, out=root.real)
        return root
    smaller = np.divide(imag, twice, out=real)
    twice *= 0.5
    root.real, root.imag = twice, smaller
    np.copyto(root.real, smaller, where=turned)
    np.copyto(root.imag, twice, where=turned)
    return root


def separate(polarization: Polarization, incidence: Incidence) -> tuple[Polarization, ...]:
    """The polarisations to compute and average: one where s and p are the same.

    Raises
    ------
    InputError
        If the polarisation is not ``s``, ``p`` or ``mean``.
    """
    if polarization not in ("s", "p", "mean"):
        raise InputError(f"polarization {polarization!r} must be 's', 'p' or 'mean'")
    if polarization != "mean":
        return (polarization,)
    return ("s",) if incidence.is_normal else ("s", "p")


def one_polarization(polarization: Polarization, incidence: Incidence) -> Literal["s", "p"]:
    """The polarisation whose amplitudes are meant.

    Raises
    ------
    InputError
        If they differ and both are in the light.
    """
    if polarization != "mean":
        return polarization
    if not incidence.is_normal:
        raise InputError(
            "light of both polarisations has no single amplitude at an angle: "
            "`polarization` must be 's' or 'p'",
            parameter="polarization",
        )
    return "s"
