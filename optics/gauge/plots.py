"""Charts of an estimate: its posterior and the colours of the film."""

from __future__ import annotations

import math
from collections.abc import Sequence
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
    from .result import ManyEstimates, RowEstimate

_ASIDE, _LEAST_ASIDE_NM = 1.5, 20.0  # of the region's width, which counts as so much at least
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
    ax.set_xlim(shown_span(estimate))
    ax.set_ylim(0.0, 1.28 * float(density.max()))
    ax.set_xlabel("thickness [nm]")
    ax.set_ylabel("probability per nm [1/nm]")
    texts = [one.text for one in estimate.seen] + [one.text for one in estimate.measured]
    seen = " and ".join(texts)
    verdict = "" if estimate.fits else " (nothing fits)"
    films = ", ".join(dict.fromkeys(name.split(",")[0] for name in estimate.films))
    ax.set_title(f"{films}: seen {seen}{verdict}")
    return style_axes(ax, legend=True)


def shown_span(estimate: Estimate) -> tuple[float, float]:
    """The thicknesses a chart shows: all that were asked about, or the surroundings of a narrow
    answer, on which nothing could be read beside all of them."""
    low, high = estimate.between_nm
    ends = [edge for part in estimate.region90_nm for edge in part]
    aside = _ASIDE * max(max(ends) - min(ends), _LEAST_ASIDE_NM)
    first, last = max(low, min(ends) - aside), min(high, max(ends) + aside)
    is_narrow = last - first < 0.5 * (high - low)
    return (math.floor(first), math.ceil(last)) if is_narrow else (low, high)


def chart_piece(piece: PieceEstimate) -> Figure:
    """Thickness of each spot of a piece."""
    figure, (ax,) = new_figure(7.0, 4.2, [1.0])
    plot_piece(piece, ax)
    return figure


def chart_many(found: ManyEstimates) -> Figure:
    """Thickness of each of many pieces."""
    figure, (ax,) = new_figure(7.0, 4.2, [1.0])
    _plot_rows(found.readings, ax)
    ax.set_xlabel("reading")
    ax.set_title("Each reading by itself, its likeliest thickness")
    return figure


def plot_piece(piece: PieceEstimate, ax: Axes | None = None) -> Axes:
    """Thickness of each spot of a piece with its 90 %, in the colour its film shows."""
    ax = ax or new_axes()
    rows = piece.readings
    ax.plot(range(1, len(rows) + 1), [one.thickness_nm for one in rows], color=INK, lw=1.0)
    _plot_rows(rows, ax)
    ax.set_xlabel("spot")
    ax.set_title("Spots of one piece, read together")
    return ax


def _plot_rows(rows: Sequence[RowEstimate], ax: Axes) -> None:
    """Thickness of each row with its 90 %, in the colour its film shows; one without an upper end
    has an arrow there."""
    nm = np.array([one.thickness_nm for one in rows])
    spots = np.arange(1, nm.size + 1)
    parts = [(x, part) for x, one in zip(spots, rows, strict=True) for part in one.region90_nm]
    for x, (low, high) in parts:
        ax.vlines(x, low, high if math.isfinite(high) else max(low, nm[x - 1]), color=INK, lw=1.6)
    open_end = np.unique([x for x, (_, high) in parts if math.isinf(high)]).astype(int)
    ax.plot(open_end, nm[open_end - 1], "^", color=INK, ms=16, zorder=2)
    colours = [one.candidates[0].srgb_hex for one in rows]
    ax.scatter(spots, nm, c=colours, s=70, marker="s", edgecolors=INK, linewidths=0.8, zorder=3)
    if nm.size <= _MOST_NAMED:
        ax.set_xticks(spots, [one.id for one in rows])
    ax.set_ylabel("thickness [nm], bars: 90 %")
    style_axes(ax, grid="y")


def plot_film_colours(estimate: Estimate, ax: Axes | None = None) -> Axes:
    """Colours the likeliest film of an estimate runs through at normal incidence, as a strip."""
    nm, seen = ramp_of(estimate)
    low, high = shown_span(estimate)
    inside = slice(*np.searchsorted(nm, [low, high + 0.5]).tolist())
    nm, seen = nm[inside], seen[inside]
    ax = plot_ramp(nm, seen.srgb_hex, seen.name, in_gamut=seen.in_gamut, ax=ax)
    ax.set_xlabel(f"thickness [nm]; colours of {estimate.candidates[0].film}")
    return ax
