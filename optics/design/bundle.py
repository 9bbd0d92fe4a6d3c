"""Goals that look from the same directions, computed together on all their wavelengths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .._typing import FloatArray, IndexArray
from ..films.engine.incidence import Incidence
from ..films.engine.palette import MOST_SINGLE, PaletteWaves, make_palette_waves, solve_palette
from ..films.spectra import Asked
from ..films.stack_arrays import FilmArrays
from .observation import GoalObservation, Powers


@dataclass(frozen=True, eq=False)
class Bundle:
    """Sights with the same angles and polarisation, as one over all their wavelengths.

    Attributes
    ----------
    whole : GoalObservation
    parts : tuple of (int, slice)
        Each sight by its number, and its wavelengths among those of the whole.
    is_single : bool
        Whether single precision does.
    """

    whole: GoalObservation
    parts: tuple[tuple[int, slice], ...]
    is_single: bool = False

    @cached_property
    def lit(self) -> PaletteWaves | None:
        """The palette and the films that are there as one palette; None where a slab's far face
        counts, the back is looked at, or a medium carries a wave along its surface."""
        seen = self.whole
        if seen.needs_general:
            return None
        rows = np.concatenate([seen.rows, seen.over.index[1:-1], seen.under.index[1:-1]])
        outer = seen.under.index[0], seen.under.index[-1]
        return make_palette_waves(
            rows, outer, seen.wavelength_nm,
            incidence=Incidence.at(outer[0].real[None], seen.angle_deg),
            polarization=seen.polarization,
        )  # fmt: skip

    def look(self, which: IndexArray, thickness_nm: FloatArray, of: Asked | None) -> Powers:
        """Powers of the whole, with slopes of those asked for: which (..., L), likewise nm."""
        seen, lit = self.whole, self.lit
        if lit is None:
            films = seen.index(which)
            if of is None:
                return seen.powers(films, thickness_nm)
            return seen.gradient(films, thickness_nm, of)
        lead = np.broadcast_shapes(which.shape[:-1], thickness_nm.shape[:-1])
        layers, media = which.shape[-1], len(seen.rows)
        over, under = seen.over.thickness_nm, seen.under.thickness_nm
        count = int(np.prod(lead))
        nm = np.broadcast_to(thickness_nm, (*lead, layers)).reshape(count, layers)
        order = which.reshape(-1, layers) if which.ndim > 1 else which[None]
        if len(order) not in (1, count):
            order = np.broadcast_to(which, (*lead, layers)).reshape(count, layers)
        if over.size or under.size:
            fixed = np.arange(over.size) + media, np.arange(under.size) + media + over.size
            order = np.concatenate([np.tile(fixed[0], (len(order), 1)), order,
                                    np.tile(fixed[1], (len(order), 1))], axis=1)  # fmt: skip
            nm = np.concatenate([np.tile(over, (count, 1)), nm, np.tile(under, (count, 1))], axis=1)
        own = slice(over.size, over.size + layers)
        if self.is_single and nm.shape[1] <= MOST_SINGLE:
            lit = lit.in_single
        got = solve_palette(lit, order, nm, own=own, slopes=of)
        shape = seen.angle_deg.size, seen.wavelength_nm.size
        R, T = (power.reshape(*lead, *shape) for power in (got.R, got.T))
        if of is None:
            return Powers(R, T)
        dR, dT = (
            np.empty((*lead, shape[0], 0, shape[1]))
            if slope is None
            else np.moveaxis(slope.reshape(*lead, layers, *shape), -3, -2)
            for slope in (got.dR, got.dT)
        )
        return Powers(R, T, dR, dT)


def bundle_sights(
    sights: Sequence[GoalObservation], asked: Sequence[Asked], *, is_single: bool = False
) -> tuple[Bundle, ...]:
    """The sights put together where they look from the same directions at the same base.

    Those of which other powers are asked stay apart where media take light: the slopes of R and of
    T are then two computations.
    """
    alike: dict[object, list[int]] = {}
    for i, one in enumerate(sights):
        apart = i if one.needs_general or one.opaque else -1
        takes = any(rows.imag.any() for rows in (one.rows, one.under.index, one.over.index))
        of = asked[i] if takes else ""
        key = one.angle_deg.tobytes(), one.polarization, apart, len(one.under.index), of
        alike.setdefault(key, []).append(i)
    joined = (_join([sights[i] for i in group], group) for group in alike.values())
    return tuple(replace(one, is_single=is_single) for one in joined)


def _join(sights: Sequence[GoalObservation], numbers: Sequence[int]) -> Bundle:
    ends = np.cumsum([0, *(one.wavelength_nm.size for one in sights)]).tolist()
    parts = tuple((i, slice(a, b)) for i, a, b in zip(numbers, ends[:-1], ends[1:], strict=True))
    if len(sights) == 1:
        return Bundle(sights[0], parts)
    first = sights[0]
    whole = replace(
        first,
        wavelength_nm=np.concatenate([one.wavelength_nm for one in sights]),
        rows=np.concatenate([one.rows for one in sights], axis=-1),
        under=_side_by_side([one.under for one in sights]),
        behind=_side_by_side([one.behind for one in sights]),
        over=_side_by_side([one.over for one in sights]),
    )
    return Bundle(whole, parts)


def _side_by_side(films: Sequence[FilmArrays]) -> FilmArrays:
    return replace(films[0], index=np.concatenate([one.index for one in films], axis=-1))


def look_at_all(
    bundles: Sequence[Bundle],
    which: IndexArray,
    thickness_nm: FloatArray,
    *,
    asked: Sequence[Asked] | None = None,
) -> list[Powers]:
    """What every sight sees of designs, with the slopes of the powers asked of each sight."""
    found: dict[int, Powers] = {}
    for bundle in bundles:
        of: Asked | None = None
        if asked is not None:
            of = asked[bundle.parts[0][0]]
            if any(asked[i] != of for i, _ in bundle.parts):
                of = "RT"
        seen = bundle.look(which, thickness_nm, of)
        for i, at in bundle.parts:
            parts = (seen.R, seen.T, seen.dR, seen.dT, seen.turn, seen.dturn)
            found[i] = Powers(*(None if one is None else one[..., at] for one in parts))  # type: ignore[arg-type]  # R and T are never None
    return [found[i] for i in sorted(found)]
