"""Charts of a thickness map: the piece in false colours, its histogram, a line across it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from .._typing import SingleArray
from ..errors import InputError
from ..report.style import INK, MAP_COLOURS, QUIET, SHADE, new_axes, new_figure, style_axes
from .result import FieldMap, Line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WIDEST_PICTURE, _WIDEST_CONTOURS = 1400, 300
_MOST_CONTOURS = 60
_CONTOUR_NM = 10.0


def chart_map(field: FieldMap) -> Figure:
    """The piece in false colours with contour lines and a scale."""
    height, width = field.median_nm.shape
    figure, (ax,) = new_figure(8.0, 1.2 + 7.0 * height / width, [1.0])
    plot_field(field, ax)
    return figure


def plot_field(field: FieldMap, ax: Axes | None = None) -> Axes:
    """Thickness of every pixel in false colours, with lines of equal thickness."""
    nm, step = _shrink(field.median_nm, _WIDEST_PICTURE)
    height, width = nm.shape
    ax = ax or new_axes(8.0, 1.2 + 7.0 * height / width)
    extent = (0, width * step, height * step, 0)
    shown = ax.imshow(nm, cmap=MAP_COLOURS, extent=extent, interpolation="nearest")
    if np.isfinite(nm).any():
        smooth, coarse = _shrink(field.median_nm, _WIDEST_CONTOURS)
        low, high = np.nanmin(smooth), np.nanmax(smooth)
        levels = _CONTOUR_NM * np.arange(np.ceil(low / _CONTOUR_NM), high / _CONTOUR_NM)
        if 0 < levels.size <= _MOST_CONTOURS:
            x, y = (coarse * (np.arange(size) + 0.5) for size in smooth.shape[::-1])
            inks = ["white" if level < 0.5 * (low + high) else INK for level in levels]
            lines = ax.contour(x, y, smooth, levels, colors=inks, linewidths=0.6)
            ax.clabel(lines, fontsize=6, fmt="%g")
    if ax.figure is not None:
        ax.figure.colorbar(shown, ax=ax, label="thickness [nm]", shrink=0.8)
    ax.set_xlabel("column [pixels]")
    ax.set_ylabel("row [pixels]")
    ax.set_title(f"{', '.join(field.films)} on {field.on}; lines {_CONTOUR_NM:g} nm apart")
    return style_axes(ax, grid="")


def _shrink(nm: SingleArray, widest: int) -> tuple[SingleArray, int]:
    """Means over squares of pixels, so that no side is longer than ``widest``; their side."""
    step = max(1, -(-max(nm.shape) // widest))
    rows, columns = (size // step for size in nm.shape)
    squares = nm[: rows * step, : columns * step].reshape(rows, step, columns, step)
    known = ~np.isnan(squares)
    total = np.where(known, squares, np.float32(0.0)).sum(axis=(1, 3))
    count = known.sum(axis=(1, 3))
    mostly = 2 * count >= step * step
    mean = np.where(mostly, total / np.maximum(count, 1), np.float32(np.nan))
    return mean.astype(np.float32), step


def chart_histogram(field: FieldMap) -> Figure:
    """How much of the piece has which thickness."""
    figure, (ax,) = new_figure(7.0, 3.6, [1.0])
    plot_histogram(field, ax)
    return figure


def plot_histogram(field: FieldMap, ax: Axes | None = None) -> Axes:
    """Share of the piece over thickness."""
    ax = ax or new_axes(7.0, 3.6)
    known = field.median_nm[field.order > 0]
    if known.size:
        edges = np.arange(np.floor(known.min()), np.ceil(known.max()) + 2.0)
        share = np.histogram(known, edges)[0] / known.size
        ax.stairs(100.0 * share, edges, fill=True, color=QUIET)
    ax.set_xlabel("thickness [nm]")
    ax.set_ylabel("share of the piece [% per nm]")
    return style_axes(ax, grid="y")


def chart_profile(field: FieldMap, line: Line) -> Figure:
    """Thickness along a line with its 90 % band."""
    figure, (ax,) = new_figure(7.0, 3.6, [1.0])
    plot_profile(field, line, ax)
    return figure


def plot_profile(field: FieldMap, line: Line, ax: Axes | None = None) -> Axes:
    """Thickness along a line between two pixels, with the 90 % band of each pixel."""
    ax = ax or new_axes(7.0, 3.6)
    along, median, low, high = profile_of(field, line)
    ax.fill_between(along, low, high, color=SHADE, label="90 % of each pixel")
    ax.plot(along, median, color=INK, lw=1.5, label="thickness")
    ax.set_xlabel(f"distance from {line[0]},{line[1]} to {line[2]},{line[3]} [pixels]")
    ax.set_ylabel("thickness [nm]")
    return style_axes(ax, grid="y", legend=True)


def profile_of(field: FieldMap, line: Line) -> tuple[NDArray[Any], ...]:
    """Distance [pixels], median, low and high [nm] along a line.

    Raises
    ------
    InputError
        If an end lies outside the picture, or both are one pixel.
    """
    height, width = field.median_nm.shape
    x1, y1, x2, y2 = line
    inside = all(0 <= x < width for x in (x1, x2)) and all(0 <= y < height for y in (y1, y2))
    length = float(np.hypot(x2 - x1, y2 - y1))
    if not inside or length == 0.0:
        raise InputError(
            f"the line {x1},{y1},{x2},{y2} must join two pixels of the picture of {width} x "
            f"{height} pixels"
        )
    along = np.linspace(0.0, length, int(length) + 1)
    rows = np.rint(np.interp(along, [0.0, length], [y1, y2])).astype(int)
    columns = np.rint(np.interp(along, [0.0, length], [x1, x2])).astype(int)
    return along, *(part[rows, columns] for part in (field.median_nm, field.low_nm, field.high_nm))
