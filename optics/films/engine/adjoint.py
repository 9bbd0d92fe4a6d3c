"""A block of stacks, fields carried up and kept at every boundary, and adjoints carried down."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np

from ..._typing import ComplexArray, FloatArray
from ..spectra import Asked, Gradient
from .index_gradient import BlockLayer, admittance_slopes, layer_slopes
from .phase import phases, round_trip_of
from .recursion import (
    RESCALE_EVERY,
    RESCALE_OFTEN,
    Block,
    abs_squared,
    cross_layer,
    groups,
    in_range,
    mean,
    ratios,
    strength_of,
    strength_slope,
)
from .workspace import allocate

_GROUP_ELEMENTS = 8_192  # of several layers, when a block has fewer


@dataclass(frozen=True, eq=False)
class StoredFields:
    """Working arrays of a block, used again for the next one. P polarisations, b stacks.

    Attributes
    ----------
    E, H_over_q : ndarray of complex, shape (L + 1, P, b, W)
        Fields on top of every layer and of the substrate: E, and H over its own admittance.
    round_trip : ndarray of complex, shape (L, b, W)
    rows : ndarray of complex, shape (3, g + 1, P, b, W)
        Adjoints on top of g layers and below them: of the reflected amplitude, which is this
        number times ``(H_over_q, -E)``, and of the logarithm of the incident one, to E and level.
    spare : ndarray of complex, shape (2, g, P, b, W)
    phases : ndarray, shape (4, g, b, W)
    growth : ndarray, shape (P, b, W)
        Log of all that was divided out of the fields.
    """

    E: ComplexArray
    H_over_q: ComplexArray
    round_trip: ComplexArray
    rows: ComplexArray
    spare: ComplexArray
    phases: FloatArray
    growth: FloatArray

    @classmethod
    def of(cls, polarizations: int, stacks: int, points: int, *, layers: int) -> StoredFields:
        """Room for blocks of that many stacks, with as many layers at a time as are worth it."""
        shape = polarizations, stacks, points
        together = max(1, min(layers, _GROUP_ELEMENTS // max(stacks * points, 1)))
        (E, H_over_q), *others = allocate(
            ((2, layers + 1, *shape), complex),
            ((layers, *shape[1:]), complex),
            ((3, together + 1, *shape), complex),
            ((2, together, *shape), complex),
            ((4, together, *shape[1:]), float),
            (shape, float),
        )
        return cls(E, H_over_q, *others)

    def first(self, stacks: int) -> StoredFields:
        """The part of it that fewer stacks take."""
        return StoredFields(*(getattr(self, f.name)[..., :stacks, :] for f in fields(self)))


@dataclass(frozen=True, eq=False)
class AdjointPass:
    """A way up through a block, and back down.

    Derivatives are of R, of T or of both.
    """

    stored: StoredFields
    block: Block
    of: Asked
    steps: dict[int, ComplexArray] = field(default_factory=dict)  # admittance below over own
    sizes: dict[int, FloatArray] = field(default_factory=dict)  # what fields were divided by

    @property
    def wants_R(self) -> bool:
        """Whether derivatives of R are wanted."""
        return "R" in self.of

    @property
    def wants_T(self) -> bool:
        """Whether derivatives of T are wanted."""
        return "T" in self.of

    def propagate_up(self) -> None:
        """Carry the fields up, again with care if that does not keep them in range."""
        with np.errstate(all="ignore"):
            self._propagate(RESCALE_EVERY)
            square = abs_squared(self.stored.E[0]) + abs_squared(self.top)
        if not in_range(square):
            self._propagate(RESCALE_OFTEN)

    def _propagate(self, every: int) -> None:
        stored, E, H_over_q, block = self.stored, self.stored.E, self.stored.H_over_q, self.block
        bottom = block.admittance(-1)
        E[-1], H_over_q[-1], stored.growth[...] = 1.0, 1.0, 0.0
        if block.series is not None:
            stored.growth[...] = block.series.losses(stored.phases[0, 0])
        for some in groups(len(stored.round_trip), stored.phases.shape[1]):
            kz, q = block.waves(block.media[1:-1][some])
            self._round_trips(some, kz)
            steps, bottom = ratios(q, bottom), q[:, 0]
            for j in range(some.stop - 1, some.start - 1, -1):
                step = self.steps[j] = steps[:, j - some.start]
                np.multiply(H_over_q[j + 1], step, out=H_over_q[j])
                below, above = (E[j + 1], H_over_q[j]), (E[j], H_over_q[j])
                cross_layer(below, above, stored.round_trip[j], spare=stored.spare[0, 0])
                if j % every == 0 and j > 0:
                    size = self.sizes[j] = np.abs(E[j]) + np.abs(H_over_q[j])
                    E[j] /= size
                    H_over_q[j] /= size
                    np.add(stored.growth, np.log(size), out=stored.growth)

    def _round_trips(self, some: slice, kz: ComplexArray) -> None:
        """Of g layers with kz (g, b or 1, W); what fades is added to the growth."""
        stored, block = self.stored, self.block
        if block.series is not None:
            block.series.round_trips(some, stored.round_trip[some])
            return
        (across, decay), spare = stored.phases[:2, : len(kz)], stored.phases[2:, : len(kz)]
        fades = phases(block.d.T[some], block.k0, kz, across=across, decay=decay, spare=spare[0])
        if fades:
            np.subtract(stored.growth, decay.sum(axis=0), out=stored.growth)
        round_trip_of(across, decay if fades else None, spare, round_trip=stored.round_trip[some])

    @property
    def top(self) -> ComplexArray:
        """H at the surface, shape (P, b, W)."""
        q = self.block.admittance(1)  # the substrate's if bare
        H: ComplexArray = q * self.stored.H_over_q[0]
        return H

    def propagate_down(self, out: Gradient) -> None:
        """Carry the adjoints down and put powers and derivatives in their places."""
        across, first, bottom = (self.block.admittance(at) for at in (0, 1, -1))
        E, H = self.stored.E[0], self.top
        going = across * E
        incident = going + H
        going -= H
        inverse = 1.0 / incident
        r = going * inverse
        passed = strength_of(across) * abs_squared(inverse)
        passed *= 4.0 * np.exp(-2.0 * self.stored.growth)
        T = passed * bottom.real
        out.R[...], out.T[...] = mean(abs_squared(r)), mean(T)
        # |r|² changes by 2 Re(r* δr), and T falls as |a|², a the incident amplitude.
        share, to_H = 2.0 * np.conj(r) * inverse, -2.0 * T * inverse
        stored = self.stored
        rows = stored.rows
        if self.wants_R:
            np.multiply(share * inverse, 2.0 * across * first, out=rows[0, 0])
        if self.wants_T:
            np.multiply(to_H, across, out=rows[1, 0])
            np.multiply(to_H, first, out=rows[2, 0])
        to_index = max(out.dR_dn.shape[-2], out.dT_dn.shape[-2]) > 0
        for some in reversed(list(groups(len(stored.round_trip), stored.phases.shape[1]))):
            rows = self._descend(some, rows, out, to_index)
        if to_index:
            # The top and bottom admittances also stand outside the recursion.
            if self.wants_R:
                outer = 2.0 * share * inverse * E * H, -rows[0, 0] / bottom
                self._to_outer(outer, out.dR_dn, out.dR_du)
            if self.wants_T:
                outer = T * strength_slope(across) + to_H * E, rows[2, 0] / bottom + passed
                self._to_outer(outer, out.dT_dn, out.dT_du)

    def _descend(
        self, some: slice, rows: ComplexArray, out: Gradient, to_index: bool
    ) -> ComplexArray:
        """Carry the adjoints ``rows[:, 0]`` down through g layers; gives those below."""
        kz, q = self.block.waves(self.block.media[1:-1][some])
        for i, j in enumerate(range(some.start, some.stop)):
            if to_index:
                self._to_index(j, kz[i], q[:, i], rows[:, i], out)
            self._cross_down(j, rows[:, i], rows[:, i + 1])
        self._to_thickness(some, kz, rows[:, : len(kz)], out)
        if rows.shape[1] == 2:
            return rows[:, ::-1]
        rows[:, 0] = rows[:, len(kz)]
        return rows

    def _cross_down(self, j: int, top: ComplexArray, below: ComplexArray) -> None:
        """Adjoints under layer j from those on top of it, shapes (3, P, b, W)."""
        round_trip, step, spare = self.stored.round_trip[j], self.steps[j], self.stored.spare[0, 0]
        if self.wants_T:
            cross_layer((top[1], top[2]), (below[1], below[2]), round_trip, spare=spare)
            below[2] *= step
            if j in self.sizes:
                below[1:] /= self.sizes[j]
        if self.wants_R:
            half = np.subtract(0.5, round_trip, out=spare[0])  # of det M = exp(2iδ)
            np.multiply(top[0], half, out=below[0])
            below[0] *= 2.0 * step
            if j in self.sizes:
                below[0] /= self.sizes[j] ** 2

    def _to_thickness(
        self, some: slice, kz: ComplexArray, rows: ComplexArray, out: Gradient
    ) -> None:
        """``λ δM v`` with ``∂M/∂d = -i k0 kz [[0, 1], [1, 0]] M``, by what is on top.

        Shapes (g, b or 1, W) of ``kz``, (3, g, P, b, W) of ``rows``.
        """
        share, to_E, to_level = rows
        E, H_over_q, turn = self.stored.E[some], self.stored.H_over_q[some], self.block.k0 * kz
        both, other = self.stored.spare[:, : len(kz)]
        if self.wants_R:
            np.square(H_over_q, out=both)
            both -= np.square(E, out=other)
            both *= share
            _slope(both, turn, out.dR_dd[:, some])
        if self.wants_T:
            np.multiply(to_E, H_over_q, out=both)
            both += np.multiply(to_level, E, out=other)
            _slope(both, turn, out.dT_dd[:, some])

    def _to_index(
        self, j: int, kz: ComplexArray, q: ComplexArray, top: ComplexArray, out: Gradient
    ) -> None:
        """``λ δM v`` with the derivative of M to ε at a fixed direction, and to u."""
        E, H_over_q = self.stored.E, self.stored.H_over_q
        share, to_E, to_level = top
        inverse, H_below = 1.0 / q, (q * self.steps[j]) * H_over_q[j + 1]
        n = self.block.index[:, j + 1]
        k0_d = self.block.k0 * self.block.d[:, j, None]
        layer = BlockLayer(n * n, kz, k0_d, self.stored.round_trip[j])
        wanted = []
        if self.wants_R:
            wanted.append(((share * H_over_q[j], share * E[j] * -inverse), out.dR_dn, out.dR_du))
        if self.wants_T:
            wanted.append(((to_E, to_level * inverse), out.dT_dn, out.dT_du))
        for row, to_n, to_u in wanted:
            for i, one in enumerate(self.block.wanted):
                below = E[j + 1, i], H_below[i]
                to_eps, along_u = layer_slopes(
                    layer, one == "p", (row[0][i], row[1][i]), fields=below
                )
                part = 1.0 / len(self.block.wanted)
                if j in self.sizes:  # the row is that of fields not yet divided
                    part = part / self.sizes[j][i]
                to_n[:, j + 1] += part * 2.0 * n * to_eps
                np.add(to_u, part * along_u.real, out=to_u)

    def _to_outer(
        self, outer: tuple[ComplexArray, ComplexArray], to_n: ComplexArray, to_u: FloatArray
    ) -> None:
        """Chain derivatives to the outer admittances on to ε and u."""
        share = 1.0 / len(self.block.wanted)
        for at, slope in zip((0, -1), outer, strict=True):
            n = self.block.index[:, at]
            kz = self.block.incidence.normal_component(n)
            for i, one in enumerate(self.block.wanted):
                slope_eps, slope_u = admittance_slopes(n * n, kz, one == "p")
                to_n[:, at] += share * 2.0 * n * slope_eps * slope[i]
                np.add(to_u, share * (slope_u * slope[i]).real, out=to_u)


def _slope(both: ComplexArray, turn: ComplexArray, out: FloatArray) -> None:
    """``Re(-i turn both)``, the mean of the polarisations, from (g, P, b, W) to (b, g, W)."""
    mixed = both[:, 0] if both.shape[1] == 1 else both.mean(axis=1)
    slope = out.swapaxes(0, 1)
    if turn.imag.any():
        mixed *= turn
        slope[...] = mixed.imag
    else:
        np.multiply(mixed.imag, turn.real, out=slope)
