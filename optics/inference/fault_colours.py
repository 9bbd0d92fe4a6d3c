"""How much each fault moves the colour of a film, and how far it spreads it.

All are computed for the film at its likeliest angle and glare, as a difference in CIELAB from
the flat clear film, and added to the colours of every data set of what lies below. A fault's range
is met at a few nodes: their mean and covariance stand for it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..colour.conditions import ViewingConditions
from ..colour.illuminants import tristimulus_weights
from ..colour.spaces import (
    SRGB_WHITE_XYZ,
    lab_to_xyz,
    srgb_encode,
    srgb_to_lab,
    xyz_to_lab,
    xyz_to_srgb_linear,
)
from ..films.engine.thickness_scan import Base, View
from ..films.materials.effective_medium import bruggeman
from ..films.materials.medium import Medium
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from .faults import UNDER
from .layered import film_shares, layers_of, scan_film, scan_layers
from .uncertainty import VEIL, Uncertainty

_GRID = DEFAULT_WAVELENGTH_NM

# Ranges of the faults, as nodes that stand for equal shares.
_SCATTERED = (0.08, 0.18, 0.30, 0.45)  # share of the light (a judgement: satin to matt)
_SENT_BACK = (0.2, 0.33, 0.47)  # of it, grey, to the eye; a half at most, the other goes aside
# Root mean square height [nm] of what is finer than the eye resolves; light left in the mirror's
# direction is exp(-(4πσ/λ)²): H. E. Bennett and J. O. Porteus, J. Opt. Soc. Am. 51, 123 (1961),
# doi:10.1364/JOSA.51.000123. Ground and rolled metal of 10 to 40 nm: common practice, no source.
_ROUGH_NM = (10.0, 16.0, 21.0, 25.0, 31.0, 38.0)
_HAZE = (0.01, 0.05)  # grey that a rough surface adds (a judgement)
_UNEVEN = (0.04, 0.07, 0.10, 0.13, 0.16, 0.20)  # relative standard deviation in the spot
# From a trace to that of oxides visibly short of oxygen (a judgement).
_ABSORBING_K = (0.015, 0.035, 0.06, 0.085, 0.115, 0.145)
_MIXED_NM = (4.0, 8.0, 13.0, 17.0, 22.0, 28.0)  # a foot of half metal, half oxide (a judgement)
_MIXED_METAL = (0.35, 0.65)  # share of metal by volume
_CLEAR_INDEX = (1.43, 1.60)  # from wax and silica to hard resins (common practice, no source)
# Thicknesses [nm] that stand for a layer of micrometres, whose phase is in every place at once.
_THICK_NM = 4000.0 + 550.0 / (2.0 * 1.5) * np.arange(6) / 6.0
_CURVE = (0.1, 0.4, 0.7, 1.0)  # of the largest contrast a camera may add
_SATURATION = 1.25  # largest gain of saturation for a gain of contrast of 1 (a judgement)
# Lamps of homes and workshops: tubes of three kinds, white diodes warm and cold, a bulb, daylight.
_LAMPS = ("FL2", "FL4", "FL11", "LED-B1", "LED-B3", "A", "D65")
_WIDE_STEP_NM = 2.0
_STEP = 2  # every second row is computed, the others lie between
_REACH = 2.5  # standard deviations of uneven thickness
_TURNS = np.linspace(-_REACH, _REACH, 11)
_LUMA = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709

Named = tuple[str, float]
"""A fault, and the thickness of the layer that it is [nm], or 0."""
Moments = tuple[FloatArray, FloatArray]
"""Mean (D, 3) and covariance (D, 3, 3) of a difference in CIELAB."""
Patterns = dict[str, FloatArray]
"""By the name of a fault, how its nodes differ, (ways, nodes)."""


@dataclass(frozen=True, eq=False)
class FaultView:
    """How a film is looked at, the same for all films of a table.

    Attributes
    ----------
    scale_nm : ndarray, shape (D,)
        Thicknesses, on an even grid.
    angle_deg : float
        The middle of the angles in doubt [°]; glare is taken at its middle too.
    coarse : bool
        Whether the scale is so fine that every second of its steps will do.
    """

    scale_nm: FloatArray
    angle_deg: float
    doubts: Uncertainty
    viewing: ViewingConditions
    view: View
    coarse: bool = True

    @cached_property
    def coarse_nm(self) -> FloatArray:
        """Thicknesses that are computed, (C,); the first and the last are of the scale."""
        if not self.coarse:
            return self.scale_nm
        count = -(-self.scale_nm.size // _STEP) + 1
        return np.linspace(self.scale_nm[0], self.scale_nm[-1], count)

    @cached_property
    def wide_nm(self) -> FloatArray:
        """Thicknesses, (X,), up to the thickest place of an uneven spot."""
        most = self.scale_nm[-1] * (1.0 + _REACH * max(_UNEVEN))
        return np.linspace(0.0, most, 1 + int(np.ceil(most / _WIDE_STEP_NM)))

    @cached_property
    def uneven(self) -> FloatArray:
        """Weights (nodes, C, X) of even films in uneven ones, normal about each thickness."""
        share = np.exp(-0.5 * _TURNS**2)
        matrix = np.zeros((len(_UNEVEN), self.coarse_nm.size, self.wide_nm.size))
        rows = np.arange(self.coarse_nm.size)
        for at, spread in enumerate(_UNEVEN):
            for turn, weight in zip(_TURNS, share / share.sum(), strict=True):
                nm = np.maximum(self.coarse_nm * (1.0 + turn * spread), 0.0)
                place = np.minimum(nm / self.wide_nm[1], self.wide_nm.size - 1.000001)
                below = place.astype(np.intp)
                np.add.at(matrix[at], (rows, below), weight * (1.0 - place + below))
                np.add.at(matrix[at], (rows, below + 1), weight * (place - below))
        return matrix

    @cached_property
    def weights(self) -> FloatArray:
        """Tristimulus weights (W, 3) of the stated light."""
        return tristimulus_weights(_GRID, self.viewing.light, self.viewing.observer)

    @cached_property
    def left_by_rough(self) -> list[FloatArray]:
        """The same of what each rough surface leaves of it in the mirror's direction."""
        cosine = np.cos(np.radians(self.angle_deg))
        left = (np.exp(-((4.0 * np.pi * nm * cosine / _GRID) ** 2)) for nm in _ROUGH_NM)
        return [self.weights * one[:, None] for one in left]

    @cached_property
    def lamps(self) -> list[FloatArray]:
        """The same of lamps of another kind."""
        observer = self.viewing.observer
        others = (one for one in _LAMPS if one != self.viewing.light)
        return [tristimulus_weights(_GRID, one, observer) for one in others]

    def lab(self, xyz: FloatArray, white: FloatArray | None = None) -> FloatArray:
        """CIELAB under the middle of the glare."""
        white = self.weights.sum(axis=0) if white is None else white
        glare = 0.5 * self.doubts.glare
        return xyz_to_lab((1.0 - glare) * xyz + VEIL * glare * white, white)


