"""Worlds that differ only in their data sets, computed together: one call for all their rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .._typing import ComplexArray, FloatArray, IndexArray
from .forward_model import ForwardModel
from .index_models import scale_index
from .seen import nearest_known


@dataclass(frozen=True, eq=False)
class ModelBatch:
    """Worlds with the same unknowns on pieces of the same build.

    Attributes
    ----------
    worlds : tuple of ForwardModel
        Their index models are tables off by a factor, or all one formula.
    """

    worlds: tuple[ForwardModel, ...]

    @cached_property
    def _tables(self) -> ComplexArray | None:
        """Index of each world's table (M, W), where tables are what they differ in."""
        tables = [world.model.table for world in self.worlds if world.model]
        at_nm = self.worlds[0].piece.wavelength_nm
        found = [table.nk(nearest_known(table, at_nm)) for table in tables if table is not None]
        return np.array(found) if found else None

    @cached_property
    def _below(self) -> tuple[ComplexArray, ComplexArray] | None:
        """Lower layers (M, L, W) and substrates (M, W), where the worlds differ in them."""
        pieces = [world.piece for world in self.worlds]
        if all(piece is pieces[0] for piece in pieces):
            return None
        return np.array([p.lower for p in pieces]), np.array([p.substrate for p in pieces])

    def at(self, which: IndexArray) -> ForwardModel:
        """One world whose rows of unknowns are those of the worlds numbered ``which`` (N,)."""
        first = self.worlds[0]
        if len(self.worlds) == 1:
            return first
        piece, index = first.piece, first.index
        if self._below is not None:
            lower, substrate = self._below
            piece = replace(piece, lower=lower[which], substrate=substrate[which])
        if self._tables is not None:
            index = scale_index(self._tables[which])
        return replace(first, piece=piece, index=index)


def batch_models(worlds: Sequence[ForwardModel]) -> list[ModelBatch]:
    """Worlds sorted into families, in the order first met."""
    groups: dict[tuple[object, ...], list[ForwardModel]] = {}
    for world in worlds:
        groups.setdefault(_kind(world), []).append(world)
    return [ModelBatch(tuple(group)) for group in groups.values()]


def _kind(world: ForwardModel) -> tuple[object, ...]:
    """What worlds of one family have in common."""
    piece, model = world.piece, world.model
    table = model is not None and model.table is not None
    own = piece.slab_nm is not None  # the two faces of a slab share one substrate
    return (
        piece.role,
        id(world.slit),
        world.parameters,
        table or id(model),
        id(piece) if own else piece.lower_nm.tobytes(),
    )


def join_unknowns(rows: Sequence[FloatArray]) -> tuple[IndexArray, FloatArray]:
    """Unknowns of each world of a family, one after another, and whose they are."""
    which = np.repeat(np.arange(len(rows)), [len(own) for own in rows])
    return which, np.concatenate(rows)
