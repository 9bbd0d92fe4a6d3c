"""A look as a document."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from .._typing import FloatArray
from ..films.stack import sweep_thicknesses
from ..report.document import Block, Document, Figure, Line, Note, Swatch, Table, present
from ..report.format import format_angle, format_ohm
from ..report.provenance import COMPUTED, labels_of_stack
from ..report.strips import TOO_VIVID, runs_of
from .plots import chart_look
from .result import Look

_MOST_ROWS = 40
_LITTLE_LIGHT = 0.1  # share of the light below which an optical density tells more
_DATA = (
    "Where the data sets of a material differ, its list shows by how much; name another as in "
    "TiO2(franta2015) to see what it changes."
)


@present.register
def document(look: Look) -> Document:
    """Colours of one stack, or the ramp of a sweep."""
    headline, blocks = _sweep(look) if look.films.sweep_shape else _single(look)
    return Document(
        headline=headline,
        blocks=[*blocks, *(f"Note: {one}." for one in look.warnings), Note(_conditions(look))],
        question="What does this coating look like?",
        figures=_figures(look),
        confidence=(COMPUTED, _DATA),
        sources=labels_of_stack(look.films),
    )


def _figures(look: Look) -> list[Figure]:
    swept = len(look.films.sweep_shape)
    if swept > 2:
        return []
    if look.spectra is None and not swept:
        return []
    over = ("Share of the light over wavelength.", "Colours over thickness.")
    caption = over[swept] if swept < 2 else "Colours over both thicknesses."
    return [Figure(lambda: chart_look(look), caption)]


def _single(look: Look) -> tuple[str, list[Block]]:
    sides = [(f"reflected, {look.side}", look.reflected)]
    if look.transmitted is not None:
        sides.append(("through", look.transmitted))
    rows: list[list[Line]] = [
        [
            side,
            Swatch(str(seen.srgb_hex), str(seen.name)),
            f"{seen.Y:.1f}",
            *(f"{value:.1f}" for value in seen.lab),
        ]
        for side, seen in sides
    ]
    blocks: list[Block] = [Table(["seen", "colour", "Y %", "L*", "a*", "b*"], rows)]
    if look.transmitted is None:
        blocks.append("Nothing is seen through: the substrate is opaque.")
    outside = [side for side, seen in sides if not seen.in_gamut]
    if outside:
        blocks.append(f"{TOO_VIVID.capitalize()}: {', '.join(outside)}.")
    return f"{look.stack}: {look.reflected.name}, {look.reflected.srgb_hex}", blocks


def _sweep(look: Look) -> tuple[str, list[Block]]:
    axes = sweep_thicknesses(look.films)
    names, ohms = np.asarray(look.reflected.name), look.ohms_per_square()
    rows = []
    for position in _evenly_chosen(look.films.sweep_shape):
        row: list[Line] = [f"{points[i]:g}" for (_, points), i in zip(axes, position, strict=True)]
        sides = [look.reflected] + ([] if look.transmitted is None else [look.transmitted])
        for side in sides:
            seen = side[position]
            row.append(Swatch(str(seen.srgb_hex), str(seen.name)))
        measured = [] if ohms is None else [_light(look, position), _ohms(ohms[position])]
        rows.append([*row, *measured])
    heads = [f"{layer.medium.label} nm" for layer, _ in axes] + ["reflected"]
    heads += [] if look.transmitted is None else ["through"]
    heads += [] if ohms is None else ["light through", "Ω per square"]
    blocks: list[Block] = [Table(heads, rows, optional=[one for one in heads if one == "through"])]
    if look.transmitted is None:
        blocks.append("Nothing is seen through: the substrate is opaque.")
    blocks += _beyond_screens(look)
    if names.size > len(rows):
        blocks.append(Note(f"{len(rows)} rows of {names.size}, evenly chosen; JSON lists all."))
    headline = f"{look.stack}: {names.size} points, from {names.flat[0]} to {names.flat[-1]}"
    return headline, blocks


def _beyond_screens(look: Look) -> list[Block]:
    """Where along one swept thickness no screen shows the colours as they are."""
    axes, found = sweep_thicknesses(look.films), []
    if len(axes) != 1:
        return []
    nm = axes[0][1]
    sides = {f"reflected, {look.side}": look.reflected, "through": look.transmitted}
    for words, seen in sides.items():
        if seen is not None:
            runs = runs_of(np.asarray(seen.in_gamut))
            where = [f"{nm[a]:g} to {nm[b]:g} nm" for a, b, shown in runs if not shown]
            found += [f"{words}, {', '.join(where)}"] if where else []
    return [f"{TOO_VIVID.capitalize()}: {'; '.join(found)}."] if found else []


def _light(look: Look, position: tuple[int, ...]) -> str:
    """Luminous light through: in percent, or as optical density where it is little."""
    if look.transmitted is None:
        return "none"
    share = float(look.transmitted[position].Y) / 100.0
    if share >= _LITTLE_LIGHT:
        return f"{100.0 * share:.0f} %"
    return f"OD {-math.log10(share):.1f}" if share > 1e-9 else "OD above 9"


def _ohms(bounds: FloatArray) -> str:
    """Ohms per square, between the bounds of what is in doubt."""
    low, _, high = bounds.tolist()
    if math.isinf(low):
        return "open: islands"
    return (
        f"{format_ohm(low)} to {format_ohm(high)}"
        if math.isfinite(high)
        else f"from {format_ohm(low)} on"
    )


def _evenly_chosen(shape: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
    """Places of a sweep for a table: every so many of one thickness, and its last."""
    total = int(np.prod(shape))
    picked = np.unique(np.linspace(0, total - 1, min(total, _MOST_ROWS)).astype(int))
    if len(shape) == 1:
        apart = max(1, math.ceil((total - 1) / _MOST_ROWS))
        picked = np.union1d(np.arange(0, total, apart), total - 1)
    return zip(*(axis.tolist() for axis in np.unravel_index(picked, shape)), strict=True)


def _conditions(look: Look) -> str:
    seen = look.conditions
    return f"Light {seen.light}, {seen.observer}° observer, {format_angle(look.angle_deg)}."
