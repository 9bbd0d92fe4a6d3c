"""The chart of a run sheet: thickness over the piece, and the witness while the run goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..colour.appearance import Appearance
from ..jobs.runsheet import RunSheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INK = "#222222"
_CONTOURS = 8
_FLAT = 1e-6  # below this spread there is nothing to draw lines of


def chart_sheet(sheet: RunSheet) -> Figure:
    """Map of the thickness beside the strip of the witness."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10.0, 4.6), layout="constrained")
    left, right = figure.subplots(1, 2, width_ratios=[1.0, 1.5])
    plot_map(sheet, left)
    plot_strip(sheet, right)
    return figure


def plot_map(sheet: RunSheet, ax: Axes) -> Axes:
    """Thickness over the piece in percent of its middle; outside the piece stays white."""
    even = sheet.uniformity
    share = np.ma.masked_where(~even.inside, 100.0 * even.relative)
    drawn = ax.pcolormesh(even.x_mm, even.y_mm, share, cmap="cividis", shading="gouraud")
    if even.highest - even.lowest > _FLAT:
        lines = ax.contour(even.x_mm, even.y_mm, share, _CONTOURS, colors="white", linewidths=0.7)
        ax.clabel(lines, fmt="%.4g", fontsize=7)
    if ax.figure is not None:
        ax.figure.colorbar(drawn, ax=ax, label="thickness [% of the middle]", shrink=0.8)
    ax.set_aspect("equal")
    ax.set_xlabel("along the offset [mm]")
    ax.set_ylabel("across [mm]")
    place = sheet.setup.placement
    turning = ", turning" if place.turning else ""
    ax.set_title(
        f"{sheet.setup.source.kind} at {place.distance_mm:g} mm{turning}: "
        f"±{100.0 * even.half_spread:.2g} %"
    )
    return ax


def plot_strip(sheet: RunSheet, ax: Axes) -> Axes:
    """Colours of the witness against all that has been laid, front above back above through."""
    from matplotlib.colors import to_rgb

    edges, rows = [0.0], _rows(sheet)
    for step in sheet.steps:
        start = edges[-1]
        edges.extend((start + step.witness.thickness_nm).tolist())
    names = [name for name, _ in rows]
    for i, (_, hexes) in enumerate(rows):
        colours = np.array([to_rgb(one) for one in hexes])
        ax.pcolorfast(np.array(edges), [float(-i - 1), float(-i)], colours[None])
    whole = 0.0
    for step in sheet.steps:
        ax.text(
            whole + 0.5 * step.thickness_nm, 0.04, f"{step.number} {step.material}", ha="center",
            va="bottom", fontsize=8,
        )  # fmt: skip
        whole += step.thickness_nm
        ax.axvline(whole, color=_INK, lw=0.8)
    ax.set_xlim(0.0, whole)
    ax.set_ylim(-float(len(rows)), 0.0)
    ax.set_yticks([-i - 0.5 for i in range(len(rows))], names)
    ax.set_xlabel("laid so far [nm]")
    ax.set_title("what the witness slide shows", pad=18)
    return ax


def _rows(sheet: RunSheet) -> list[tuple[str, NDArray[np.str_]]]:
    """Hex colours of each way of looking, over all moments of all steps."""
    seen: list[tuple[str, list[Appearance | None]]] = [
        ("front", [step.witness.reflected for step in sheet.steps]),
        ("back", [step.witness.reflected_back for step in sheet.steps]),
        ("through", [step.witness.transmitted for step in sheet.steps]),
    ]
    return [
        (name, np.concatenate([np.asarray(one.srgb_hex) for one in looks if one is not None]))
        for name, looks in seen
        if looks[0] is not None
    ]
