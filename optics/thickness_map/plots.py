"""Charts of a thickness map: the piece in false colours, its histogram, a line across it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from .._typing import FloatArray, SingleArray
from ..colour.colour import xyz_to_colour
from ..colour.conditions import ViewingConditions
from ..errors import InputError
from ..inference.simulate import SampledFilms, film_xyz
from ..numerics.lattice import blur_field
from ..report.style import INK, MAP_COLOURS, QUIET, SHADE, new_axes, new_figure, style_axes
from .result import FieldMap, Line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WIDEST_PICTURE, _WIDEST_CONTOURS = 1400, 300
_MOST_CONTOURS = 12
_CONTOUR_NM = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
_ASIDE = 0.25  # of the span of nine tenths of the piece, shown on either side of it
_SMOOTH = 1.5  # pixels of what contours are drawn over; noise would break them into islands
# Share of the piece, thinner or thicker than all the rest, that no histogram is widened for.
_ODD = 0.003
_ROOM = 0.04  # of the piece's sides, about it
_APART = 0.12  # of the picture's longer side, between the figures on contours


def chart_map(field: FieldMap) -> Figure:
    """The piece in false colours with contour lines and a scale."""
    ax = plot_field(field)
    return ax.get_figure()  # type: ignore[return-value]  # made here


def plot_field(field: FieldMap, ax: Axes | None = None) -> Axes:
    """Thickness of every pixel in false colours, with lines of equal thickness."""
    nm, step = _shrink(field.median_nm, _WIDEST_PICTURE)
    height, width = nm.shape
    left, right, top, bottom = shown_part(field.median_nm)
    if ax is None:  # of a width of 8 the scale takes two
        ax = new_axes(8.0, 1.2 + 6.0 * min(max((bottom - top) / (right - left), 0.3), 1.3))
    extent = (0, width * step, height * step, 0)
    apart_nm, ends = 0.0, shown_ends(nm)
    shown = ax.imshow(
        nm, cmap=MAP_COLOURS, extent=extent, interpolation="nearest", vmin=ends[0], vmax=ends[1]
    )
    ax.set(xlim=(left, right), ylim=(bottom, top))
    if np.isfinite(nm).any():
        smooth, coarse = _shrink(field.median_nm, _WIDEST_CONTOURS)
        apart_nm = _draw_contours(ax, _smoothed(smooth), coarse, ends)
    if ax.figure is not None:
        ax.figure.colorbar(shown, ax=ax, label="thickness [nm]", shrink=0.8, extend="both")
    ax.set_xlabel("column [pixels]")
    ax.set_ylabel("row [pixels]")
    lines = f"; lines {apart_nm:g} nm apart" if apart_nm else ""
    ax.set_title(f"{', '.join(field.films)} on {field.on}{lines}")
    return style_axes(ax, grid="")


def shown_part(nm: SingleArray) -> tuple[float, float, float, float]:
    """Left, right, top and bottom [pixels] of what has a thickness, with some room about it."""
    known = np.isfinite(nm)
    down, along = (np.flatnonzero(known.any(axis=axis)) for axis in (1, 0))
    height, width = known.shape
    if not down.size:
        return 0.0, float(width), 0.0, float(height)
    room = 2.0 + _ROOM * max(np.ptp(along), np.ptp(down))
    left, right = max(along[0] - room, 0.0), min(along[-1] + room, float(width))
    return left, right, max(down[0] - room, 0.0), min(down[-1] + room, float(height))


def shown_ends(nm: SingleArray) -> tuple[float, float]:
    """Ends of the colours: nine tenths of the piece and a quarter of that span on either side,
    within the middle 96 %; so marks and glints do not flatten what the piece itself shows."""
    known = nm[np.isfinite(nm)]
    if not known.size:
        return 0.0, 1.0
    least, low, high, most = np.quantile(known, [0.02, 0.05, 0.95, 0.98]).tolist()
    aside = _ASIDE * (high - low)
    low, high = max(least, low - aside), min(most, high + aside)
    return low, max(high, low + 1.0)


def _draw_contours(ax: Axes, nm: FloatArray, step: int, ends: tuple[float, float]) -> float:
    """Lines of equal thickness with their figures, and how far apart they are [nm]; 0 if none."""
    low, high = ends
    wide = (one for one in _CONTOUR_NM if (high - low) / one <= _MOST_CONTOURS)
    apart_nm = next(wide, _CONTOUR_NM[-1])
    levels = apart_nm * np.arange(np.ceil(low / apart_nm), high / apart_nm)
    if not 0 < levels.size <= _MOST_CONTOURS + 1:
        return 0.0
    x, y = (step * (np.arange(size) + 0.5) for size in nm.shape[::-1])
    inks = ["white" if level < 0.5 * (low + high) else INK for level in levels]
    lines = ax.contour(x, y, nm, levels, colors=inks, linewidths=0.8)
    segments = [  # which up to matplotlib 3.10 it gives by itself, with a warning
        np.split(path.vertices, np.flatnonzero(path.codes == path.MOVETO)[1:])
        for path in lines.get_paths()
    ]
    places = _label_places(segments, _APART * step * max(nm.shape))
    if places:
        ax.clabel(lines, fontsize=8, fmt="%g", manual=places)
    return apart_nm


def _label_places(
    levels: Sequence[Sequence[FloatArray]], apart: float
) -> list[tuple[float, float]]:
    """A place on the longest line of each level, none nearer to another than ``apart``."""
    placed: list[tuple[float, float]] = []
    for segments in levels:
        longest = max(segments, key=_length, default=np.empty((0, 2)))
        if len(longest) < 2 or _length(longest) < apart:
            continue
        for share in (0.5, 0.3, 0.7, 0.15, 0.85):
            x, y = longest[int(share * (len(longest) - 1))]
            if all(np.hypot(x - a, y - b) >= apart for a, b in placed):
                placed.append((float(x), float(y)))
                break
    return placed


def _length(line: FloatArray) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def _smoothed(nm: SingleArray) -> FloatArray:
    """A mean over neighbours that are known, unknown where the pixel itself is."""
    known = np.isfinite(nm)
    weight = blur_field(known.astype(float), _SMOOTH)
    total = blur_field(np.where(known, nm, 0.0).astype(float), _SMOOTH)
    return np.where(known, total / np.maximum(weight, np.finfo(float).tiny), np.nan)


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
    known, beyond = field.median_nm[field.order > 0], 0.0
    if known.size:
        edges = np.arange(np.floor(known.min()), np.ceil(known.max()) + 2.0)
        share = np.histogram(known, edges)[0] / known.size
        within = np.minimum(np.cumsum(share), np.cumsum(share[::-1])[::-1]) > _ODD
        first, last = np.flatnonzero(within)[[0, -1]]
        share, from_nm = share[first : last + 1], edges[first : last + 1]
        _draw_bars(ax, from_nm, 100.0 * share, _film_colours(field, from_nm))
        beyond = 100.0 * (1.0 - share.sum())
    left_out = f"; {beyond:.2g} % of the piece lies beyond" if beyond > 0.005 else ""
    ax.set_xlabel(f"thickness [nm]{left_out}")
    ax.set_ylabel("share of the piece [% per nm]")
    ax.set_title(f"{', '.join(field.films)} on {field.on}: how much of it is how thick")
    return style_axes(ax, grid="y")


def _draw_bars(ax: Axes, from_nm: FloatArray, height: FloatArray, colours: list[str]) -> None:
    """Bars a nanometre wide, as one thing to draw: each by itself takes ten times as long."""
    from matplotlib.collections import PolyCollection

    foot = np.zeros(height.size)
    x = np.stack([from_nm, from_nm, from_nm + 1.0, from_nm + 1.0], axis=1)
    corners = np.stack([x, np.stack([foot, height, height, foot], axis=1)], axis=2)
    bars = PolyCollection(
        list(corners), facecolors=colours, edgecolors=QUIET, linewidths=0.4, joinstyle="miter"
    )
    bars.sticky_edges.y.append(0.0)
    ax.add_collection(bars)
    ax.autoscale_view()


def _film_colours(field: FieldMap, from_nm: FloatArray) -> list[str]:
    """What the likeliest film shows in the middle of each nanometre, by daylight."""
    count = from_nm.size
    films = SampledFilms(np.zeros(count, dtype=np.intp), from_nm + 0.5, np.zeros(count))
    xyz = film_xyz(films, field.pairs, np.asarray(0.0), viewing=ViewingConditions())
    return [str(one) for one in np.asarray(xyz_to_colour(xyz).srgb_hex)]


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