def fault_moments(
    film: Medium, base: Base, *, seen: FaultView, names: Iterable[Named]
) -> dict[Named, Moments]:
    """What the faults of those names do to the colour of a film on a base.

    One that cannot show in such a look, as a rough surface in one through the piece, is left out.
    """
    colours = _FaultColours(film, (base,), seen)
    found = {
        (name, nm): colours.clear_layer(name, nm) if nm else _METHODS[name](colours)
        for name, nm in names
    }
    return {named: colours.moments(lab) for named, lab in found.items() if lab is not None}


def fault_ways(
    film: Medium,
    bases: Sequence[Base],
    *,
    seen: FaultView,
    names: Iterable[str],
    patterns: Patterns,
) -> dict[str, FloatArray]:
    """The same for films of one piece, which share a fault: curves over thickness, by name.

    Of each, (S, 1 + ways, D, 3): on each base the mean, and what each pattern of the fault's nodes
    makes of the colour, times a standard normal number of the piece.
    """
    colours = _FaultColours(film, tuple(bases), seen)
    found = {name: _METHODS[name](colours) for name in names}
    seen_ones = {name: lab for name, lab in found.items() if lab is not None}
    return {name: colours.ways(lab, patterns[name]) for name, lab in seen_ones.items()}


def fault_patterns(
    film: Medium, base: Base, *, seen: FaultView, names: Iterable[str], most: int
) -> Patterns:
    """Independent ways (most, nodes) in which each fault's nodes differ, the widest first.

    Those of one film serve for all of a piece, so that a number stands for the same whatever the
    data set: for the same contrast of the camera, or the same lamp.
    """
    colours = _FaultColours(film, (base,), seen)
    found = {name: _METHODS[name](colours) for name in names}
    return {name: colours.patterns(lab, most) for name, lab in found.items() if lab is not None}


