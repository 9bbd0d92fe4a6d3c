"""Charts of an estimate: its posterior and the colours of the film."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..report.format import format_percent
from ..report.strips import plot_ramp
from ..report.style import INK, SHADE, new_axes, new_figure, style_axes
from .result import Estimate, ramp_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from .joint.piece import PieceEstimate

_MOST_NAMED = 12  # spots whose names find room under an axis


def chart_estimate(estimate: Estimate) -> Figure:
    """The density over thickness above the colours the likeliest film runs through."""
    figure, (above, below) = new_figure(8.0, 5.2, [2.2, 1.0], share=True)
    plot_estimate(estimate, above)
    above.set_xlabel("")
    plot_film_colours(estimate, below)
    return figure


def plot_estimate(estimate: Estimate, ax: Axes | None = None) -> Axes:
    """Posterior density over thickness with its 90 % region and its candidates."""
    ax = ax or new_axes()
    nm, density = estimate.grid_nm, estimate.density
    ax.plot(nm, density, color=INK, lw=1.6)
    inside = np.zeros(nm.size, dtype=bool)
    for low, high in estimate.region90_nm:
        inside |= (nm >= low) & (nm <= high)
    ax.fill_between(nm, density, where=inside, color=SHADE, label="90 % of the probability")
    for one in estimate.candidates:
        low, high = one.interval90_nm
        height = float(density[(nm >= low - 1.0) & (nm <= high + 1.0)].max())
        least = "at least " if one.open_upward else ""
        label = f"{least}{one.thickness_nm:.0f} nm\n{format_percent(one.probability)}"
        ax.annotate(
            label, (one.thickness_nm, height), (0, 4), textcoords="offset points", ha="center",
            va="bottom", fontsize=9,
        )  # fmt: skip
    ax.set_xlim(estimate.between_nm)
    ax.set_ylim(0.0, 1.28 * float(density.max()))
    ax.set_xlabel("thickness [nm]")
    ax.set_ylabel("probability per nm [1/nm]")
    texts = [one.text for one in estimate.seen] + [one.text for one in estimate.measured]
    seen = " and ".join(texts)
    verdict = "" if estimate.fits else " (nothing fits)"
    films = ", ".join(dict.fromkeys(name.split(",")[0] for name in estimate.films))
    ax.set_title(f"{films}: seen {seen}{verdict}")
    return style_axes(ax, legend=True)


def chart_piece(piece: PieceEstimate) -> Figure:
    """Thickness of each spot of a piece."""
    figure, (ax,) = new_figure(7.0, 4.2, [1.0])
    plot_piece(piece, ax)
    return figure


def plot_piece(piece: PieceEstimate, ax: Axes | None = None) -> Axes:
    """Thickness of each spot of a piece with its 90 %, in the colour its film shows."""
    ax = ax or new_axes()
    rows = piece.readings
    nm = np.array([one.thickness_nm for one in rows])
    low, high = np.array([one.interval90_nm for one in rows]).T
    spots = np.arange(1, nm.size + 1)
    ax.plot(spots, nm, color=INK, lw=1.0, label="thickness [nm]")
    ax.vlines(spots, low, high, color=INK, lw=1.6)
    colours = [one.candidates[0].srgb_hex for one in rows]
    ax.scatter(spots, nm, c=colours, s=70, marker="s", edgecolors=INK, linewidths=0.8, zorder=3)
    if nm.size <= _MOST_NAMED:
        ax.set_xticks(spots, [one.id for one in rows])
    ax.set_xlabel("spot")
    ax.set_ylabel("thickness [nm], bars: 90 %")
    ax.set_title("Spots of one piece, read together")
    return style_axes(ax, grid="y")


def plot_film_colours(estimate: Estimate, ax: Axes | None = None) -> Axes:
    """Colours the likeliest film of an estimate runs through at normal incidence, as a strip."""
    nm, seen = ramp_of(estimate)
    ax = plot_ramp(nm, seen.srgb_hex, seen.name, in_gamut=seen.in_gamut, ax=ax)
    ax.set_xlabel(f"thickness [nm]; colours of {estimate.candidates[0].film}")
    return ax
