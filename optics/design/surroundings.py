"""What lies around a design: a protective layer on top, and glass or cement in place of air."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import InputError, NotationError, shorten
from ..films.materials.medium import Medium
from ..films.notation import parse_medium, parse_stack
from ..films.stack import Layer, Stack
from .merit import Merit, make_merit
from .practice import MaterialLimit
from .state import SearchState, Trial

_PROTECTS_NM = 20.0  # of a protective layer, where none is stated: common practice, no source


def take_light_from(base: Stack, medium: str) -> Stack:
    """The base with light that comes through a medium in place of air.

    Raises
    ------
    InputError
        If the medium absorbs, or the base has two faces: both would lie in it.
    """
    if medium.strip().lower() == "air":
        return base
    through = parse_medium(medium)
    if base.slab_nm is not None:
        raise InputError(
            f"`light_from` {shorten(medium)!r} needs a base of one face: leave out its thickness",
            parameter="light_from",
        )
    if through.kind == "metal":
        raise InputError(f"`light_from` {shorten(medium)!r} is opaque", parameter="light_from")
    return replace(base, ambient=through)


def as_cover(outermost: str | None) -> tuple[Layer, ...]:
    """The layer that must lie on top, ``SiO2 20nm`` or ``SiO2``.

    Raises
    ------
    InputError
        If it is no such layer.
    """
    if outermost is None:
        return ()
    text = outermost.strip()
    try:
        parse_medium(text)
        text = f"{text} {_PROTECTS_NM:g}nm"
    except InputError:
        pass
    try:
        layers = parse_stack(f"{text} / n=1").layers
    except NotationError as error:
        raise InputError(
            f"`outermost` {shorten(outermost)!r}: {error.problem}", parameter="outermost"
        ) from error
    if len(layers) != 1 or layers[0].axis is not None:
        raise InputError(
            f"`outermost` must be one layer such as 'SiO2 20nm', not {shorten(outermost)!r}",
            parameter="outermost",
        )
    return layers


def uncover(bench: SearchState, chosen: list[Trial]) -> tuple[SearchState, list[Trial]]:
    """The same designs with the protective layer as one of their films."""
    if not bench.merit.cover:
        return bench, chosen
    (top,) = bench.merit.cover
    labels = [medium.label for medium in bench.merit.palette]
    palette: tuple[Medium, ...] = bench.merit.palette
    if top.medium.label not in labels:
        palette = (*palette, top.medium)
        labels.append(top.medium.label)
    at, nm = labels.index(top.medium.label), float(top.thickness_nm)
    merit = make_merit(
        bench.merit.base, palette, bench.merit.goals, density=bench.merit.density,
        total_nm=bench.merit.total_nm, layers=bench.merit.layers, extra_nm=bench.merit.extra_nm,
    )  # fmt: skip
    caps = np.append(bench.caps_nm, [np.inf] * (len(palette) - bench.caps_nm.size))
    limits = bench.limits
    if limits.by_material and len(palette) > len(limits.by_material):
        limits = replace(limits, by_material=(*limits.by_material, _free(top.medium)))
    whole = replace(bench, merit=merit, caps_nm=caps, limits=limits)
    return whole, [_with_top(merit, one, at, nm) for one in chosen]


def _free(medium: Medium) -> MaterialLimit:
    return MaterialLimit(medium.label)


def _with_top(merit: Merit, one: Trial, at: int, nm: float) -> Trial:
    """A design with one more film on top, joined to its first if that is of the same medium."""
    which, thickness = one.which, one.thickness_nm
    if which.size and which[0] == at:
        thickness = np.append(thickness[0] + nm, thickness[1:])
    else:
        which, thickness = np.insert(which, 0, at), np.insert(thickness, 0, nm)
    return replace(one, which=which, thickness_nm=thickness, merit=merit.value(which, thickness))
