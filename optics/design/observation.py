"""Ways of looking at a piece, each ready to tell R and T of many designs, with derivatives.

A piece is a base (substrate, films that are there already, its far face) with the films of a
design on top. A design is two arrays: which medium of a palette each film is, and how thick.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .._typing import ComplexArray, FloatArray, IndexArray
from ..errors import InputError
from ..films.engine.gradient import coherent_gradient
from ..films.engine.incoherent import slab_reflectance_transmittance
from ..films.engine.incoherent_gradient import slab_gradient
from ..films.engine.transfer_matrix import (
    Incidence,
    Polarization,
    check_angle,
    reflectance_transmittance,
)
from ..films.materials.medium import Medium
from ..films.spectra import Asked
from ..films.stack import OPAQUE_K, Layer, Stack
from ..films.stack_arrays import FilmArrays, films_to_arrays


@dataclass(frozen=True, eq=False)
class Powers:
    """R and T, shape (..., K, W), of K angles; derivatives to thickness (..., K, L, W), of no rows
    where those of the other power alone were wanted, or None.

    Where a phase was looked at, it stands in ``turn`` [°, or fs of a delay], and R and T have no
    wavelengths.
    """

    R: FloatArray
    T: FloatArray
    dR: FloatArray | None = None
    dT: FloatArray | None = None
    turn: FloatArray | None = None
    dturn: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class GoalObservation:
    """One grid of wavelengths and angles, one polarisation, one side.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (W,)
    angle_deg : ndarray, shape (K,)
    polarization : {"s", "p", "mean"}
    back : bool
        Met from the far side of the base.
    opaque : bool
        Nothing leaves the far side: what enters a half-space that absorbs stays there.
    rows : ndarray of complex, shape (M, W)
        Index of each medium of the palette.
    under, behind : FilmArrays
        Ambient, films already there and substrate from the light inward; the far face from the
        air inward (only for a slab).
    slab_nm : float or None
    over : FilmArrays
        Films above those of a design, the same in all: a protective layer.
    """

    wavelength_nm: FloatArray
    angle_deg: FloatArray
    polarization: Polarization
    back: bool
    opaque: bool
    rows: ComplexArray
    under: FilmArrays
    behind: FilmArrays
    slab_nm: float | None
    over: FilmArrays

    @property
    def needs_general(self) -> bool:
        """Whether it takes the way for any stacks, where the one for a palette will not do."""
        return self.back or self.slab_nm is not None

    def index(self, which: IndexArray, index_error: FloatArray | None = None) -> ComplexArray:
        """Index of the films, shape (L, W), or (..., L, W) with relative errors (..., L)."""
        films = self.rows[which]
        return films if index_error is None else films * (1.0 + index_error[..., None])

    def powers(
        self, films: ComplexArray, thickness_nm: FloatArray, tilt_deg: FloatArray | None = None
    ) -> Powers:
        """R and T of designs: index (..., L, W), thickness (..., L), errors of the angle (...)."""
        index, thickness = self._front(films, thickness_nm)
        lit = self._incidence(tilt_deg)
        if self.slab_nm is not None:
            front, back = (index, thickness), (self.behind.index, self.behind.thickness_nm)
            faces = (back, front) if self.back else (front, back)
            return Powers(
                *slab_reflectance_transmittance(
                    *faces,
                    self.slab_nm,
                    wavelength_nm=self.wavelength_nm,
                    incidence=lit,
                    polarization=self.polarization,
                )
            )
        if self.back:
            index, thickness = index[..., ::-1, :], thickness[..., ::-1]
        grid = self.wavelength_nm
        return Powers(
            *reflectance_transmittance(
                index, thickness, grid, incidence=lit, polarization=self.polarization
            )
        )

    def gradient(self, films: ComplexArray, thickness_nm: FloatArray, of: Asked = "RT") -> Powers:
        """As ``powers``, with the derivatives of these to the thicknesses."""
        index, thickness = self._front(films, thickness_nm)
        count, lit = films.shape[-2], self._incidence(None)
        grid = self.wavelength_nm
        if self.slab_nm is not None:
            front, back = (index, thickness), (self.behind.index, self.behind.thickness_nm)
            faces = (back, front) if self.back else (front, back)
            slab = slab_gradient(
                *faces,
                self.slab_nm,
                wavelength_nm=grid,
                incidence=lit,
                polarization=self.polarization,
                to_index=False,
                of=of,
            )
            to_R, to_T = (
                (slab.back_dR_dd, slab.back_dT_dd)
                if self.back
                else (slab.front_dR_dd, slab.front_dT_dd)
            )
            own = self._own(count)
            return Powers(slab.R, slab.T, to_R[..., own, :], to_T[..., own, :])
        if self.back:
            index, thickness = index[..., ::-1, :], thickness[..., ::-1]
        found = coherent_gradient(
            index,
            thickness,
            grid,
            incidence=lit,
            polarization=self.polarization,
            to_index=False,
            of=of,
        )
        step = -1 if self.back else 1
        own = self._own(count)
        to_R, to_T = (part[..., ::step, :][..., own, :] for part in (found.dR_dd, found.dT_dd))
        return Powers(found.R, found.T, to_R, to_T)

    def _own(self, count: int) -> slice:
        """The rows of a design's films among all films, from the light inward."""
        first = self.over.thickness_nm.size
        return slice(first, first + count)

    def _front(
        self, films: ComplexArray, thickness_nm: FloatArray
    ) -> tuple[ComplexArray, FloatArray]:
        """Index (..., 1, O + L + U + 2, W) and thickness (..., 1, O + L + U), the 1 meeting the
        angles."""
        lead = films.shape[:-2]
        there = self.under.index
        parts = there[:1], self.over.index[1:-1], films, there[1:]
        index = np.concatenate([np.broadcast_to(p, lead + p.shape[-2:]) for p in parts], axis=-2)
        above, below = (
            np.broadcast_to(nm, thickness_nm.shape[:-1] + nm.shape)
            for nm in (self.over.thickness_nm, self.under.thickness_nm)
        )
        thickness = np.concatenate([above, thickness_nm, below], axis=-1)
        return index[..., None, :, :] if lead else index, thickness[..., None, :]

    def _incidence(self, tilt_deg: FloatArray | None) -> Incidence:
        """The directions, shape (K, W), or (..., K, W) with errors of the angle (...)."""
        angle = self.angle_deg
        if tilt_deg is not None:
            angle = np.minimum(np.abs(angle + tilt_deg[..., None]), 90.0)
        if self.slab_nm is None and self.back:
            return Incidence.at(self.under.index[-1].real, angle)
        return Incidence.at(self.under.index[0].real, angle)


