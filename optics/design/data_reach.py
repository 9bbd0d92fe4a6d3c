"""Optical data that reach the bands of all goals: another set of the same material, or a stand-in.

A name without its data set, ``Ag``, means the set that is best in the visible. Where goals look
further, the best set of the same material that reaches there takes its place, and is told of. A set
that is named, ``Ag(mcpeak2015)``, is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..errors import InputError
from ..films.materials.catalogue import MaterialEntry, find_entry, list_materials, load_material
from ..films.materials.medium import Medium
from ..films.materials.nk_table import Material
from ..films.stack import Layer, Stack
from .goal_weights import NEEDED_EMITTANCE_NM
from .goals import Goal

_CONFIDENCE = ("high", "medium", "low")
_GLASSES = ("glass", "BK7")
STAND_IN = "SiO2(franta2016-fused)"
"""For window glass beyond 4.6 µm, where no open table is held: fused silica, whose bands of
reflection lie near; under a film of metal the difference hardly counts."""
_FIRST_SOLAR_NM = 400.0  # sunlight may be counted from here on; what lies before is told


def span_of(goals: Sequence[Goal]) -> tuple[float, float]:
    """The wavelengths that all goals look at [nm]; those that may start later leave room."""
    lows, highs = [], []
    for goal in goals:
        low, high = NEEDED_EMITTANCE_NM if goal.quantity == "emittance" else goal.span_nm
        lows.append(_FIRST_SOLAR_NM if goal.count == "solar" else low)
        highs.append(high)
    return min(lows, default=380.0), max(highs, default=780.0)


def reach_goals(
    palette: Sequence[Medium], base: Stack, goals: Sequence[Goal], *, kept: Sequence[str] = ()
) -> tuple[tuple[Medium, ...], Stack, list[str]]:
    """Media and base with data that reach all goals, and what was changed in words.

    Parameters
    ----------
    kept : sequence of str
        Texts as written; a medium whose label stands in one of them is not changed.
    """
    span, notes = span_of(goals), list[str]()
    found: dict[int, Medium] = {}

    def take(medium: Medium) -> Medium:
        if id(medium) not in found:
            found[id(medium)] = _reach(medium, span, kept, notes)
        return found[id(medium)]

    layers, back = (
        tuple(Layer(take(layer.medium), layer.thickness_nm) for layer in some)
        for some in (base.layers, base.back_layers)
    )
    moved = replace(base, layers=layers, back_layers=back, substrate=take(base.substrate))
    return tuple(take(medium) for medium in palette), moved, notes


def _reach(
    medium: Medium, span: tuple[float, float], kept: Sequence[str], notes: list[str]
) -> Medium:
    if not isinstance(medium, Material) or medium.kind == "user":
        return medium
    try:
        entry = find_entry(medium.label)
    except InputError:
        return medium
    if _reaches(entry, span) or any(medium.label in text for text in kept):
        return medium
    others = [
        one
        for one in list_materials()
        if (one.name, one.phase) == (entry.name, entry.phase)
        and _reaches(one, span)
        and one.confidence in _CONFIDENCE
    ]
    others = others or [
        one
        for one in list_materials()
        if one.name == entry.name and _reaches(one, span) and one.confidence == "high"
    ]
    if not others:
        return medium
    best = min(others, key=lambda one: _CONFIDENCE.index(one.confidence))
    taken = load_material(f"{best.name}({best.variant})")
    notes.append(
        f"{entry.name} is taken from {taken.label}, for {medium.label} ends at "
        f"{entry.range_nm[1]:g} nm"
    )
    return taken


def _reaches(entry: MaterialEntry, span: tuple[float, float]) -> bool:
    return entry.range_nm[0] <= span[0] and entry.range_nm[1] >= span[1]


def warm_base(base: Stack) -> tuple[Stack, bool]:
    """The base where its warmth is looked at, and whether fused silica stands for its glass."""
    if base.substrate.label.partition("(")[0] not in _GLASSES:
        return base, False
    return replace(base, substrate=load_material(STAND_IN)), True
