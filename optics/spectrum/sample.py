"""What light a piece returns: its film, a rough surface on it, a mixed layer under it, its base."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..files.spectrum import Kind
from ..films.engine.gradient import coherent_gradient
from ..films.engine.incoherent import slab_reflectance_transmittance
from ..films.engine.incoherent_gradient import slab_gradient
from ..films.engine.transfer_matrix import Incidence, reflectance_transmittance
from ..films.materials.effective_medium import Grade
from ..films.spectra import Asked
from ..films.stack import Layer, Stack

Role = Literal["film", "none", "bulk"]

_SLICES = 60  # of a graded layer below the film

# Means over a normal spread of thickness, of N places exact for what is a polynomial up to the
# (2 N - 1)-th degree over it (Gauss and Hermite); the first for a quick look.
_FEW, _MANY = (np.polynomial.hermite_e.hermegauss(count) for count in (3, 5))


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
    quick : bool
        Whether few places stand for the spot.
    """

    thickness_nm: FloatArray
    rough_nm: FloatArray | None = None
    mixed_nm: FloatArray | None = None
    spread: FloatArray | None = None
    quick: bool = False

    @property
    def _places(self) -> FloatArray:
        """Places of the spot, in standard deviations of the thickness."""
        return np.asarray((_FEW if self.quick else _MANY)[0])

    @property
    def spots_nm(self) -> FloatArray:
        """Thicknesses met in the spot, shape (N, J)."""
        if self.spread is None:
            return self.thickness_nm[:, None]
        return np.maximum(self.thickness_nm[:, None] * self._relative, 0.0)

    @property
    def _relative(self) -> FloatArray:
        """Thickness of the places over their mean, shape (N, J)."""
        assert self.spread is not None
        return np.asarray(1.0 + self.spread[:, None] * self._places)

    def mean(self, values: Any) -> Any:
        """Over the spots, of what has shape (N, J, ...)."""
        if self.spread is None:
            return values[:, 0]
        area = (_FEW if self.quick else _MANY)[1]
        return np.einsum("nj...,j->n...", values, area / area.sum())

    def slopes(self, to_d: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Derivatives to thickness and spread out of those (N, J, W) to each spot's thickness."""
        if self.spread is None:
            return to_d[:, 0], np.zeros_like(to_d[:, 0])
        to_mean = to_d * self._relative[..., None]
        to_spread = to_d * (self.thickness_nm[:, None] * self._places)[..., None]
        return self.mean(to_mean), self.mean(to_spread)


@dataclass(frozen=True, eq=False)
class PowerSlopes:
    """Power of N pieces and its derivatives, shapes (N, W).

    A change ``δn`` of the film's complex index changes the power by ``Re(to_index δn)``.
    """

    power: FloatArray
    to_thickness: FloatArray
    to_rough: FloatArray
    to_mixed: FloatArray
    to_spread: FloatArray
    to_index: ComplexArray


@dataclass(frozen=True, eq=False)
class Sample:
    """Everything about a piece that a fit does not change.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (W,)
    lower : ndarray of complex, shape (L, W)
        Layers below the film, and ``lower_nm`` (L,) their thicknesses.
    substrate : ndarray of complex, shape (W,)
        Without a slab, this and ``lower`` may have a row for each of N pieces before.
    slab_nm : float or None
    back, back_nm : ndarray, shapes (B, W) and (B,)
        Films on the slab's far face, from the air inward.
    incidence : Incidence
    kind : {"reflectance", "transmittance"}
    role : {"film", "none", "bulk"}
        Whether there is a film, none, or one that nothing shines through.
    """

    wavelength_nm: FloatArray
    lower: ComplexArray
    lower_nm: FloatArray
    substrate: ComplexArray
    slab_nm: float | None
    back: ComplexArray
    back_nm: FloatArray
    incidence: Incidence
    kind: Kind
    role: Role

    @classmethod
    def on(
        cls, base: Stack, wavelength_nm: FloatArray, *, kind: Kind, angle_deg: float, role: Role
    ) -> Sample:
        """A piece on a base as our notation describes it."""
        lower, lower_nm = _rows(base.layers, wavelength_nm)
        back, back_nm = _rows(base.reverse().layers if base.slab_nm else (), wavelength_nm)
        air = np.ones_like(wavelength_nm)
        bulk = role == "bulk"
        return cls(
            wavelength_nm, lower[: 0 if bulk else None], lower_nm[: 0 if bulk else None],
            base.substrate.nk(wavelength_nm), None if bulk else base.slab_nm, back, back_nm,
            Incidence.at(air, np.asarray(angle_deg)), kind, role,
        )  # fmt: skip

    @property
    def is_dark(self) -> bool:
        """Whether nothing comes through."""
        return self.role == "bulk" and self.kind == "transmittance"

    def powers(self, film: ComplexArray, build: Build) -> FloatArray:
        """What such pieces reflect or let through, shape (N, W).

        Parameters
        ----------
        film : ndarray of complex, shape (N, W)
        build : Build
        """
        if self.is_dark:
            return np.zeros(film.shape)
        index, d, _, _ = self._front(film, build)
        if self.slab_nm is None:
            R, T = reflectance_transmittance(
                index, d, self.wavelength_nm, incidence=self.incidence, polarization="mean"
            )
        else:
            R, T = slab_reflectance_transmittance(
                (index, d),
                self._far(),
                self.slab_nm,
                wavelength_nm=self.wavelength_nm,
                incidence=self.incidence,
                polarization="mean",
            )
        power = R if self.kind == "reflectance" else T
        return np.asarray(build.mean(power) if self.role == "film" else power)

    def gradient(self, film: ComplexArray, build: Build) -> PowerSlopes:
        """The powers, and their derivatives to all that a fit changes."""
        if self.is_dark:
            zero = np.zeros(film.shape)
            return PowerSlopes(zero, zero, zero, zero, zero, zero.astype(complex))
        index, d, rough, mixed = self._front(film, build)
        power, to_d, to_n = self._layer_slopes(index, d)
        zero = np.zeros_like(power)
        if self.role == "none":
            return PowerSlopes(power, zero, zero, zero, zero, zero.astype(complex))
        at = int(build.rough_nm is not None)
        to_rough = to_d[..., 0, :] if at else zero
        to_index = to_n[..., at, :]
        if rough is not None:
            to_index = to_index + to_n[..., 0, :] * rough
        if self.role == "bulk":
            return PowerSlopes(power, zero, to_rough, zero, zero, to_index)
        to_mixed = zero
        if mixed is not None:
            to_index = to_index + to_n[..., at + 1, :] * mixed
            to_mixed = to_d[..., at + 1, :]
        thick, spread = build.slopes(to_d[..., at, :])
        to_rough, to_mixed = build.mean(to_rough), build.mean(to_mixed)
        return PowerSlopes(
            build.mean(power), thick, to_rough, to_mixed, spread, build.mean(to_index)
        )

    def _layer_slopes(
        self, index: ComplexArray, d: FloatArray
    ) -> tuple[FloatArray, FloatArray, ComplexArray]:
        """Power of a front and its derivatives to thickness and index of the layers from the air
        inward."""
        reflects = self.kind == "reflectance"
        of: Asked = "R" if reflects else "T"
        if self.slab_nm is None:
            found = coherent_gradient(
                index,
                d,
                self.wavelength_nm,
                incidence=self.incidence,
                polarization="mean",
                to_index=True,
                of=of,
            )
            if reflects:
                return found.R, found.dR_dd, found.dR_dn[..., 1:, :]
            return found.T, found.dT_dd, found.dT_dn[..., 1:, :]
        slab = slab_gradient(
            (index, d),
            self._far(),
            self.slab_nm,
            wavelength_nm=self.wavelength_nm,
            incidence=self.incidence,
            polarization="mean",
            of=of,
        )
        if reflects:
            return slab.R, slab.front_dR_dd, slab.front_dR_dn
        return slab.T, slab.front_dT_dd, slab.front_dT_dn

    def _front(
        self, film: ComplexArray, build: Build
    ) -> tuple[ComplexArray, FloatArray, ComplexArray | None, ComplexArray | None]:
        """Index (N, 1, L + 2, W) and thickness (N, J, L) from the air to the substrate, and what
        the indices (N, 1, W) of the rough and the mixed layer gain with the film's.

        A piece without a film, or of bulk, has no axis of spots.
        """
        air = np.ones((*self.lower.shape[:-2], 1, self.wavelength_nm.size), dtype=complex)
        below = [self.lower, self.substrate[..., None, :]]
        if self.role == "none":
            return np.concatenate([air, *below], axis=-2), self.lower_nm, None, None
        film = film.reshape((-1, film.shape[-1]))
        bulk = self.role == "bulk"
        spots = np.empty((len(film), 0)) if bulk else build.spots_nm
        tops, thickness = [film[:, None]], [] if bulk else [spots]
        rough_slope, mixed_slope = None, None
        if build.rough_nm is not None:
            rough, rough_slope = _mix_halves(film, np.ones(1, dtype=complex))
            tops.insert(0, rough[:, None])
            thickness.insert(
                0, np.broadcast_to(build.rough_nm[:, None], (len(film), spots.shape[1] or 1))
            )
        if bulk:
            index = np.concatenate([np.broadcast_to(air, (len(film), 1, film.shape[1])), *tops], 1)
            layers = thickness[0] if thickness else np.empty((len(film), 0))
            return index, layers, rough_slope, None
        if build.mixed_nm is not None:
            touched = self.lower[..., 0, :] if self.lower_nm.size else self.substrate
            mixed, mixed_slope = _mix_halves(film, touched)
            tops.append(mixed[:, None])
            thickness.append(np.broadcast_to(build.mixed_nm[:, None], spots.shape))
        rows = air, *tops, *below
        ends = np.cumsum([row.shape[-2] for row in rows]).tolist()
        index = np.empty((len(film), ends[-1], film.shape[-1]), dtype=complex)
        for end, row in zip(ends, rows, strict=True):
            index[:, end - row.shape[-2] : end] = row
        under = np.broadcast_to(self.lower_nm, (*spots.shape, self.lower_nm.size))
        layers = np.concatenate([np.stack(thickness, axis=-1), under], axis=-1)
        if rough_slope is not None:
            rough_slope = rough_slope[:, None]
        if mixed_slope is not None:
            mixed_slope = mixed_slope[:, None]
        return index[:, None], layers, rough_slope, mixed_slope

    def _far(self) -> tuple[ComplexArray, FloatArray]:
        air = np.ones((1, self.wavelength_nm.size), dtype=complex)
        return np.concatenate([air, self.back, self.substrate[None]]), self.back_nm


def _rows(layers: tuple[Layer, ...], wavelength_nm: FloatArray) -> tuple[ComplexArray, FloatArray]:
    rows, thickness = [np.empty((0, wavelength_nm.size), dtype=complex)], [np.empty(0)]
    for layer in layers:
        medium, d = layer.medium, float(layer.thickness_nm)
        if isinstance(medium, Grade):
            rows.append(medium.slices(_SLICES, wavelength_nm))
            thickness.append(np.full(_SLICES, d / _SLICES))
        else:
            rows.append(medium.nk(wavelength_nm)[None])
            thickness.append(np.array([d]))
    return np.concatenate(rows), np.concatenate(thickness)


def _mix_halves(film: ComplexArray, other: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    """Index of half film, half something else, and its derivative to the film's index.

    By Bruggeman's rule ``F(ε; a, b) = (a - ε)/(a + 2ε) + (b - ε)/(b + 2ε) = 0``, which is
    ``4ε² - (a + b) ε - 2ab = 0``. With ``ρ = √a/√b`` its root of positive real part is the one
    (:func:`~oxhue.optics.films.materials.effective_medium.bruggeman`), and
    ``∂ε/∂a = ε/(a + 2ε)² / (a/(a + 2ε)² + b/(b + 2ε)²)``.
    """
    ratio = film / other
    half = 0.125 * (ratio + 1.0 / ratio)
    a, b = film * film, other * other
    eps = (half + np.sqrt(half * half + 0.5)) * film * other
    of_film, of_other = 1.0 / (a + 2.0 * eps) ** 2, 1.0 / (b + 2.0 * eps) ** 2
    mixed = np.sqrt(eps)
    slope = eps * of_film / (a * of_film + b * of_other)
    return mixed, slope * film / mixed  # dn/dn_film = (dε/da) (2 n_film) / (2 n)
