"""Films of one medium or of two, one over the other: what their colours are computed from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .._typing import ComplexArray, FloatArray
from ..films.engine.incoherent import slab_reflectance_transmittance
from ..films.engine.thickness_scan import Base, View, scan_films
from ..films.engine.transfer_matrix import Incidence, solve_arrays
from ..films.materials.medium import Medium
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..numerics.interpolate import refine_even

# Largest phase ``4π |n| d / λ`` between thicknesses that are computed: a polynomial through twelve
# of them gives those between to 1e-5 in CIELAB, or 3e-3 for a nanometre of silver or aluminium.
_TURN, _AROUND = 0.2, 12
_FEWEST = 32  # thicknesses for which that is worth its while
_EVEN = 1e-9
_OPAQUE = 1e-8  # share of the light that crosses: the colour moves by a hundred-thousandth at most


Films = tuple[ComplexArray, FloatArray]
"""Index (V, L, W) of the layers of V films, and the shares (L,) that they have of its thickness."""


@dataclass(frozen=True)
class Bilayer:
    """A film of two media, the first over the second, which shares its thickness.

    An oxide that turns into a richer one from outside in grows so. As a medium it stands for a
    homogeneous one of the mean permittivity, which is exact for films far thinner than a
    wavelength: good enough to count orders by, not for colours.
    """

    first: Medium
    second: Medium
    share_first: float

    @property
    def label(self) -> str:
        """The two layers in words."""
        share = f"{100.0 * self.share_first:g}%"
        return f"{self.first.label}, {share} of the film, over {self.second.label}"

    @property
    def kind(self) -> str:
        """The kind of the upper one."""
        return self.first.kind

    def nk(self, wavelength_nm: ArrayLike) -> ComplexArray:
        """Index of the mean permittivity ``Σ f_i ε_i`` at each wavelength [nm]."""
        first, second = self.first.nk(wavelength_nm), self.second.nk(wavelength_nm)
        mean = self.share_first * first**2 + (1.0 - self.share_first) * second**2
        return np.asarray(np.sqrt(mean))


def layers_of(film: Medium) -> tuple[ComplexArray, FloatArray]:
    """Index (L, W) on the default wavelengths of a film's layers, and their shares (L,)."""
    if isinstance(film, Bilayer):
        index = np.array([part.nk(DEFAULT_WAVELENGTH_NM) for part in (film.first, film.second)])
        return index, np.array([film.share_first, 1.0 - film.share_first])
    return film.nk(DEFAULT_WAVELENGTH_NM)[None], np.ones(1)


def scan_film(
    film: Medium,
    bases: Sequence[Base],
    thickness_nm: FloatArray,
    *,
    angle_deg: float = 0.0,
    view: View = "front",
    weights: FloatArray,
) -> FloatArray:
    """Sums (S, D, n) over the spectra of a film of each thickness (D,) on each of S bases."""
    index, share = layers_of(film)
    (found,) = scan_layers(
        (index[None], share), bases, thickness_nm,
        angle_deg=angle_deg, view=view, weights=weights,
    )  # fmt: skip
    return np.asarray(found)


def scan_scales(
    film: Medium,
    bases: Sequence[Base],
    scale_nm: FloatArray,
    *,
    index_error: FloatArray,
    angle_deg: FloatArray,
    view: View = "front",
    weights: FloatArray,
) -> FloatArray:
    """Sums (E, A, S, D, n) for each optical scale ``D = d (1 + e)`` (D,), relative index error e
    (E,) and angle (A,), as `scan_film`."""
    index, share = layers_of(film)
    stretched = index * (1.0 + index_error)[:, None, None], share
    each = [
        scan_layers(
            stretched, bases, scale_nm,
            stretch=1.0 / (1.0 + index_error), angle_deg=float(angle), view=view, weights=weights,
        )
        for angle in angle_deg
    ]  # fmt: skip
    return np.stack(each, axis=1)


