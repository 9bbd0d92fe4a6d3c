"""Charts of heat and oxide: colours over temperature and time, and test pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from .._typing import FloatArray
from ..errors import InputError
from ..numerics.lattice import label_regions
from ..report.format import format_count
from ..report.strips import mark_vivid, mark_vivid_field, plot_ramp
from ..report.style import INK, QUIET, SHADE, contrasting_ink, new_axes, new_figure, style_axes
from .heat_strip import heat_strip
from .result import Calibration, HeatStrip, Recipes, Residual, Tint, VoltChart

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEVELS_NM = (5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 70.0, 100.0, 150.0, 200.0, 300.0)
_FINE = 60
_FINE_S = tuple(120.0 * 120.0 ** (i / 59.0) for i in range(_FINE))
"""Temperatures and times [s] across a chart, close enough for smooth lines."""

_LEGEND_ROOM = 0.2  # of the axes' height, above the bars
_STAGGER = (0.35, 0.5)  # where along a stretch its name stands, by turns
_BARS = 30
_MOST_UPRIGHT = 7  # pieces whose labels find room beside one another
_ALONG = 240  # places across the strip of a plate
_LABEL = np.array([0.035, 0.09])  # height and width of a label, of the axes
_LEAST_CELLS = 12  # a name is written where it covers so many cells of the strip


def chart_strip(strip: HeatStrip, *marks: tuple[float, float]) -> Figure:
    """Colours over time and temperature with lines of equal oxide and the names of colours.

    Parameters
    ----------
    strip : HeatStrip
    marks : tuple of float
        Heats to mark: time [min] and temperature [°C]; those beyond the strip are left out.
    """
    figure, (ax,) = new_figure(8.5, 5.6, [1.0])
    plot_heats(strip, ax)
    if len(marks) > 1:
        ax.set_title(f"{ax.get_title()}; rings: the heats found")
    (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
    for minutes, degrees in marks:
        place = float(np.log(minutes)), degrees
        if not (left <= place[0] <= right and low <= degrees <= high):
            continue
        ax.plot(*place, marker="o", mfc="none", mec="white", ms=11, mew=3.5)
        ax.plot(*place, marker="o", mfc="none", mec=INK, ms=11, mew=1.6)
    return figure


def chart_recipes(found: Recipes) -> Figure:
    """All colours over time and temperature, with the heats found ringed.

    Raises
    ------
    InputError
        If the recipes are volts.
    """
    if found.kiln is None:
        raise InputError("there is no chart of volts")
    marks = [
        (one.time_min, one.temperature_C)
        for one in found.recipes
        if one.time_min is not None and one.temperature_C is not None
    ]
    return chart_strip(_fine_strip(found), *marks)


def chart_overview(strip: HeatStrip) -> Figure:
    """All colours over time and temperature, closer than a table shows them."""
    return chart_strip(_fine_strip(strip))


def _fine_strip(found: HeatStrip | Recipes) -> HeatStrip:
    return heat_strip(
        found.metal, kiln=found.kiln, conditions=found.conditions, rows=_FINE, times=_FINE_S
    )


def plot_heats(strip: HeatStrip, ax: Axes | None = None) -> Axes:
    """Colours of a metal over time and temperature, with lines of equal oxide."""
    from matplotlib.colors import to_rgb
    from matplotlib.patheffects import withStroke

    ax = ax or new_axes(8.5, 5.6)
    colours = np.array([[to_rgb(str(one)) for one in row] for row in strip.srgb_hex])
    minutes, degrees = strip.time_min, strip.temperature_C
    ax.pcolormesh(np.log(minutes), degrees, colours, shading="gouraud", rasterized=True)
    mark_vivid_field(ax, np.log(minutes), degrees, in_gamut=strip.in_gamut)
    levels = [nm for nm in _LEVELS_NM if strip.thickness_nm.min() < nm < strip.thickness_nm.max()]
    names = _labels(strip.name)
    if levels:
        lines = ax.contour(
            np.log(minutes), degrees, strip.thickness_nm, levels, colors=INK, linewidths=0.8
        )
        clear = _clear_places(strip, levels, [(row, column) for _, row, column in names])
        ax.clabel(lines, fmt="%g nm", fontsize=7, manual=clear)
    for name, row, column in names:
        ground = colours[row, column]
        ax.text(
            float(np.log(minutes[column])), float(degrees[row]), name, fontsize=7, ha="center",
            va="center", color=contrasting_ink(ground),
            path_effects=[withStroke(linewidth=3.0, foreground=ground)],
        )  # fmt: skip
    ticks = [m for m in (1, 2, 5, 10, 20, 30, 60, 120, 240) if minutes[0] <= m <= minutes[-1]]
    ax.set_xticks(np.log(ticks), [f"{m:g}" for m in ticks])
    ax.set_xlabel("time [min]")
    ax.set_ylabel("temperature [°C]")
    ax.set_title(f"{strip.metal_name}: typical colour of {strip.oxide}, its thickness as lines")
    return style_axes(ax, grid="")


def chart_learned(learned: Calibration) -> Figure:
    """Test pieces against the fitted law."""
    figure, (ax,) = new_figure(7.0, 4.6, [1.0])
    plot_test_pieces(learned, ax)
    return figure


def plot_test_pieces(learned: Calibration, ax: Axes | None = None) -> Axes:
    """What each piece came out as over what the law says, with the 90 % band, in per cent."""
    ax = ax or new_axes(7.0, 4.6)
    middle = np.array([one.predicted_nm for one in learned.residuals])
    band = np.array([one.interval90_nm for one in learned.residuals])
    seen = np.array([one.thickness_nm for one in learned.residuals])
    place = np.arange(middle.size)
    low, high = 100.0 * (band / middle[:, None] - 1.0).T
    ax.vlines(place, low, high, color=SHADE, lw=9, label="90 % of such pieces")
    ax.axhline(0.0, color=QUIET, lw=0.8)
    hexes = [one.srgb_hex or INK for one in learned.residuals]
    ax.scatter(
        place, 100.0 * (seen / middle - 1.0), c=hexes, s=110, marker="s", edgecolors=INK,
        linewidths=1.0, zorder=3, label="came out, in the colour seen",
    )  # fmt: skip
    apart = len(learned.residuals) > _MOST_UPRIGHT
    labels = [_piece_label(one) for one in learned.residuals]
    ax.set_ylabel("thickness against the fitted law [%]")
    ax.set_title(f"{learned.metal_name}: {format_count(learned.pieces, 'test piece')}")
    bottom, top = ax.get_ylim()
    ax.set_ylim(bottom, top + _LEGEND_ROOM * (top - bottom))
    style_axes(ax, grid="y", legend=True)
    turned: dict[str, Any] = {"rotation": 90} if apart else {}
    ax.set_xticks(place, labels, fontsize=7 if apart else 8, **turned)
    return ax


def _piece_label(piece: Residual) -> str:
    """Name, heat and outcome, a line each; the dot says a colour that was given in numbers."""
    heat = piece.heat.replace(" for ", "\n", 1)
    seen = "" if piece.outcome.casefold() == piece.srgb_hex else f"\n{piece.outcome}"
    return f"{piece.id}\n{heat}{seen}"


def chart_volts(chart: VoltChart) -> Figure:
    """Colours over the volts of a bath."""
    figure, (ax,) = new_figure(8.5, 4.2, [1.0])
    plot_volts(chart, ax)
    return figure


def plot_volts(chart: VoltChart, ax: Axes | None = None) -> Axes:
    """Typical colour as the ground over the volts, the thickness with its 90 % band as lines."""
    from matplotlib.colors import to_rgb

    ax = ax or new_axes(8.5, 4.2)
    volts, edges = chart.volts, _edges(chart.volts)
    top = 1.05 * float(chart.interval90_nm.max())
    for left, right, hexed in zip(edges, edges[1:], chart.srgb_hex, strict=False):
        ax.axvspan(left, right, color=str(hexed), lw=0.0)
    for line, width, style in (
        (chart.thickness_nm, 2.0, "-"), (chart.interval90_nm[:, 0], 1.0, "--"),
        (chart.interval90_nm[:, 1], 1.0, "--"),
    ):  # fmt: skip
        ax.plot(volts, line, color="white", lw=width + 1.6, ls=style)
        ax.plot(volts, line, color=INK, lw=width, ls=style)
    changes = np.flatnonzero(chart.name[1:] != chart.name[:-1]) + 1
    for cells in np.split(np.arange(volts.size), changes):
        middle = int(cells[cells.size // 2])
        ink = contrasting_ink(np.array(to_rgb(str(chart.srgb_hex[middle]))))
        above = float(chart.interval90_nm[cells].mean()) < 0.5 * top  # where the lines are not
        ax.text(
            float(volts[cells].mean()), 0.98 * top if above else 0.02 * top,
            str(chart.name[middle]), rotation=90, fontsize=7, ha="center",
            va="top" if above else "bottom", color=ink,
        )  # fmt: skip
    mark_vivid(ax, edges, chart.in_gamut)
    ax.set_xlim(edges[0], edges[-1])
    ax.set_ylim(0.0, top)
    ax.set_xlabel("volts [V]")
    ax.set_ylabel(f"thickness of {chart.oxide} [nm]")
    ax.set_title(f"{chart.metal_name}, anodised: typical colour; 90 % between the dashed lines")
    return style_axes(ax, grid="")


def chart_tint(tint: Tint) -> Figure:
    """Where the thickness of a piece so treated may come out."""
    figure, (ax,) = new_figure(7.0, 3.8, [1.0])
    plot_tint(tint, ax)
    return figure


def plot_tint(tint: Tint, ax: Axes | None = None) -> Axes:
    """Histogram of the thickness of such pieces in the colours they have, its middle and 90 %
    interval marked."""
    ax = ax or new_axes(7.0, 3.8)
    count, edges = np.histogram(tint.drawn_nm, bins=_BARS)
    middles = 0.5 * (edges[1:] + edges[:-1])
    colours = SHADE if tint.palette is None else tint.palette.name_colours(middles)[0].tolist()
    share = 100.0 * count / tint.drawn_nm.size
    ax.bar(middles, share, width=np.diff(edges), color=colours, edgecolor=QUIET, lw=0.6)
    for edge in tint.interval90_nm:
        ax.axvline(edge, color=INK, ls="--", lw=1.0)
    ax.axvline(tint.thickness_nm, color=INK, lw=6.0)
    if tint.srgb_hex is not None:
        ax.axvline(tint.thickness_nm, color=tint.srgb_hex, lw=4.0)
    ax.set_xlabel(f"thickness of {tint.oxide} [nm]")
    ax.set_ylabel("share of pieces [%]")
    ax.set_title(
        f"{tint.metal_name}, {tint.treatment}: middle {tint.thickness_nm:.0f} nm, 90 % between "
        f"the dashed lines"
    )
    return style_axes(ax, grid="y")


def chart_plate(tint: Tint) -> Figure:
    """Colours along a piece that is hotter at one end, above the thickness there."""
    figure, (above, below) = new_figure(8.0, 4.6, [1.0, 2.0])
    plot_plate_colours(tint, above)
    plot_plate(tint, below)
    return figure


def plot_plate_colours(tint: Tint, ax: Axes | None = None) -> Axes:
    """Colour of the middle thickness at each place of a plate, between those computed by the
    logarithm of their thickness.

    Raises
    ------
    InputError
        If the answer has no plate, or its oxide no colours.
    """
    _, place = _along(tint)
    if tint.palette is None:
        raise InputError(f"the optical data of {tint.oxide} are too poor for colours")
    fine = np.linspace(place[0], place[-1], _ALONG)
    log_nm = np.interp(fine, place, np.log([one.thickness_nm for one in tint.plate]))
    film_nm, palette = np.exp(log_nm), tint.palette
    as_is = palette.shows_as_is(film_nm)
    ax = plot_ramp(fine, *palette.name_colours(film_nm), in_gamut=as_is, ax=ax)
    first, last = (one.temperature_C for one in (tint.plate[0], tint.plate[-1]))
    ax.set_title(f"{tint.metal_name}, {first:.0f} °C at the left to {last:.0f} °C at the right")
    return ax


def plot_plate(tint: Tint, ax: Axes | None = None) -> Axes:
    """Thickness along a plate with its 90 % band.

    Raises
    ------
    InputError
        If the answer has no plate.
    """
    label, place = _along(tint)
    ax = ax or new_axes(8.0, 3.4)
    low, high = np.transpose([one.interval90_nm for one in tint.plate])
    ax.fill_between(place, low, high, color=SHADE, lw=0.0, label="90 % of such pieces")
    ax.plot(place, [one.thickness_nm for one in tint.plate], color=INK, label="middle")
    ax.set_xlabel(label)
    ax.set_ylabel(f"thickness of {tint.oxide} [nm]")
    ax.set_xlim(place[0], place[-1])
    return style_axes(ax, grid="y", legend=True)


def _along(tint: Tint) -> tuple[str, FloatArray]:
    """The axis along a plate: its label and the places computed."""
    if not tint.plate:
        raise InputError("there is no plate in this answer: ask for a range of temperatures")
    if tint.plate[0].position_mm is None:
        return "place along the piece [%]", np.array([100.0 * one.position for one in tint.plate])
    return "place along the piece [mm]", np.array([one.position_mm for one in tint.plate])


def _edges(points: FloatArray) -> FloatArray:
    middles = 0.5 * (points[1:] + points[:-1])
    ends = 2.0 * points[:1] - middles[:1], 2.0 * points[-1:] - middles[-1:]
    return np.concatenate([ends[0], middles, ends[1]])


def _clear_places(
    strip: HeatStrip, levels: list[float], taken: list[tuple[int, int]]
) -> list[tuple[float, float]]:
    """A place on each line of equal oxide, farthest from the cells that are taken and from the
    labels before it, counted in widths and heights of a label."""
    rows, columns = strip.name.shape
    size = _LABEL * np.array([rows, columns])
    held = [np.array(one, dtype=float) for one in taken]
    found = []
    for level in levels:
        row = np.array([np.interp(level, nm, np.arange(rows)) for nm in strip.thickness_nm.T])
        inside = np.flatnonzero((row > 1.0) & (row < rows - 2.0))
        inside = inside[(inside > 1) & (inside < columns - 2)]
        if not inside.size:
            continue
        places = np.column_stack([row[inside], inside])
        if held:
            apart = np.abs(places[:, None] - np.array(held)) / size
            best = places[int(apart.max(axis=-1).min(axis=1).argmax())]
        else:
            best = places[len(places) // 2]
        held.append(best)
        degrees = float(np.interp(best[0], np.arange(rows), strip.temperature_C))
        found.append((float(np.log(strip.time_min[int(best[1])])), degrees))
    return found


def _labels(names: NDArray[np.str_]) -> list[tuple[str, int, int]]:
    """Each name once for every connected stretch of cells, neighbours not above each other."""
    stretches = []
    for name in np.unique(names):
        parts, count = label_regions(names == name)
        stretches += [(str(name), np.argwhere(parts == part)) for part in range(1, count + 1)]
    stretches = [one for one in stretches if len(one[1]) >= _LEAST_CELLS]
    stretches.sort(key=lambda one: float(np.median(one[1][:, 0])))
    found = []
    for i, (name, cells) in enumerate(stretches):
        column = int(np.quantile(cells[:, 1], _STAGGER[i % 2], method="nearest"))
        rows = np.sort(cells[cells[:, 1] == column, 0])
        found.append((name, int(rows[rows.size // 2]), column))
    return found
