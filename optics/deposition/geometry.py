"""Where the vapour goes: thickness over a piece from the shape of the source and the distance.

The source lies at the origin and looks along +z; a wire lies along x. The middle of the piece is
at (offset, 0, distance); untilted it faces straight down, and a positive tilt turns its face
towards the axis of the source. Vapour flies in straight lines and sticks where it lands.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import ClassVar, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from .._typing import BoolArray, FloatArray
from ..errors import InputError, OutOfRangeError, UnknownNameError, suggest_nearest
from ..result import Hidden

SourceKind = Literal["point", "plane", "wire", "boat", "sputter"]

_WIRE_NODES = 24
_RING_ANGLES = 72
_TURN_ANGLES = 90
_MM_PER_CM = 10.0
_CLEARANCE_MM = 5.0  # nearer than this no source is small


@dataclass(frozen=True)
class Coil:
    """A close helix wound of the wire.

    Attributes
    ----------
    diameter_mm : float
        Of the coil, middle to middle of the wire [mm].
    pitch_mm : float
        From turn to turn [mm].

    Raises
    ------
    OutOfRangeError
        If a number is not possible.
    """

    diameter_mm: float
    pitch_mm: float

    def __post_init__(self) -> None:
        for what, value in (("diameter", self.diameter_mm), ("pitch", self.pitch_mm)):
            if not 0.01 <= value <= 500.0:
                raise OutOfRangeError(
                    f"the {what} of a coil is {value:g} mm; it must be 0.01 to 500 mm",
                    parameter="coil",
                )

    def length_mm(self, wire_length_mm: float) -> float:
        """Length of the coil wound of so much wire [mm]."""
        return (
            wire_length_mm * self.pitch_mm / math.hypot(math.pi * self.diameter_mm, self.pitch_mm)
        )


@dataclass(frozen=True)
class Source:
    """What the vapour comes from.

    Attributes
    ----------
    kind : {"point", "plane", "wire", "boat", "sputter"}
        A point sends out alike in all directions, a small plane as the cosine to its axis, a
        wire as the sine to its own direction; a boat counts as a small plane, and a sputter
        target as a ring of small planes.
    focus : float
        Exponent of the cosine of a plane or boat, 1 for a flat open surface; a deep crucible
        has more (common practice, no source).
    length_mm : float
        Heated length of a wire, unwound [mm].
    ring_mm : float
        Diameter of the ring worn into a sputter target [mm]; 0 for a small target.
    coil : Coil or None
        What the wire is wound into; it then sends out like a wire as long as the coil.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If the kind is none of these, or a number is not possible.
    """

    kind: SourceKind
    focus: float = 1.0
    length_mm: float = 50.0
    ring_mm: float = 0.0
    coil: Coil | None = None

    def __post_init__(self) -> None:
        kinds = list(get_args(SourceKind))
        if self.kind not in kinds:
            offer = suggest_nearest(str(self.kind), kinds) or f"use one of {', '.join(kinds)}"
            raise UnknownNameError(f"unknown source {self.kind!r}; {offer}")
        _check("the focus of a source", self.focus, 0.5, 20.0, "")
        _check("the heated length of a wire", self.length_mm, 1.0, 10_000.0, " mm")
        _check("the ring of a sputter target", self.ring_mm, 0.0, 1000.0, " mm")

    @property
    def span_mm(self) -> float:
        """Length from post to post of a wire or its coil [mm]."""
        return self.length_mm if self.coil is None else self.coil.length_mm(self.length_mm)


@dataclass(frozen=True)
class Placement:
    """Where the piece is: see the module for the axes.

    Attributes
    ----------
    distance_mm : float
        Height of the middle of the piece above the source [mm].
    offset_mm : float
        How far the middle is from the source's axis [mm].
    tilt_deg : float
        Tilt of the face towards the axis [°], -80 to 80.
    turning : bool
        Whether the piece turns about its own middle, many times while a layer grows.
    """

    distance_mm: float
    offset_mm: float = 0.0
    tilt_deg: float = 0.0
    turning: bool = False

    def __post_init__(self) -> None:
        _check("the distance from source to piece", self.distance_mm, _CLEARANCE_MM, 5000.0, " mm")
        _check("the offset of the piece", self.offset_mm, 0.0, 5000.0, " mm")
        _check("the tilt of the piece", self.tilt_deg, -80.0, 80.0, "°")


@dataclass(frozen=True)
class Piece:
    """The face to be coated: a rectangle, or the ellipse inside it."""

    width_mm: float
    height_mm: float
    round: bool = True

    def __post_init__(self) -> None:
        for side in (self.width_mm, self.height_mm):
            _check("the size of the piece", side, 0.1, 5000.0, " mm")


@dataclass(frozen=True, eq=False)
class Uniformity:
    """Thickness over the piece relative to its middle.

    Attributes
    ----------
    x_mm, y_mm : ndarray, shape (n,)
        Places on the piece [mm] from its middle; x runs along the offset.
    relative : ndarray, shape (n, n)
        Thickness over that of the middle [-], rows along y.
    inside : ndarray of bool, shape (n, n)
        Which places are on the piece.
    lowest, highest : float
        Extremes of ``relative`` on the piece.
    """

    also: ClassVar[tuple[str, ...]] = ("half_spread",)

    x_mm: Hidden[FloatArray]
    y_mm: Hidden[FloatArray]
    relative: Hidden[FloatArray]
    inside: Hidden[BoolArray]
    lowest: float
    highest: float

    @property
    def half_spread(self) -> float:
        """(highest - lowest)/(highest + lowest): the ± figure of the trade [-]."""
        return (self.highest - self.lowest) / (self.highest + self.lowest)


def share_at(source: Source, point_mm: ArrayLike, facing: ArrayLike) -> FloatArray:
    """Share of all the vapour that lands on 1 cm² somewhere.

    Parameters
    ----------
    source : Source
    point_mm : array_like, shape (..., 3)
        Places [mm] as the module's axes have them.
    facing : array_like, shape (..., 3)
        Outward unit normals of the surface there.

    Returns
    -------
    ndarray, shape (...)
        Share [1/cm²]; 0 behind a source that only looks forward, and on a face turned away.

    Notes
    -----
    ``Σ w I(direction) cos θ / r²`` over the elements of the source, with I per steradian:
    1/4π (point), (n + 1) cosⁿφ / 2π (plane, boat, ring) and ``sin χ / π²`` with χ the angle to
    a wire; each integrates to 1 over all directions. For a piece that lies flat at height h this
    is Holland's ``m/(4πρh²) (1 + (l/h)²)^(-3/2)`` for a point and ``m/(πρh²) (1 + (l/h)²)^(-2)``
    for a small plane.

    References
    ----------
    L. Holland and W. Steckelmacher, Vacuum 2, 346 (1952), and L. Holland, Vacuum Deposition of
    Thin Films (1956), ch. 5 (formulas from memory).
    """
    elements = _elements(source)
    way = np.asarray(point_mm, dtype=float)[..., None, :] / _MM_PER_CM - elements
    square = (way * way).sum(axis=-1)
    way = way / np.sqrt(square)[..., None]
    landing = -(way * np.asarray(facing, dtype=float)[..., None, :]).sum(axis=-1)
    parts = _per_steradian(source, way) * np.maximum(landing, 0.0) / square
    share: FloatArray = parts @ _weights(source)
    return share


def share_on(
    source: Source, placement: Placement, *, x_mm: ArrayLike = 0.0, y_mm: ArrayLike = 0.0
) -> FloatArray:
    """Share of the vapour on 1 cm² at places of the piece [1/cm²], shape of x and y together.

    A turning piece gets the mean over a turn.
    """
    x, y = np.broadcast_arrays(np.asarray(x_mm, dtype=float), np.asarray(y_mm, dtype=float))
    tilt = np.deg2rad(placement.tilt_deg)
    along = np.array([np.cos(tilt), 0.0, -np.sin(tilt)])
    facing = np.array([-np.sin(tilt), 0.0, -np.cos(tilt)])
    middle = np.array([placement.offset_mm, 0.0, placement.distance_mm])
    if not placement.turning:
        return share_at(source, _places(middle, along, x, y), facing)
    turn = 2.0 * np.pi * np.arange(_TURN_ANGLES) / _TURN_ANGLES
    # Places equally far from the middle get the same, and a piece has many of them.
    radius, which = np.unique(np.round(np.hypot(x, y), 9), return_inverse=True)
    across = radius[:, None]
    places = _places(middle, along, across * np.cos(turn), across * np.sin(turn))
    mean: FloatArray = share_at(source, places, facing).mean(axis=-1)[which].reshape(x.shape)
    return mean


def uniformity(
    source: Source, placement: Placement, piece: Piece, *, points: int = 41
) -> Uniformity:
    """Thickness over a piece relative to its middle.

    Raises
    ------
    InputError
        If the middle of the piece gets no vapour at all.
    OutOfRangeError
        If a tilted piece reaches down to the source.
    """
    drop = 0.5 * piece.width_mm * abs(np.sin(np.deg2rad(placement.tilt_deg)))
    if placement.distance_mm - drop < _CLEARANCE_MM:
        raise OutOfRangeError(
            f"a piece {piece.width_mm:g} mm wide, tilted by {placement.tilt_deg:g}° at "
            f"{placement.distance_mm:g} mm, reaches down to the source; raise it or lessen the tilt"
        )
    x = np.linspace(-0.5, 0.5, points) * piece.width_mm
    y = np.linspace(-0.5, 0.5, points) * piece.height_mm
    middle = float(share_on(source, placement))
    if not middle > 0.0:
        raise InputError(
            "the middle of the piece is turned away from the source and gets no vapour; "
            "lessen the tilt or the offset"
        )
    relative = share_on(source, placement, x_mm=x[None, :], y_mm=y[:, None]) / middle
    inside = np.ones(relative.shape, dtype=bool)
    if piece.round:
        reach = (2.0 * x / piece.width_mm) ** 2 + (2.0 * y[:, None] / piece.height_mm) ** 2
        inside = reach <= 1.0 + 1e-9
    on_piece = relative[inside]
    return Uniformity(x, y, relative, inside, float(on_piece.min()), float(on_piece.max()))


def _places(middle: FloatArray, along: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    across = np.array([0.0, 1.0, 0.0])
    places: FloatArray = middle + x[..., None] * along + y[..., None] * across
    return places


def _elements(source: Source) -> FloatArray:
    """Where the parts of a source are [cm], shape (elements, 3)."""
    if source.kind == "wire":
        x = 0.5 * source.span_mm / _MM_PER_CM * _wire_nodes()[0]
        return np.stack([x, 0.0 * x, 0.0 * x], axis=-1)
    if source.kind == "sputter":
        turn = 2.0 * np.pi * np.arange(_RING_ANGLES) / _RING_ANGLES
        radius = 0.5 * source.ring_mm / _MM_PER_CM
        return np.stack([radius * np.cos(turn), radius * np.sin(turn), 0.0 * turn], axis=-1)
    return np.zeros((1, 3))


def _weights(source: Source) -> FloatArray:
    """Share of the vapour each element sends out."""
    if source.kind == "wire":
        weights: FloatArray = 0.5 * _wire_nodes()[1]
        return weights
    count = _RING_ANGLES if source.kind == "sputter" else 1
    return np.full(count, 1.0 / count)


@cache
def _wire_nodes() -> tuple[FloatArray, FloatArray]:
    """Gauss's places between -1 and 1 along a wire, and their weights."""
    nodes, weights = np.polynomial.legendre.leggauss(_WIRE_NODES)
    return nodes, weights


def _per_steradian(source: Source, way: FloatArray) -> FloatArray:
    """Share of an element's vapour per steradian into unit directions (..., 3)."""
    if source.kind == "point":
        return np.full(way.shape[:-1], 0.25 / np.pi)
    if source.kind == "wire":
        sine: FloatArray = np.hypot(way[..., 1], way[..., 2]) / np.pi**2
        return sine
    power = 1.0 if source.kind == "sputter" else source.focus
    forward: FloatArray = np.maximum(way[..., 2], 0.0) ** power
    return (power + 1.0) / (2.0 * np.pi) * forward


def _check(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise OutOfRangeError(f"{what} is {value:g}{unit}; it must be {low:g} to {high:g}{unit}")