@dataclass(frozen=True, eq=False)
class _FaultColours:
    """CIELAB (nodes, S, C, 3) of one film on S bases with each fault; None where it cannot show."""

    film: Medium
    bases: tuple[Base, ...]
    seen: FaultView

    def moments(self, lab: FloatArray) -> Moments:
        """Mean and covariance of the differences that nodes (K, 1, C, 3) make, on the scale."""
        off = (lab - self.clean_lab)[:, 0]
        mean = off.mean(axis=0)
        apart = off - mean
        spread = np.einsum("kca,kcb->cab", apart, apart) / len(lab)
        fine = self._on_scale(np.concatenate([mean, spread.reshape(-1, 9)], axis=1))
        return fine[:, :3], fine[:, 3:].reshape(-1, 3, 3)

    def ways(self, lab: FloatArray, patterns: FloatArray) -> FloatArray:
        """Mean and ways (S, 1 + K, D, 3) of what nodes change, by patterns (K, nodes)."""
        off = lab - self.clean_lab
        mean = off.mean(axis=0)
        each = np.tensordot(patterns, off - mean, axes=1) / np.sqrt(len(lab))
        whole = np.moveaxis(np.concatenate([mean[None], each]), 2, 0)
        fine = self._on_scale(whole.reshape(len(whole), -1))
        return np.moveaxis(fine.reshape(-1, *whole.shape[1:]), (2, 1), (0, 1))

    def patterns(self, lab: FloatArray, most: int) -> FloatArray:
        """The first patterns (most, nodes) of the differences that nodes make, each of length 1."""
        off = (lab - self.clean_lab).reshape(len(lab), -1)
        turned, _, _ = np.linalg.svd(off - off.mean(axis=0), full_matrices=False)
        found = np.zeros((most, len(lab)))
        found[: turned.shape[1]] = turned.T[:most]
        return found

    def _on_scale(self, curves: FloatArray) -> FloatArray:
        """Curves (C, M) that were computed coarsely, on the scale (D, M)."""
        if not self.seen.coarse:
            return curves
        each = [np.interp(self.seen.scale_nm, self.seen.coarse_nm, one) for one in curves.T]
        return np.array(each).T

    @cached_property
    def clean_lab(self) -> FloatArray:
        return self.seen.lab(self.clean_xyz)

    @property
    def clean_xyz(self) -> FloatArray:
        return self._flat[0]

    @cached_property
    def _flat(self) -> list[FloatArray]:
        """Tristimulus values (S, C, 3) of the flat clear film in the stated light, in what rough
        surfaces leave of that, and by other lamps: of one scan."""
        weights = [self.seen.weights, *self.seen.left_by_rough, *self.seen.lamps]
        return np.split(self._scan(self.bases, np.concatenate(weights, axis=1)), len(weights), -1)

    def scattering(self) -> FloatArray | None:
        """``(1 - s) R + s g``: a share s of the light is lost, a part g of it comes back grey."""
        if self.seen.view != "front":
            return None
        white = self.seen.weights.sum(axis=0)
        nodes = [(1.0 - s) * self.clean_xyz + s * g * white for s in _SCATTERED for g in _SENT_BACK]
        return self.seen.lab(np.array(nodes))

    def rough(self) -> FloatArray | None:
        """``R exp(-(4πσ/λ)²)``, and some grey."""
        if self.seen.view != "front":
            return None
        white = self.seen.weights.sum(axis=0)
        each = self._flat[1 : 1 + len(self.seen.left_by_rough)]
        return self.seen.lab(np.array([xyz + haze * white for haze in _HAZE for xyz in each]))

    def uneven(self) -> FloatArray | None:
        """The mean light of films of many thicknesses."""
        wide = self._scan(self.bases, self.seen.weights, nm=self.seen.wide_nm)
        return self.seen.lab(self.seen.uneven[:, None] @ wide)

    def absorbing(self) -> FloatArray | None:
        """Index ``n + i (k + k₀)``."""
        index, share = layers_of(self.film)
        each = index + 1j * np.reshape(_ABSORBING_K, (-1, 1, 1))
        found = scan_layers(
            (each, share), self.bases, self.seen.coarse_nm,
            angle_deg=self.seen.angle_deg, view=self.seen.view, weights=self.seen.weights,
        )  # fmt: skip
        return self.seen.lab(found)

    def mixed_layer(self) -> FloatArray | None:
        """A layer of film and what it lies on, mixed, between the two."""
        film, layers = layers_of(self.film)[0][-1], []
        for base in self.bases:
            mixed = [np.sqrt(bruggeman(film**2, base.index[0] ** 2, f)) for f in _MIXED_METAL[::-1]]
            layers.append([(nm, one) for nm in _MIXED_NM for one in mixed])
        return self._over(layers)

    def _over(self, layers: Sequence[Sequence[tuple[float, ComplexArray]]]) -> FloatArray:
        """The film over layers (thickness and index) on each base, as many nodes on each."""
        bases = [
            replace(
                base,
                index=np.concatenate([index[None], base.index]),
                thickness_nm=np.concatenate([[nm], base.thickness_nm]),
            )
            for base, own in zip(self.bases, layers, strict=True)
            for nm, index in own
        ]
        found = self._scan(bases, self.seen.weights)
        by_base = found.reshape(len(self.bases), -1, *found.shape[1:])
        return self.seen.lab(np.swapaxes(by_base, 0, 1))

    def clear_layer(self, place: str, layer_nm: float) -> FloatArray:
        """A layer of constant index between the film and what it lies on, or over the film."""
        if place == UNDER:
            return self._over(
                [
                    [(layer_nm, np.full_like(base.index[0], n)) for n in _CLEAR_INDEX]
                    for base in self.bases
                ]
            )
        nm = _THICK_NM if np.isinf(layer_nm) else np.array([layer_nm])
        each = [
            [np.mean([self._covered(n, one, base) for one in nm], axis=0) for base in self.bases]
            for n in _CLEAR_INDEX
        ]
        return self.seen.lab(np.array(each))

    def _covered(self, clear: float, layer_nm: float, base: Base) -> FloatArray:
        """Tristimulus values (C, 3) of the film under a layer of that index and thickness."""
        index, share = layers_of(self.film)
        covered = np.concatenate([np.full_like(index[:1], clear), index])
        nm = self.seen.coarse_nm[:, None] * np.concatenate([[0.0], share])
        nm[:, 0] = layer_nm
        angle = np.asarray(self.seen.angle_deg)
        shares = film_shares(covered[None], nm, base, angle_deg=angle, view=self.seen.view)
        return np.asarray(shares @ self.seen.weights)

    def camera(self) -> FloatArray | None:
        """Code values drawn out about the middle, and away from grey."""
        most = self.seen.doubts.tone
        if most == 0.0:
            return None
        xyz = lab_to_xyz(self.clean_lab, SRGB_WHITE_XYZ)
        code = srgb_encode(np.clip(xyz_to_srgb_linear(xyz, SRGB_WHITE_XYZ), 0.0, 1.0))
        drawn = [(most * c, _SATURATION * most * s) for c in _CURVE for s in _CURVE]
        return np.array([_draw_out(code, contrast, more) for contrast, more in drawn])

    def lamp(self) -> FloatArray | None:
        """Light of another kind, whose white the eye or camera makes white."""
        if self.seen.doubts.lamp == 0.0:
            return None
        share, own, lamps = self.seen.doubts.lamp, self.clean_lab, self.seen.lamps
        labs = [
            own + share * (self.seen.lab(one, lamp.sum(axis=0)) - own)
            for one, lamp in zip(self._flat[-len(lamps) :], lamps, strict=True)
        ]
        return np.array(labs)

    def _scan(
        self,
        bases: Sequence[Base],
        weights: FloatArray,
        *,
        nm: FloatArray | None = None,
    ) -> FloatArray:
        return scan_film(
            self.film,
            bases,
            self.seen.coarse_nm if nm is None else nm,
            angle_deg=self.seen.angle_deg,
            view=self.seen.view,
            weights=weights,
        )


_METHODS: dict[str, Callable[[_FaultColours], FloatArray | None]] = {
    "scattering": _FaultColours.scattering,
    "rough": _FaultColours.rough,
    "uneven": _FaultColours.uneven,
    "absorbing": _FaultColours.absorbing,
    "mixed layer": _FaultColours.mixed_layer,
    "camera": _FaultColours.camera,
    "lamp": _FaultColours.lamp,
}


def _draw_out(code: FloatArray, contrast: float, saturation: float) -> FloatArray:
    """CIELAB of code values (..., 3) after a camera's curve."""
    drawn = 0.5 + (code - 0.5) * (1.0 + contrast)
    grey = (drawn @ _LUMA)[..., None]
    return srgb_to_lab(np.clip(grey + (drawn - grey) * (1.0 + saturation), 0.0, 1.0))
