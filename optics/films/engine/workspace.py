"""Working arrays of a block of stacks, and what is worked out in them layer by layer."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..._typing import ComplexArray, FloatArray
from .chebyshev import SeriesAtThickness
from .phase import decay_of, phases, round_trip_of

_LINE = 8  # numbers in a line of the cache
_LARGE = 65_536  # numbers; fewer come from memory that is there already


@dataclass(frozen=True, eq=False)
class Workspace:
    """Working arrays of a block, used again for the next one: fresh memory costs as much as the
    arithmetic. Shapes (P, b, W) for P polarisations and b stacks; (b, W) what they share.

    Attributes
    ----------
    media : ndarray of complex, shape (2, g, b, W)
        Indices of the layers that are worked out together, and of those before them.
    E, H_over_q, turned : ndarray of complex
        Fields at the boundary reached, H over the admittance of the layer below it; spare.
    scale : ndarray of complex
        What the fields were multiplied by on the way.
    round_trip : ndarray of complex, shape (g, b, W)
        Of the g layers whose phases are worked out together.
    across, decay : ndarray, shape (g, b, W)
    spare : ndarray, shape (2, g, b, W)
    flux : ndarray, shape (L + 1, P, b, W), or (1, P, b, W)
        ``Re E H*`` in the substrate and, where it was asked for, on top of each layer above it.
    growth : ndarray, shape (L, P, b, W), or (1, P, b, W)
        Log of the amplitude divided out in each layer from the lowest up, or in all of them.
    """

    media: ComplexArray
    E: ComplexArray
    H_over_q: ComplexArray
    turned: ComplexArray
    scale: ComplexArray
    round_trip: ComplexArray
    across: FloatArray
    decay: FloatArray
    spare: FloatArray
    flux: FloatArray
    growth: FloatArray

    @classmethod
    def of(
        cls, polarizations: int, stacks: int, points: int, *, layers: int, together: int
    ) -> Workspace:
        """Room for blocks of that many stacks, fluxes on that many layers, phases of as many."""
        one, each = (stacks, points), (polarizations, stacks, points)
        both = max(polarizations, together)
        media, (E, H_over_q, scale), round_trip, shared, (across, decay), flux, growth = allocate(
            ((2, together, *one), complex),
            ((3, *each), complex),
            ((together, *one), complex),
            ((2, both, *one), float),
            ((2, together, *one), float),
            ((layers + 1, *each), float),
            ((max(layers, 1), *each), float),
        )
        # Phases are done with before fields turn: one piece of memory for both stays in cache.
        turned = shared.reshape(-1).view(complex)[: scale.size].reshape(each)
        own = media, E, H_over_q, turned, scale, round_trip, across, decay
        return cls(*own, shared[:, :together], flux, growth)

    def first(self, stacks: int) -> Workspace:
        """The part of it that fewer stacks take."""
        return Workspace(*(getattr(self, f.name)[..., :stacks, :] for f in fields(self)))

    def read(self, index: ComplexArray, turn: int) -> ComplexArray:
        """Indices (g, b or 1, W) side by side, good until the turn after the next."""
        if index.shape[1] > 1:
            own = self.media[turn % 2, : len(index)]
            np.copyto(own, index)
            index = own
        return index

    def round_trips(
        self,
        some: slice,
        d: FloatArray,
        k0: FloatArray,
        *,
        kz: ComplexArray,
        series: SeriesAtThickness | None,
    ) -> ComplexArray:
        """Of g layers of d (b or 1, L) with kz (g, b or 1, W), shape (g, b, W); what fades is added
        to the growth."""
        g, below, own = len(kz), d.shape[-1] - some.stop, d.T[some]
        across, decay, spare = self.across[:g], self.decay[:g], self.spare[:, :g]
        round_trip = self.round_trip[:g]
        everywhere = len(self.flux) > 1
        if series is None:
            fades = phases(own, k0, kz, across=across, decay=decay, spare=spare[0])
        else:
            fades = everywhere and decay_of(own, k0, kz, decay=decay)
            series.round_trips(some, round_trip)
        if fades and everywhere:
            self.growth[below : below + len(kz)][::-1] -= decay[:, None]
        elif fades:
            self.growth[0] -= decay[0] if len(kz) == 1 else decay.sum(axis=0)
        if series is None:
            round_trip_of(across, decay if fades else None, spare, round_trip=round_trip)
        return round_trip

    def own_trips(self, d: FloatArray, k0: FloatArray) -> OwnTrips:
        """Round trips of stacks of d (b or 1, L), each layer of a medium of its own."""
        columns = np.empty((d.shape[-1], self.across.shape[1], 1))
        columns[..., 0] = d.T
        phases, spare = (self.across[0], self.decay[0]), self.spare[:, 0]
        return OwnTrips(columns, -k0[None], phases, spare, self.round_trip[0], self.growth[0])

    def rescale(self, boundary: int, scale: ComplexArray | None = None) -> None:
        """Bring fields to the size of one, and note what was divided out; and so what they were
        multiplied by."""
        everywhere = len(self.flux) > 1
        size = np.abs(self.E)
        size += np.abs(self.H_over_q)
        inverse = 1.0 / size
        for part in (self.E, self.H_over_q):
            np.multiply(part, inverse, out=part)
        if scale is not None:
            most = np.abs(scale)
            np.divide(scale, most, out=scale)
            size /= most
        self.growth[boundary - 1 if everywhere else 0] += np.log(size)
        if everywhere:
            self.flux[boundary] *= inverse * inverse


@dataclass(frozen=True, eq=False)
class OwnTrips:
    """Round trips of layers taken one by one, in memory that is looked up once for all.

    Attributes
    ----------
    d : ndarray, shape (L, b, 1)
        Thicknesses [nm].
    back : ndarray, shape (1, W)
        Wave number in vacuum [1/nm], times -1.
    phases : tuple of ndarray, shapes (b, W)
    spare : ndarray, shape (2, b, W)
    round_trip : ndarray of complex, shape (b, W)
    growth : ndarray, shape (P, b, W)
    """

    d: FloatArray
    back: FloatArray
    phases: tuple[FloatArray, FloatArray]
    spare: FloatArray
    round_trip: ComplexArray
    growth: FloatArray

    def of(self, j: int, kz: ComplexArray) -> ComplexArray:
        """Of layer j with kz (b, W); what fades is added to the growth."""
        (across, decay), spare = self.phases, self.spare
        # A product of a column and a row takes half as long as one broadcast over rows so short.
        depth = np.dot(self.d[j], self.back, out=spare[0])
        np.multiply(depth, kz.real, out=across)
        fades = np.iscomplexobj(kz) and np.multiply(depth, kz.imag, out=decay).min() < 0.0
        if fades:
            np.subtract(self.growth, decay, out=self.growth)
        round_trip_of(across, decay if fades else None, spare, round_trip=self.round_trip)
        return self.round_trip


def allocate(*wanted: tuple[tuple[int, ...], type[complex]]) -> list[NDArray[Any]]:
    """Arrays of these shapes and kinds, large ones out of one, each at the start of a line of the
    cache: large memory comes in large pages, which cost a fraction of small ones."""
    sizes = [math.prod(shape) * (2 if kind is complex else 1) for shape, kind in wanted]
    if sum(sizes) < _LARGE:
        return [np.empty(shape, dtype=kind) for shape, kind in wanted]
    lines = [-(-size // _LINE) * _LINE for size in sizes]
    whole = np.empty(sum(lines) + _LINE)
    start = -whole.ctypes.data // whole.itemsize % _LINE
    found = []
    for size, line, (shape, kind) in zip(sizes, lines, wanted, strict=True):
        found.append(whole[start : start + size].view(kind).reshape(shape))
        start += line
    return found
