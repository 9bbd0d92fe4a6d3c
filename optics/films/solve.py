"""From a stack of named layers to its reflectance and transmittance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from .._typing import ComplexArray, FloatArray
from ..errors import InputError, LimitError, OutOfRangeError
from .engine.incoherent import slab_powers, slab_reflectance_transmittance
from .engine.transfer_matrix import (
    Incidence,
    Polarization,
    check_angle,
    check_wavelength,
    coherent_powers,
    reflectance_transmittance,
)
from .materials.effective_medium import Grade
from .materials.medium import Medium
from .spectra import DEFAULT_WAVELENGTH_NM, Spectra
from .stack import OPAQUE_K, Layer, Stack

Side = Literal["front", "back"]

MAX_FILMS = 20_000
_SLICE_NM = 0.5
_FEWEST_SLICES, _MOST_SLICES = 60, 400


def solve(
    stack: Stack,
    wavelength_nm: ArrayLike = DEFAULT_WAVELENGTH_NM,
    angle_deg: ArrayLike = 0.0,
    polarization: Polarization = "mean",
    side: Side = "front",
    *,
    absorption: bool = True,
) -> Spectra:
    """What a stack does to light.

    Parameters
    ----------
    stack : Stack
    wavelength_nm : array_like, shape (W,)
        Vacuum wavelengths [nm].
    angle_deg : array_like, shape broadcasting with the sweep
        Angle of incidence at the surface [°], 0 to 90.
    polarization : {"s", "p", "mean"}
    side : {"front", "back"}
        Where the light comes from. The back of a half-space is met from inside it.
    absorption : bool
        Work out what each layer absorbs; without it the rest takes some 60 % of the time.

    Returns
    -------
    Spectra
        ``R``, ``T`` of shape (sweep..., W) and ``layer_A`` of shape (sweep..., layers, W), the
        layers in the order of ``stack.layers``, then the slab if there is one, then
        ``stack.back_layers``, whichever side is looked at.

    Raises
    ------
    InputError, OutOfRangeError
        If the side is unknown, the back is opaque, or a value is outside its range.

    Notes
    -----
    Films are coherent (:func:`~oxhue.optics.films.engine.transfer_matrix.solve_arrays`); the
    two faces of a slab add as powers (:mod:`~oxhue.optics.films.engine.incoherent`). A graded
    layer is cut into slices of 0.5 nm, but 60 to 400 of them, each homogeneous with the mixture
    of its middle; against Maxwell's equations solved through the grade this
    is within 5e-5 in R and T up to 1 µm.
    """
    wavelength = check_wavelength(wavelength_nm)
    angle = check_angle(angle_deg)
    if side == "back":
        if stack.is_opaque(wavelength):
            raise InputError(
                f"the back of this piece cannot be seen: its substrate "
                f"{stack.substrate.label} is opaque"
            )
        seen = solve(stack.reverse(), wavelength, angle, polarization, absorption=absorption)
        layer_A = None if seen.layer_A is None else seen.layer_A[..., ::-1, :]
        return Spectra(wavelength, seen.R, seen.T, layer_A)
    if side != "front":
        raise InputError(f"side {side!r} must be 'front' or 'back'")
    ambient = stack.ambient.nk(wavelength)
    if np.any(ambient.imag > OPAQUE_K):
        raise OutOfRangeError(f"light cannot come through {stack.ambient.label}: it absorbs")
    light = wavelength, Incidence.at(ambient.real, angle), polarization
    front = films_to_arrays(stack, stack.layers, wavelength)
    if stack.slab_nm is None:
        if not absorption:
            R, T = reflectance_transmittance(front.index, front.thickness_nm, *light)
            return Spectra(wavelength, R, T, None)
        R, T, slice_A = coherent_powers(front.index, front.thickness_nm, *light)
        return Spectra(wavelength, R, T, front.merge_slices(slice_A))
    back = films_to_arrays(stack, stack.reverse().layers, wavelength)
    near, far = (front.index, front.thickness_nm), (back.index, back.thickness_nm)
    if not absorption:
        R, T = slab_reflectance_transmittance(near, far, stack.slab_nm, *light)
        return Spectra(wavelength, R, T, None)
    R, T, front_A, slab_A, back_A = slab_powers(near, far, stack.slab_nm, *light)
    back_parts = back.merge_slices(back_A)[..., ::-1, :]
    parts = front.merge_slices(front_A), slab_A[..., None, :], back_parts
    whole = [np.broadcast_to(part, R.shape[:-1] + part.shape[-2:]) for part in parts]
    return Spectra(wavelength, R, T, np.concatenate(whole, axis=-2))


@dataclass(frozen=True, eq=False)
class FilmArrays:
    """One face as arrays, met from the ambient, graded layers cut into slices."""

    index: ComplexArray  # (L + 2, W)
    thickness_nm: FloatArray  # (..., L)
    slices: list[int]  # how many of the L make up each listed layer

    def merge_slices(self, slice_A: FloatArray) -> FloatArray:
        """Absorptance of the listed layers from that of their slices."""
        if not self.slices:
            return slice_A
        starts = np.cumsum([0, *self.slices[:-1]])
        whole: FloatArray = np.add.reduceat(slice_A, starts, axis=-2)
        return whole


def films_to_arrays(
    stack: Stack, layers: tuple[Layer, ...], wavelength_nm: FloatArray
) -> FilmArrays:
    """Layers between a stack's ambient and its substrate as arrays, in the order given."""
    count_films(layers)
    media = {id(m): m for m in (stack.ambient, *(layer.medium for layer in layers))}
    known = {key: _slices(layers, medium, wavelength_nm) for key, medium in media.items()}
    rows = [known[id(layer.medium)] for layer in layers]
    thickness = [
        stack.thickness_of(layer) / len(part)
        for layer, part in zip(layers, rows, strict=True)
        for _ in part
    ]
    shape = np.broadcast_shapes(*(d.shape for d in thickness))
    return FilmArrays(
        np.concatenate([known[id(stack.ambient)], *rows, stack.substrate.nk(wavelength_nm)[None]]),
        np.stack([np.broadcast_to(d, shape) for d in thickness], axis=-1)
        if thickness
        else np.empty((0,)),
        [len(part) for part in rows],
    )


def _slices(layers: tuple[Layer, ...], medium: Medium, wavelength_nm: FloatArray) -> ComplexArray:
    """Index of a medium as one row, or of a grade as a row for each slice."""
    if not isinstance(medium, Grade):
        return medium.nk(wavelength_nm)[None]
    return medium.slices(_slice_count(layers, medium), wavelength_nm)


def _slice_count(layers: tuple[Layer, ...], medium: Medium) -> int:
    if not isinstance(medium, Grade):
        return 1
    thickest = max(
        layer.thickness_nm.max(initial=0.0) for layer in layers if layer.medium is medium
    )
    return min(max(math.ceil(float(thickest) / _SLICE_NM), _FEWEST_SLICES), _MOST_SLICES)


def count_films(layers: tuple[Layer, ...]) -> int:
    """Homogeneous films that light is followed through, a graded layer counting as its slices.

    Raises
    ------
    LimitError
        Above 20,000.
    """
    media = {id(layer.medium): layer.medium for layer in layers}
    each = {key: _slice_count(layers, medium) for key, medium in media.items()}
    count = sum(each[id(layer.medium)] for layer in layers)
    if count > MAX_FILMS:
        raise LimitError(
            f"the layers make {count:,} films, graded ones cut into slices; at most "
            f"{MAX_FILMS:,} are computed"
        )
    return count
