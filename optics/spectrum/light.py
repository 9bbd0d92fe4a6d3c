"""The light of a spectrum in the media of a stack, with what a fit changes in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..films.engine.incidence import Incidence, Polarization, separate
from ..films.engine.phase import round_trip_of
from ..films.engine.recursion import waves
from .dual import Dual
from .section import Boundary, Join, Section


@dataclass(frozen=True, eq=False)
class Wave:
    """Light in a medium: ``kz`` over the wave number in vacuum, and the admittance."""

    kz: Dual
    admittance: Dual


@dataclass(frozen=True, eq=False)
class Pile:
    """The first of the media below a boundary; where it is a layer, its round trip and the section
    below it."""

    first: Wave
    last: Wave
    round_trip: Dual | None = None
    rest: Section | None = None

    @property
    def slant(self) -> Dual:
        """``Re q/|q|`` of the last medium: power let through is ``|t t'|`` times this."""
        q = self.last.admittance.value
        return Dual(np.asarray(q.real / np.abs(q))[None])


def meet(medium: Wave, pile: Pile) -> Section:
    """From a medium on a pile down to the last medium."""
    top = Boundary(medium.admittance, pile.first.admittance)
    if pile.round_trip is None or pile.rest is None:
        return top
    return Join(top, pile.round_trip, pile.rest)


@dataclass(frozen=True, eq=False)
class SpectrumLight:
    """Unpolarised light of V wavelengths and one direction.

    All parts have shape (1 + K or 1, P, N or 1, J or 1, V): of K unknowns, P polarisations, N
    pieces and J films for each.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (V,)
    incidence : Incidence
    unknowns : tuple of str
        What derivatives are wanted to, the film's index first; none for none.
    """

    wavelength_nm: FloatArray
    incidence: Incidence
    unknowns: tuple[str, ...] = ()

    @property
    def polarizations(self) -> tuple[Polarization, ...]:
        """Those that differ."""
        return separate("mean", self.incidence)

    def wave(self, index: ComplexArray, to_film: ComplexArray | None = None) -> Wave:
        """In a medium of index (V,) or (N, V), which follows the film's by a slope."""
        n = np.atleast_2d(index)
        kz, q = waves(n, self.incidence, self.polarizations)
        if not self.unknowns or to_film is None:
            return Wave(Dual(kz[None, None, :, None]), Dual(q[None, :, :, None]))
        along = np.empty((2, 1, *kz.shape), dtype=complex)
        along[0], along[1] = kz, to_film if self.incidence.is_normal else n / kz * to_film
        if self.incidence.is_normal:
            both = Dual(along[:, :, :, None])
            return Wave(both, both)
        # kz² = n² - u, and the admittance is kz (s) or kz/n² (p).
        across = np.empty((2, *q.shape), dtype=complex)
        across[0] = q
        for i, one in enumerate(self.polarizations):
            across[1, i] = q[i] * (n / kz**2 - (2.0 / n if one == "p" else 0.0)) * to_film
        return Wave(Dual(along[:, :, :, None]), Dual(across[:, :, :, None]))

    def round_trip(self, wave: Wave, thickness_nm: FloatArray, *, to: str = "") -> Dual:
        """``exp(2i k0 d kz)`` of layers of thickness (N, J, 1), which is the unknown ``to``."""
        k0, d, kz = 2.0 * np.pi / self.wavelength_nm, thickness_nm, wave.kz
        across, decay = -k0 * kz.value.real * d, -k0 * kz.value.imag * d
        trip = np.empty(across.shape, dtype=complex)
        round_trip_of(across, decay, np.empty((2, *across.shape)), round_trip=trip)
        trip *= -2.0
        trip += 1.0
        if not self.unknowns or not to:
            return Dual(trip[None])
        turned, row = 2j * k0 * trip, 1 + self.unknowns.index(to)
        parts = np.zeros((1 + row, *trip.shape), dtype=complex)
        parts[0] = trip
        np.multiply(kz.parts[1] * d, turned, out=parts[1])
        np.multiply(turned, kz.value, out=parts[row])
        return Dual(parts)

    def pile(self, layers: ComplexArray, thickness_nm: FloatArray, last: Wave) -> Pile:
        """Layers (L, V) or (N, L, V), the uppermost first, on a last medium."""
        pile = Pile(last, last)
        for i in reversed(range(thickness_nm.size)):
            wave = self.wave(layers[..., i, :])
            trip = self.round_trip(wave, thickness_nm[None, None, i : i + 1])
            pile = Pile(wave, last, trip, meet(wave, pile))
        return pile

    def turn_per_nm(self, film: ComplexArray) -> ComplexArray:
        """Phase that light gains in films (N, V) there and back, ``2 k0 kz`` [rad/nm]."""
        return np.asarray(4.0 * np.pi / self.wavelength_nm * self.incidence.normal_component(film))
