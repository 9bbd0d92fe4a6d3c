"""A stack as arrays of index and thickness, graded layers cut into slices."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..errors import InputError, LimitError, OutOfRangeError
from .engine.check import check_index
from .materials.effective_medium import Grade
from .materials.medium import Medium
from .stack import Layer, Stack

MAX_FILMS = 20_000
_SLICE_NM = 0.5
_FEWEST_SLICES, _MOST_SLICES = 60, 400
# From this optical path [nm] on a layer's fringes are finer than the eye and the broad bands of a
# camera resolve: their mean is within 0.3 ΔE of the fringes themselves under daylight, a bulb or
# a white diode, where a grid of 5 nm is up to 20 ΔE off (both measured).
_AVERAGED_PATH_NM = 5_000.0
_MIDDLE_NM = 550.0  # where that path is taken
_LEAST_CROSSING = 1e-4  # share of the light that returns; a darker layer has no fringes

Face = tuple[ComplexArray, FloatArray]
"""Index (L + 2, W) from the air to the slab, and thickness (..., L) of the films between."""


@dataclass(frozen=True, eq=False)
class FilmArrays:
    """One face as arrays, met from the ambient, graded layers cut into slices."""

    index: ComplexArray  # (L + 2, W)
    thickness_nm: FloatArray  # (..., L)
    slices: list[int]  # how many of the L make up each listed layer

    @property
    def face(self) -> Face:
        """Index and thickness alone."""
        return self.index, self.thickness_nm

    def with_thickness(self, thickness_nm: FloatArray) -> FilmArrays:
        """The same films with other thicknesses (..., listed layers)."""
        if max(self.slices, default=1) == 1:
            return FilmArrays(self.index, thickness_nm, self.slices)
        counts = np.array(self.slices, dtype=int)
        each = np.repeat(thickness_nm / counts, counts, axis=-1)
        return FilmArrays(self.index, each, self.slices)

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
    below = stack.substrate.nk(wavelength_nm)[None]
    index = np.concatenate([known[id(stack.ambient)], *rows, below])
    try:
        check_index(index)
    except OutOfRangeError as error:
        each = [*((media[key], found) for key, found in known.items()), (stack.substrate, below)]
        raise _name_medium(each, error) from error
    nm = np.empty((*np.broadcast_shapes(*(d.shape for d in thickness)), len(thickness)))
    for j, d in enumerate(thickness):
        nm[..., j] = d
    return FilmArrays(index, nm, [len(part) for part in rows])


def _name_medium(
    each: list[tuple[Medium, ComplexArray]], error: OutOfRangeError
) -> OutOfRangeError:
    """The refusal by the name of the medium whose index cannot be, such as one written n - ik."""
    for medium, index in each:
        try:
            check_index(index)
        except OutOfRangeError:
            return OutOfRangeError(f"{medium.label}: {error}; here absorption is n + ik, k above 0")
    return error


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


@dataclass(frozen=True, eq=False)
class Base:
    """All that lies under a film.

    Attributes
    ----------
    index : ndarray of complex, shape (L + 1, W)
        Coherent layers under the film, then the substrate or a layer as thick as a slab.
    thickness_nm : ndarray, shape (L,)
    slab_nm : float or None
        Thickness [nm] of a slab, whose faces add as powers; None for a half-space.
    back : tuple or None
        Index (B + 2, W) and thickness (B,) of the far face, from what lies beyond it, air or a
        half-space, inward to the slab.
    """

    index: ComplexArray
    thickness_nm: FloatArray
    slab_nm: float | None = None
    back: Face | None = None


def base_of(below: Stack, wavelength_nm: FloatArray) -> Base:
    """A stack without sweeps as the base of a film.

    Raises
    ------
    InputError
        If the stack is swept.
    """
    if below.sweep_shape:
        raise InputError("what lies under the film cannot be swept")
    front = films_to_arrays(below, below.layers, wavelength_nm)
    if below.slab_nm is None:
        thick = _thickest_clear(below)
        if thick is not None:
            return _cut_at(front, sum(front.slices[:thick]))
        return Base(front.index[1:], front.thickness_nm)
    far = films_to_arrays(below, below.reverse().layers, wavelength_nm)
    back = far.index, far.thickness_nm
    return Base(front.index[1:], front.thickness_nm, below.slab_nm, back)


def _thickest_clear(below: Stack) -> int | None:
    """Place of the layer with the longest optical path, if it is so long that its fringes are
    averaged: as a slab on what lies under it."""
    if below.ambient.nk(_MIDDLE_NM) != 1.0:
        return None
    each = [(_clear_path_nm(layer), place) for place, layer in enumerate(below.layers)]
    path_nm, place = max(each, default=(0.0, 0))
    return place if path_nm >= _AVERAGED_PATH_NM else None


def _clear_path_nm(layer: Layer) -> float:
    """Index times thickness of a homogeneous layer through which light comes back, else 0."""
    if isinstance(layer.medium, Grade):
        return 0.0
    index, nm = complex(layer.medium.nk(_MIDDLE_NM)), float(np.max(layer.thickness_nm))
    returning = math.exp(-8.0 * math.pi * index.imag * nm / _MIDDLE_NM)
    return index.real * nm if returning > _LEAST_CROSSING else 0.0


def _cut_at(front: FilmArrays, row: int) -> Base:
    """Films on a half-space as a base whose slab is one of them."""
    index, nm = front.index[1:], front.thickness_nm
    back = index[row:][::-1], nm[row + 1 :][::-1]
    return Base(index[: row + 1], nm[:row], float(nm[row]), back)
