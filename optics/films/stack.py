"""Layers on a substrate as plain data, listed from the side the light comes from."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import InputError, LimitError, OutOfRangeError
from ..result import Result
from .materials.effective_medium import Grade
from .materials.medium import AIR, Medium

if TYPE_CHECKING:
    from .engine.incidence import Polarization
    from .solve import PreparedStack

MAX_LAYERS = 2_000
MAX_SWEEP_POINTS = 1_000_000
MAX_LAYER_NM = 1e6
MIN_SLAB_NM = 1e4
MAX_SLAB_NM = 1e9
OPAQUE_K = 1e-3
"""A half-space with more extinction than this passes nothing through half a millimetre."""


@dataclass(frozen=True, eq=False)
class Layer:
    """One coherent film.

    Attributes
    ----------
    medium : Medium
    thickness_nm : ndarray, shape () or (n,)
        One thickness [nm], or the points of a sweep.
    axis : int or None
        Which sweep axis the points run along; layers that repeat share theirs.

    Raises
    ------
    OutOfRangeError
        If a thickness is negative, not a number, or above 1 mm.
    """

    medium: Medium
    thickness_nm: FloatArray
    axis: int | None = None

    def __post_init__(self) -> None:
        thickness = np.asarray(self.thickness_nm, dtype=float)
        object.__setattr__(self, "thickness_nm", thickness)
        bad = ~((thickness >= 0.0) & (thickness <= MAX_LAYER_NM))
        if bad.any():
            raise OutOfRangeError(
                f"the thickness of {self.medium.label} is {thickness[bad].flat[0]:g} nm; "
                f"a layer is 0 to {MAX_LAYER_NM:g} nm thick"
            )
        if (thickness.ndim == 1) != (self.axis is not None) or thickness.ndim > 1:
            raise InputError(
                f"the thickness of {self.medium.label} must be one number, or a list of "
                f"points with the number of the sweep axis they run along"
            )


@dataclass(frozen=True, eq=False, repr=False)
class Stack(Result):
    """Films on a substrate.

    Attributes
    ----------
    layers : tuple of Layer
        Front films, from the ambient inward.
    substrate : Medium
    slab_nm : float or None
        Thickness [nm] of a substrate with two faces that add incoherently; None for a half-space.
    back_layers : tuple of Layer
        Films on the far face, from the slab outward.
    ambient : Medium
        What the light comes through, and what lies behind a slab.

    Raises
    ------
    InputError, OutOfRangeError, LimitError
        If the parts do not make one stack.
    """

    layers: tuple[Layer, ...]
    substrate: Medium
    slab_nm: float | None = None
    back_layers: tuple[Layer, ...] = ()
    ambient: Medium = field(default=AIR)

    def __post_init__(self) -> None:
        if len(self.layers) + len(self.back_layers) > MAX_LAYERS:
            raise LimitError(f"a stack has at most {MAX_LAYERS} layers")
        if isinstance(self.substrate, Grade):
            raise InputError("a substrate cannot be a graded layer")
        if self.slab_nm is None and self.back_layers:
            raise InputError(
                "films on the back face need a slab between: give the substrate a thickness, "
                "such as 'glass 4mm'"
            )
        if self.slab_nm is not None and not MIN_SLAB_NM <= self.slab_nm <= MAX_SLAB_NM:
            raise OutOfRangeError(
                f"a substrate of {self.slab_nm:g} nm is no slab; it needs 0.01 mm to 1 m"
            )
        if math.prod(self.sweep_shape) > MAX_SWEEP_POINTS:
            raise LimitError(
                f"the sweep has {math.prod(self.sweep_shape):,} points; "
                f"at most {MAX_SWEEP_POINTS:,} are taken, so widen its step"
            )

    @property
    def all_layers(self) -> tuple[Layer, ...]:
        """Front films, then back films."""
        return self.layers + self.back_layers

    @cached_property
    def sweep_shape(self) -> tuple[int, ...]:
        """Number of points along each sweep axis."""
        sizes: dict[int, int] = {}
        for layer in self.all_layers:
            if layer.axis is not None:
                size = sizes.setdefault(layer.axis, layer.thickness_nm.size)
                if size != layer.thickness_nm.size:
                    raise InputError("layers on one sweep axis need the same number of points")
        if sorted(sizes) != list(range(len(sizes))):
            raise InputError("sweep axes are numbered 0, 1, 2 ... without a gap")
        return tuple(sizes[axis] for axis in range(len(sizes)))

    def thickness_of(self, layer: Layer) -> FloatArray:
        """Thickness [nm] of one of this stack's layers, in a shape that broadcasts to the sweep."""
        if layer.axis is None:
            return layer.thickness_nm
        after = len(self.sweep_shape) - layer.axis - 1
        return layer.thickness_nm.reshape((-1,) + (1,) * after)

    def is_opaque(self, wavelength_nm: ArrayLike) -> bool:
        """Whether nothing can be seen through: a half-space that absorbs at every wavelength."""
        return self.slab_nm is None and bool(
            np.all(self.substrate.nk(wavelength_nm).imag > OPAQUE_K)
        )

    def prepare(
        self,
        wavelength_nm: ArrayLike,
        *,
        angle_deg: ArrayLike = 0.0,
        polarization: Polarization = "mean",
        side: Literal["front", "back"] = "front",
    ) -> PreparedStack:
        """This stack with its indices looked up once, for loops: ``prepare(...).solve()``.

        Arguments and errors as in :func:`~oxhue.optics.films.solve.solve`.
        """
        from .solve import prepare

        return prepare(
            self, wavelength_nm, angle_deg=angle_deg, polarization=polarization, side=side
        )

    def reverse(self) -> Stack:
        """The same piece met from the other side."""
        front, back = _reverse_layers(self.layers), _reverse_layers(self.back_layers)
        if self.slab_nm is None:
            return Stack(front, self.ambient, None, (), self.substrate)
        return replace(self, layers=back, back_layers=front)


def _reverse_layers(layers: tuple[Layer, ...]) -> tuple[Layer, ...]:
    return tuple(
        replace(layer, medium=layer.medium.reverse()) if isinstance(layer.medium, Grade) else layer
        for layer in reversed(layers)
    )


def take_point(stack: Stack, position: tuple[int, ...]) -> Stack:
    """The single stack at one point of a sweep, given by its position along each axis."""
    return replace(
        stack,
        layers=_fix_layers(stack.layers, position),
        back_layers=_fix_layers(stack.back_layers, position),
    )


def sweep_thicknesses(stack: Stack) -> list[tuple[Layer, FloatArray]]:
    """The first layer on each sweep axis with the axis's thicknesses [nm]."""
    found: dict[int, Layer] = {}
    for layer in stack.all_layers:
        if layer.axis is not None:
            found.setdefault(layer.axis, layer)
    return [(found[axis], found[axis].thickness_nm) for axis in sorted(found)]


def _fix_layers(layers: tuple[Layer, ...], position: tuple[int, ...]) -> tuple[Layer, ...]:
    return tuple(
        layer
        if layer.axis is None
        else Layer(layer.medium, np.asarray(layer.thickness_nm[position[layer.axis]]))
        for layer in layers
    )
