"""How far apart the fringes of a stack lie in wavelength."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import FloatArray, IndexArray
from .engine.incidence import Incidence
from .solve import PreparedStack
from .stack import Layer, Stack
from .stack_arrays import FilmArrays

SEEN_NM = (400.0, 700.0)
"""Where fringes tell in a colour: an eye weighs other light with less than a hundredth."""

_POINTS = 13  # wavelengths at which the fringes are counted
_CHUNK = 200_000  # thicknesses times wavelengths at a time
_FAINT = 1e-4  # amplitude, there and back, of a wave that makes no fringes any more


def fringe_spacing_nm(made: PreparedStack) -> FloatArray:
    """Least distance between two fringes of each stack [nm] in visible light, shape (sweep...).

    All layers that light crosses there and back are taken to act together: a nanometre of
    wavelength then holds ``2 Σ d |∂(Re kz/k0 λ)/∂λ|`` fringes. It is infinite for a bare surface,
    and does not tell how sharp fringes between two mirrors are.
    """
    faces = [made.front] if made.back is None else [made.front, made.back]
    counts = [_fringes_per_nm(face, made) for face in faces]
    with np.errstate(divide="ignore"):
        spacing: FloatArray = 1.0 / np.maximum(counts[0], counts[-1])
    return spacing


def least_fringe_spacing_nm(made: PreparedStack) -> float:
    """A distance [nm] that the fringes of no stack of a sweep fall below, found at little cost: as
    if each layer had its greatest thickness, were clear, and turned the light as fast throughout.
    """
    most, grid = 0.0, made.wavelength_nm
    steps = grid[1:] - grid[:-1]
    for face in (made.front, made.back):
        if face is None or len(face.index) == 2:
            continue
        films = face.index[1:-1]
        nm = face.thickness_nm.reshape(-1, len(films)).max(axis=0, initial=0.0)
        turns = [one.normal_component(films).real / grid for one in _extremes(made.incidence)]
        slopes = [np.abs((each[:, 1:] - each[:, :-1]) / steps).max(axis=-1) for each in turns]
        most = max(most, 2.0 * float(nm @ np.maximum(slopes[0], slopes[-1])))
    return 1.0 / most if most > 0.0 else np.inf


def _fringes_per_nm(face: FilmArrays, made: PreparedStack) -> FloatArray:
    """Most fringes in a nanometre of visible light, shape (sweep...)."""
    grid, films = made.wavelength_nm, face.index[1:-1]
    if not len(films):
        return np.zeros(())
    seen = np.flatnonzero((grid >= SEEN_NM[0]) & (grid <= SEEN_NM[1]))
    seen = seen[:: max(1, seen.size // _POINTS)]
    slope, fading = np.zeros((2, len(films), seen.size))
    for incidence in _extremes(made.incidence):
        kz = incidence.normal_component(films)
        slope = np.maximum(slope, 2.0 * np.abs(np.gradient(kz.real / grid, grid, axis=-1))[:, seen])
        fading = np.maximum(fading, 4.0 * np.pi * (kz.imag / grid)[:, seen])
    nm = face.thickness_nm.reshape(-1, len(films))
    step = max(1, _CHUNK // max(1, slope.size))
    parts = [_most(nm[k : k + step], slope, fading) for k in range(0, len(nm), step)]
    most: FloatArray = np.concatenate([np.empty(0), *parts]).reshape(face.thickness_nm.shape[:-1])
    return most


def _most(thickness_nm: FloatArray, slope: FloatArray, fading: FloatArray) -> FloatArray:
    """Most fringes (N,) at any of the wavelengths, of thicknesses (N, L)."""
    if not fading.any():
        return np.asarray((thickness_nm @ slope).max(axis=-1))
    d = thickness_nm[..., None]
    count = np.where(d * fading < -np.log(_FAINT), d * slope, 0.0).sum(axis=1)
    return np.asarray(count.max(axis=-1))


def _extremes(incidence: Incidence) -> list[Incidence]:
    """The steepest and the flattest direction of the light: others lie between them."""
    ends = {float(incidence.cosine.max()), float(incidence.cosine.min())}
    return [Incidence(incidence.ambient_n, np.array([cosine])) for cosine in ends]


def take_rows(stack: Stack, rows: slice | IndexArray) -> Stack:
    """A swept stack at some points of its first sweep axis."""
    return replace(
        stack,
        layers=_cut_layers(stack.layers, rows),
        back_layers=_cut_layers(stack.back_layers, rows),
    )


def _cut_layers(layers: tuple[Layer, ...], rows: slice | IndexArray) -> tuple[Layer, ...]:
    return tuple(
        replace(layer, thickness_nm=layer.thickness_nm[rows]) if layer.axis == 0 else layer
        for layer in layers
    )
