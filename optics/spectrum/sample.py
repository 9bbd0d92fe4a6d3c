"""What a spectrometer reads off a piece: its film, what lies below, roughness, haze and scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..files.spectrum import Kind
from ..films.engine.gradient import coherent_gradient
from ..films.engine.incoherent import slab_reflectance_transmittance
from ..films.engine.incoherent_gradient import slab_gradient
from ..films.engine.transfer_matrix import Incidence, reflectance_transmittance
from ..films.materials.effective_medium import Grade, bruggeman
from ..films.spectra import Asked
from ..films.stack import Layer, Stack

Role = Literal["film", "none", "bulk"]

_SLICES = 60  # of a graded layer below the film
_AIR_SHARE = 0.5  # of a rough surface, the usual effective layer


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

    def powers(
        self, film: ComplexArray, thickness_nm: FloatArray, rough_nm: FloatArray
    ) -> FloatArray:
        """What such pieces reflect or let through.

        Parameters
        ----------
        film : ndarray of complex, shape (N, W)
        thickness_nm, rough_nm : ndarray, shape (N,)

        Returns
        -------
        ndarray, shape (N, W)
        """
        if self.is_dark:
            return np.zeros(film.shape)
        index, d = self._front(film, thickness_nm, rough_nm)
        if self.slab_nm is None:
            R, T = reflectance_transmittance(
                index, d, self.wavelength_nm, incidence=self.incidence, polarization="mean"
            )
            return R if self.kind == "reflectance" else T
        R, T = slab_reflectance_transmittance(
            (index, d),
            self._far(),
            self.slab_nm,
            wavelength_nm=self.wavelength_nm,
            incidence=self.incidence,
            polarization="mean",
        )
        return R if self.kind == "reflectance" else T

    def gradient(
        self, film: ComplexArray, thickness_nm: FloatArray, rough_nm: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, ComplexArray]:
        """The powers, and their derivatives to thickness, roughness and index of the film.

        Shapes (N, W); a change ``δn`` of the film's complex index changes the power by
        ``Re(g δn)``.
        """
        if self.is_dark:
            zero = np.zeros(film.shape)
            return zero, zero, zero, zero.astype(complex)
        index, d = self._front(film, thickness_nm, rough_nm)
        of: Asked = "R" if self.kind == "reflectance" else "T"
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
            power = found.R if self.kind == "reflectance" else found.T
            to_d = found.dR_dd if self.kind == "reflectance" else found.dT_dd
            to_n = found.dR_dn if self.kind == "reflectance" else found.dT_dn
            to_n = to_n[..., 1:, :]
        else:
            slab = slab_gradient(
                (index, d),
                self._far(),
                self.slab_nm,
                wavelength_nm=self.wavelength_nm,
                incidence=self.incidence,
                polarization="mean",
                of=of,
            )
            reflects = self.kind == "reflectance"
            power = slab.R if reflects else slab.T
            to_d = slab.front_dR_dd if reflects else slab.front_dT_dd
            to_n = slab.front_dR_dn if reflects else slab.front_dT_dn
        return self._to_film(power, to_d, to_n, film)

    def _to_film(
        self, power: FloatArray, to_d: FloatArray, to_n: ComplexArray, film: ComplexArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, ComplexArray]:
        """Derivatives to film and roughness out of those to the rows of the stack."""
        zero = np.zeros_like(power)
        if self.role == "none":
            return power, zero, zero, zero.astype(complex)
        rough, slope = _rough_index(film)
        to_index = to_n[..., 1, :] + to_n[..., 0, :] * slope * film / rough
        thick = to_d[..., 1, :] if self.role == "film" else zero
        return power, thick, to_d[..., 0, :], to_index

    def _front(
        self, film: ComplexArray, thickness_nm: FloatArray, rough_nm: FloatArray
    ) -> tuple[ComplexArray, FloatArray]:
        """Index (N, L + 2, W) and thickness (N, L) from the air to the substrate."""
        air = np.ones((*self.lower.shape[:-2], 1, self.wavelength_nm.size), dtype=complex)
        below = [self.lower, self.substrate[..., None, :]]
        if self.role == "none":
            return np.concatenate([air, *below], axis=-2), self.lower_nm
        film = film.reshape((-1, film.shape[-1]))
        count = max(len(film), np.size(thickness_nm), np.size(rough_nm))
        if self.role == "bulk":
            below = []
        rows = [air, None, None, *below]
        rough, _ = _rough_index(film)
        rows[1], rows[2] = rough[:, None], film[:, None]
        index = np.concatenate(
            [np.broadcast_to(row, (len(film), *row.shape[-2:])) for row in rows if row is not None],
            axis=1,
        )
        tops = [rough_nm] if self.role == "bulk" else [rough_nm, thickness_nm]
        d = np.concatenate(
            [np.broadcast_to(np.reshape(top, (-1, 1)), (count, 1)) for top in tops]
            + [np.broadcast_to(self.lower_nm, (count, self.lower_nm.size))],
            axis=1,
        )
        return index, d

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


def _rough_index(film: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    """Index of half film, half air, and the derivative of its permittivity to the film's.

    By Bruggeman's rule ``F(ε, a) = (a - ε)/(a + 2ε) + (1 - ε)/(1 + 2ε) = 0``, differentiated.
    """
    a = film * film
    eps = bruggeman(a, 1.0, _AIR_SHARE)
    of_film, of_air = 1.0 / (a + 2.0 * eps) ** 2, 1.0 / (1.0 + 2.0 * eps) ** 2
    return np.sqrt(eps), eps * of_film / (a * of_film + of_air)
