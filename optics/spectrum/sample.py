"""What light a piece returns: its film, a rough surface on it, a mixed layer under it, its base."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from .._typing import ComplexArray, FloatArray, IndexArray
from ..files.spectrum import Kind
from ..films.engine.gradient import coherent_gradient
from ..films.engine.incoherent import slab_reflectance_transmittance
from ..films.engine.incoherent_gradient import slab_gradient
from ..films.engine.transfer_matrix import Incidence, reflectance_transmittance
from ..films.materials.effective_medium import Grade
from ..films.spectra import Asked
from ..films.stack import Layer, Stack
from .seen import nearest_known
from .spot import Build, Places, even, uneven

Role = Literal["film", "none", "bulk"]

_SLICES = 60  # of a graded layer below the film


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
        substrate = base.substrate.nk(nearest_known(base.substrate, wavelength_nm))
        return cls(
            wavelength_nm, lower[: 0 if bulk else None], lower_nm[: 0 if bulk else None],
            substrate, None if bulk else base.slab_nm, back, back_nm,
            Incidence.at(air, np.asarray(angle_deg)), kind, role,
        )  # fmt: skip

    @property
    def is_dark(self) -> bool:
        """Whether nothing comes through."""
        return self.role == "bulk" and self.kind == "transmittance"

    def powers(self, film: ComplexArray, build: Build) -> FloatArray:
        """What such pieces reflect or let through, shape (N, V).

        Parameters
        ----------
        film : ndarray of complex, shape (N, V)
        build : Build
        """
        if self.is_dark:
            return np.zeros(film.shape)
        if self.role != "film":
            return self._power(film, build, even(build.thickness_nm))
        if build.spread is None:
            spots = even(build.thickness_nm)
            return np.asarray(spots.mean(self._power(film, build, spots)))
        power = np.empty(film.shape)
        for rows, spots in uneven(build, self._turn_per_nm(film)):
            own = self._take(rows)._power(film[rows], build.take(rows), spots)
            power[rows] = spots.mean(own)
        return power

    def sweep(
        self, film: ComplexArray, thickness_nm: FloatArray, mixed_nm: FloatArray | None
    ) -> FloatArray:
        """Powers of films of every index (B, V), on a mixed layer (B,) if there is one, and of
        every thickness (G,), shape (B, G, V)."""
        met = np.broadcast_to(np.maximum(thickness_nm, 0.0), (len(film), thickness_nm.size))
        build = Build(met[:, 0], mixed_nm=mixed_nm)
        spots = Places(met, np.ones(met.shape[1]), met, met)
        return self._power(film, build, spots)

    def _power(self, film: ComplexArray, build: Build, spots: Places) -> FloatArray:
        """Of each spot, shape (N, J, V); without a film, or of bulk, (N, V)."""
        index, d, _, _ = self._front(film, build, spots)
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
        return R if self.kind == "reflectance" else T

    def _turn_per_nm(self, film: ComplexArray) -> FloatArray:
        """Phase that light gains in films (N, V) there and back, where it gains most [rad/nm]."""
        return np.asarray((4.0 * np.pi * film.real / self.wavelength_nm).max(axis=-1))

    def _take(self, rows: IndexArray) -> Sample:
        """The pieces of some rows, where each has its own base."""
        if self.substrate.ndim == 1:
            return self
        return replace(self, lower=self.lower[rows], substrate=self.substrate[rows])

    def gradient(self, film: ComplexArray, build: Build) -> PowerSlopes:
        """The powers, and their derivatives to all that a fit changes."""
        if self.is_dark:
            zero = np.zeros(film.shape)
            return PowerSlopes(zero, zero, zero, zero, zero, zero.astype(complex))
        if build.spread is None or self.role != "film":
            return self._gradient(film, build, even(build.thickness_nm))
        to_index = np.empty(film.shape, dtype=complex)
        power, thick, rough, mixed, spread = np.empty((5, *film.shape))
        whole = PowerSlopes(power, thick, rough, mixed, spread, to_index)
        for rows, spots in uneven(build, self._turn_per_nm(film)):
            own = self._take(rows)._gradient(film[rows], build.take(rows), spots)
            for name, part in vars(own).items():
                getattr(whole, name)[rows] = part
        return whole

    def _gradient(self, film: ComplexArray, build: Build, spots: Places) -> PowerSlopes:
        index, d, rough, mixed = self._front(film, build, spots)
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
        thick, spread = spots.slopes(to_d[..., at, :])
        to_rough, to_mixed = spots.mean(to_rough), spots.mean(to_mixed)
        return PowerSlopes(
            spots.mean(power), thick, to_rough, to_mixed, spread, spots.mean(to_index)
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
        self, film: ComplexArray, build: Build, met: Places
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
        spots = np.empty((len(film), 0)) if bulk else met.thickness_nm
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
            rows.append(medium.slices(_SLICES, nearest_known(medium, wavelength_nm)))
            thickness.append(np.full(_SLICES, d / _SLICES))
        else:
            rows.append(medium.nk(nearest_known(medium, wavelength_nm))[None])
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