def make_observation(
    base: Stack,
    palette: tuple[Medium, ...],
    wavelength_nm: FloatArray,
    *,
    angle_deg: ArrayLike = 0.0,
    polarization: Polarization = "mean",
    back: bool = False,
    cover: tuple[Layer, ...] = (),
) -> GoalObservation:
    """Look at designs on a base.

    Parameters
    ----------
    base : Stack
        What the films are laid on, without any sweep.
    palette : tuple of Medium
        What the films may be made of.
    cover : tuple of Layer
        Films above those of a design, from the light inward.

    Raises
    ------
    InputError
        If the back is looked at and cannot be seen, or the base has a sweep.
    OutOfRangeError
        If data of a medium do not reach a wavelength.
    """
    if base.sweep_shape:
        raise InputError("what the films are laid on must have fixed thicknesses, not a sweep")
    opaque = base.slab_nm is None and bool(np.any(base.substrate.nk(wavelength_nm).imag > OPAQUE_K))
    if back and opaque:
        raise InputError(
            f"the back cannot be looked at: the substrate {base.substrate.label} is opaque"
        )
    behind = base.reverse().layers if base.slab_nm is not None else ()
    return GoalObservation(
        wavelength_nm,
        np.atleast_1d(check_angle(angle_deg)),
        polarization,
        back,
        opaque,
        np.array([medium.nk(wavelength_nm) for medium in palette]),
        films_to_arrays(base, base.layers, wavelength_nm),
        films_to_arrays(base, behind, wavelength_nm),
        base.slab_nm,
        films_to_arrays(base, cover, wavelength_nm),
    )


def make_stack(
    base: Stack, palette: tuple[Medium, ...], *, which: IndexArray, thickness_nm: FloatArray
) -> Stack:
    """A design on its base as a stack."""
    films = tuple(
        Layer(palette[i], np.asarray(d)) for i, d in zip(which, thickness_nm, strict=True)
    )
    return Stack(films + base.layers, base.substrate, base.slab_nm, base.back_layers, base.ambient)