def scan_layers(
    layers: Films,
    bases: Sequence[Base],
    thickness_nm: FloatArray,
    *,
    stretch: FloatArray | None = None,
    angle_deg: float = 0.0,
    view: View = "front",
    weights: FloatArray,
) -> FloatArray:
    """Sums (V, S, D, n) of V films by the index (V, L, W) of their layers and the shares (L,) of
    these, each film ``stretch`` (V,) times as thick as the thicknesses say."""
    stretch = np.ones(len(layers[0])) if stretch is None else stretch
    rest: dict[str, Any] = {
        "stretch": stretch,
        "angle_deg": angle_deg,
        "view": view,
        "weights": weights,
    }
    opaque = int(np.searchsorted(thickness_nm, _opaque_from(layers, stretch)))
    if _FEWEST <= opaque < thickness_nm.size - 1 and bool((np.diff(thickness_nm) > 0.0).all()):
        found = scan_layers(layers, bases, thickness_nm[: opaque + 1], **rest)
        more = thickness_nm.size - opaque - 1
        return np.concatenate([found, found[:, :, -1:].repeat(more, axis=2)], axis=2)
    every = _count_between(layers[0] * stretch[:, None, None], thickness_nm)
    if every > 1:
        fine = refine_even(thickness_nm.size, every, around=_AROUND)
        step = (thickness_nm[-1] - thickness_nm[0]) / (thickness_nm.size - 1)
        nodes_nm = thickness_nm[0] + every * step * np.arange(fine.shape[1])
        # In one product: of few columns each, one for every film takes many times as long.
        nodes = np.moveaxis(_scan_each(layers, bases, nodes_nm, **rest), 2, 0)
        between = fine @ nodes.reshape(len(nodes), -1)
        return np.moveaxis(between.reshape(-1, *nodes.shape[1:]), 0, 2)
    return _scan_each(layers, bases, thickness_nm, **rest)


def _opaque_from(layers: Films, stretch: FloatArray) -> float:
    """Thickness [nm] from which on next to no light crosses any of the films, so that all that are
    thicker look alike: ``exp(-4π Σ f k d/λ)`` is `_OPAQUE` at most."""
    index, share = layers
    fades = share @ index.imag * stretch[:, None] / DEFAULT_WAVELENGTH_NM
    least = 4.0 * np.pi * float(fades.min())
    return -math.log(_OPAQUE) / least if least > 0.0 else math.inf


def _count_between(index: ComplexArray, thickness_nm: FloatArray) -> int:
    """How many steps of an even grid lie between those computed, of layers (..., W); 1 of
    another."""
    if thickness_nm.size < _FEWEST:
        return 1
    steps = np.diff(thickness_nm)
    if np.ptp(steps) > _EVEN * thickness_nm[-1]:
        return 1
    turn = 4.0 * np.pi * np.abs(index / DEFAULT_WAVELENGTH_NM).max() * steps.mean()
    return max(1, int(_TURN / turn))


def _scan_each(
    layers: Films,
    bases: Sequence[Base],
    thickness_nm: FloatArray,
    *,
    stretch: FloatArray,
    angle_deg: float,
    view: View,
    weights: FloatArray,
) -> FloatArray:
    """As `scan_layers`, each thickness computed."""
    index, share = layers
    if len(share) == 1:
        return scan_films(
            index[:, 0], bases, thickness_nm,
            stretch=stretch, wavelength_nm=DEFAULT_WAVELENGTH_NM,
            angle_deg=angle_deg, view=view, weights=weights,
        )  # fmt: skip
    each = [
        film_shares(
            own[None], thick * thickness_nm[:, None] * share, base,
            angle_deg=np.asarray(angle_deg), view=view,
        )
        for own, thick in zip(index, stretch, strict=True)
        for base in bases
    ]  # fmt: skip
    found = np.stack(each) @ weights
    return np.asarray(found.reshape(len(index), len(bases), *found.shape[1:]))


def film_shares(
    index: ComplexArray,
    thickness_nm: FloatArray,
    base: Base,
    *,
    below: ComplexArray | None = None,
    below_nm: FloatArray | None = None,
    angle_deg: FloatArray,
    view: View,
    every: int = 1,
) -> FloatArray:
    """Share of the light (K, W) that films of layers (K, L, W), (K, L) on a base send back.

    ``below`` and ``below_nm`` stand for the base's own layers where they differ from film to film.
    With ``every`` only so many of the wavelengths are worked out.
    """
    grid, count = DEFAULT_WAVELENGTH_NM[::every], len(thickness_nm)
    below = (base.index[None] if below is None else below)[..., ::every]
    below_nm = base.thickness_nm[None] if below_nm is None else below_nm
    index = index[..., ::every]
    parts = [np.ones_like(index[:, :1]), index, below]
    index = np.concatenate([np.broadcast_to(a, (count, *a.shape[1:])) for a in parts], axis=1)
    layers = [thickness_nm, np.broadcast_to(below_nm, (count, below_nm.shape[1]))]
    thickness_nm = np.concatenate(layers, axis=1)
    if base.slab_nm is None or base.back is None:
        response = solve_arrays(index, thickness_nm, grid, angle_deg)
        return response.T if view == "through" else response.R
    incidence = Incidence.at(np.ones(grid.size), angle_deg)
    faces = [(index, thickness_nm), (base.back[0][..., ::every], base.back[1])]
    if view == "back":
        faces.reverse()
    R, T = slab_reflectance_transmittance(
        faces[0],
        faces[1],
        base.slab_nm,
        wavelength_nm=grid,
        incidence=incidence,
        polarization="mean",
    )
    return T if view == "through" else R
