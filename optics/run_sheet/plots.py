"""The chart of a run sheet: thickness over the piece, and the witness while the run goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..colour.colour import Colour
from ..deposition.geometry import Piece
from ..report.strips import mark_vivid
from ..report.style import INK, MAP_COLOURS, new_axes, style_axes
from .result import RunSheet, Step

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

_CONTOURS = 8
_FLAT = 1e-6  # below this spread there is nothing to draw lines of


def chart_sheet(sheet: RunSheet) -> Figure:
    """Map of the thickness, and the strip of the witness next to it."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10.0, 4.6), layout="constrained", facecolor="white")
    left, right = figure.subplots(1, 2, width_ratios=[1.0, 1.4])
    plot_evenness(sheet, left)
    plot_witness(sheet, right)
    return figure


def plot_evenness(sheet: RunSheet, ax: Axes | None = None) -> Axes:
    """Thickness over the piece in percent of its middle; outside the piece stays white."""
    from matplotlib.ticker import MaxNLocator

    ax = ax or new_axes(5.2, 4.6)
    even = sheet.uniformity
    share = 100.0 * even.relative
    ends = 100.0 * even.lowest, 100.0 * even.highest
    drawn = ax.pcolormesh(
        even.x_mm, even.y_mm, share, cmap=MAP_COLOURS, shading="gouraud", vmin=ends[0],
        vmax=ends[1], rasterized=True,
    )  # fmt: skip
    outline = _outline(sheet.piece)
    ax.add_patch(outline)
    drawn.set_clip_path(outline)
    if even.highest - even.lowest > _FLAT:
        levels = [
            one for one in MaxNLocator(_CONTOURS).tick_values(*ends) if ends[0] < one < ends[1]
        ]
        inks = ["white" if level < sum(ends) / 2.0 else INK for level in levels]
        lines = ax.contour(even.x_mm, even.y_mm, share, levels, colors=inks, linewidths=0.7)
        lines.set_clip_path(outline)
        inside = np.ma.masked_where(~even.inside, share)
        ax.clabel(lines, [one for one in levels if one >= inside.min()], fmt="%.4g", fontsize=7)
    if ax.figure is not None:
        bar = ax.figure.colorbar(drawn, ax=ax, label="thickness [% of the middle]", shrink=0.8)
        bar.ax.tick_params(labelsize=8)
    ax.set_aspect("equal")
    ax.set_xlabel("along the offset [mm]")
    ax.set_ylabel("across [mm]")
    place = sheet.placement
    turning = ", turning" if place.turning else ""
    ax.set_title(
        f"{sheet.source.kind} at {place.distance_mm:g} mm{turning}: "
        f"±{100.0 * even.half_spread:.2g} %"
    )
    return style_axes(ax, grid="")


def plot_witness(sheet: RunSheet, ax: Axes | None = None) -> Axes:
    """Colours of the witness against all that was deposited: front, back, through."""
    from matplotlib.colors import to_rgb

    ax = ax or new_axes(7.0, 3.6)
    edges, rows = [0.0], _rows(sheet)
    for step in sheet.layers:
        start = edges[-1]
        edges.extend((start + step.seen.thickness_nm).tolist())
    for i, seen in enumerate(rows.values()):
        hexes = np.concatenate([np.asarray(one.srgb_hex) for one in seen])
        colours = np.array([to_rgb(one) for one in hexes])
        ax.pcolorfast(np.array(edges), [float(-i - 1), float(-i)], colours[None])
    fits = [np.concatenate([np.asarray(one.in_gamut) for one in seen]) for seen in rows.values()]
    mark_vivid(ax, np.array(edges), np.array(fits), tops=[-0.02 - i for i in range(len(rows))])
    whole = 0.0
    for step in sheet.layers:
        ax.text(
            whole + 0.5 * _grown_nm(step), 0.04, f"{step.step} {step.material}", ha="center",
            va="bottom", fontsize=8,
        )  # fmt: skip
        whole += _grown_nm(step)
        ax.axvline(whole, color=INK, lw=0.8)
    ax.set_xlim(0.0, whole)
    ax.set_ylim(-float(len(rows)), 0.0)
    ax.set_yticks([-i - 0.5 for i in range(len(rows))], list(rows))
    ax.set_xlabel("deposited so far [nm]")
    ax.set_title("what the witness slide shows", pad=18)
    return style_axes(ax, grid="")


def _grown_nm(step: Step) -> float:
    """Thickness of a layer in its likeliest state: oxide takes more room than metal."""
    return float(step.seen.thickness_nm[-1])


def _outline(piece: Piece) -> Patch:
    from matplotlib.patches import Ellipse, Rectangle

    width, height = piece.width_mm, piece.height_mm
    style: dict[str, Any] = {"facecolor": "none", "edgecolor": INK, "lw": 0.8}
    if piece.round:
        return Ellipse((0.0, 0.0), width, height, **style)
    return Rectangle((-0.5 * width, -0.5 * height), width, height, **style)


def _rows(sheet: RunSheet) -> dict[str, list[Colour]]:
    """The colours of each way of looking in every step; a way that shows nothing is left out."""
    seen: dict[str, list[Colour | None]] = {
        "front": [step.seen.reflected for step in sheet.layers],
        "back": [step.seen.reflected_back for step in sheet.layers],
        "through": [step.seen.transmitted for step in sheet.layers],
    }
    return {
        name: [one for one in looks if one is not None]
        for name, looks in seen.items()
        if looks[0] is not None
    }
