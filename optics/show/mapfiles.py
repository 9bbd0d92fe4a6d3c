"""A thickness map as files: numbers in 32 bits, a picture with its scale, and their charts."""

from __future__ import annotations

import json
from io import BytesIO
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..jobs.fieldmap import FieldMap
from .charts import save_chart
from .files import make_folder, write_whole
from .text import span

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.console import Console

Numbers = Literal["tiff", "npz"]
Line = tuple[int, int, int, int]

_WIDEST_PICTURE, _WIDEST_CONTOURS = 1400, 300
_MOST_CONTOURS = 60
_CONTOUR_NM = 10.0


def write_map(
    field: FieldMap, folder: Path, numbers: Numbers = "tiff", line: Line | None = None
) -> list[str]:
    """Write numbers, pictures and summary into a folder; the names of the files.

    Parameters
    ----------
    field : FieldMap
    folder : Path
        Made where it does not exist.
    numbers : {"tiff", "npz"}
        A TIFF of four 32-bit pages (median, low, high, order), or a compressed NumPy archive.
    line : tuple of int, optional
        Column and row of both ends of a profile.

    Raises
    ------
    InputError
        If the kind of numbers is unknown, a file cannot be written, or the line leaves the
        picture.
    """
    if numbers not in ("tiff", "npz"):
        raise InputError(f"numbers are written as tiff or npz, not as {numbers!r}")
    if line is not None:
        profile_of(field, line)
    make_folder(folder)
    name = f"thickness.{numbers}"
    write_whole(
        folder / name,
        lambda stream: (_write_tiff if numbers == "tiff" else _write_npz)(field, stream),
    )
    charts = {"map.png": chart_map(field), "histogram.png": chart_histogram(field)}
    if line is not None:
        charts["profile.png"] = chart_profile(field, line)
    for chart_name, figure in charts.items():
        save_chart(figure, folder / chart_name)
    files = [name, *charts, "summary.json"]
    summary = json.dumps(map_plain(field, files), indent=1, ensure_ascii=False)
    write_whole(folder / "summary.json", lambda stream: stream.write(summary.encode("utf-8")))
    return files


def map_plain(field: FieldMap, files: list[str]) -> dict[str, Any]:
    """The summary of a map: keys are a contract, None where nothing fits."""
    known = field.median_nm[field.order > 0]
    quantiles = np.quantile(known, [0.05, 0.5, 0.95]).tolist() if known.size else [None] * 3
    width = field.high_nm[field.order > 0] - field.low_nm[field.order > 0]
    return {
        "median_nm": quantiles[1],
        "interval90_nm": [quantiles[0], quantiles[2]],
        "pixel_interval90_width_nm": float(np.median(width)) if known.size else None,
        "share_fitted": field.share_fitted,
        "orders": {
            str(order): float(np.mean(field.order == order))
            for order in range(1, int(field.order.max(initial=0)) + 1)
        },
        "size": list(field.median_nm.shape[::-1]),
        "films": list(field.films),
        "on": field.on,
        "notes": list(field.notes),
        "files": files,
    }


def show_map(field: FieldMap, folder: Path, files: list[str], out: Console) -> None:
    """Print the summary of a map."""
    plain = map_plain(field, files)
    if plain["median_nm"] is None:
        out.print("Nothing fits: no pixel shows a colour of the films in question.")
    else:
        low, high = plain["interval90_nm"]
        out.print(
            f"{plain['median_nm']:.0f} nm in the middle, nine tenths of the piece within "
            f"{span((low, high))}; a single pixel is known to within "
            f"{plain['pixel_interval90_width_nm']:.0f} nm (90 %)."
        )
    out.print(
        f"{100.0 * field.share_fitted:.0f} % of the picture has a thickness; the rest is left out."
    )
    for note in field.notes:
        out.print(f"Note: {note}.")
    out.print(f"Written to {folder}: {', '.join(files)}.")


def chart_map(field: FieldMap) -> Figure:
    """The piece in false colours with contour lines and a scale."""
    from matplotlib.figure import Figure

    nm, step = _shrunk(field.median_nm, _WIDEST_PICTURE)
    height, width = nm.shape
    figure = Figure(figsize=(8.0, 1.2 + 7.0 * height / width), layout="constrained")
    ax = figure.subplots()
    extent = (0, width * step, height * step, 0)
    shown = ax.imshow(nm, cmap="cividis", extent=extent, interpolation="nearest")
    if np.isfinite(nm).any():
        smooth, coarse = _shrunk(field.median_nm, _WIDEST_CONTOURS)
        low, high = np.nanmin(smooth), np.nanmax(smooth)
        levels = _CONTOUR_NM * np.arange(np.ceil(low / _CONTOUR_NM), high / _CONTOUR_NM)
        if 0 < levels.size <= _MOST_CONTOURS:
            x, y = (coarse * (np.arange(size) + 0.5) for size in smooth.shape[::-1])
            lines = ax.contour(x, y, smooth, levels, colors="white", linewidths=0.6)
            ax.clabel(lines, fontsize=6, fmt="%g")
    figure.colorbar(shown, ax=ax, label="thickness [nm]", shrink=0.8)
    ax.set_xlabel("column [pixels]")
    ax.set_ylabel("row [pixels]")
    ax.set_title(f"{', '.join(field.films)} on {field.on}; contours {_CONTOUR_NM:g} nm apart")
    return figure


def _shrunk(nm: NDArray[np.float32], widest: int) -> tuple[NDArray[np.float32], int]:
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
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.0, 3.6), layout="constrained")
    ax = figure.subplots()
    known = field.median_nm[field.order > 0]
    if known.size:
        edges = np.arange(np.floor(known.min()), np.ceil(known.max()) + 2.0)
        share = np.histogram(known, edges)[0] / known.size
        ax.stairs(100.0 * share, edges, fill=True, color="#555555")
    ax.set_xlabel("thickness [nm]")
    ax.set_ylabel("share of the piece [% per nm]")
    return figure


def chart_profile(field: FieldMap, line: Line) -> Figure:
    """Thickness along a line with its 90 % band."""
    from matplotlib.figure import Figure

    along, median, low, high = profile_of(field, line)
    figure = Figure(figsize=(7.0, 3.6), layout="constrained")
    ax = figure.subplots()
    ax.fill_between(along, low, high, color="#c9c9c9", label="90 % of each pixel")
    ax.plot(along, median, color="#222222")
    ax.set_xlabel(f"pixels from {line[0]},{line[1]} to {line[2]},{line[3]}")
    ax.set_ylabel("thickness [nm]")
    ax.legend(frameon=False, fontsize=8)
    return figure


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


def _write_tiff(field: FieldMap, stream: IO[bytes]) -> None:
    from PIL import Image

    order = np.where(field.order > 0, field.order.astype(np.float32), np.float32(np.nan))
    pages = [
        Image.fromarray(page) for page in (field.median_nm, field.low_nm, field.high_nm, order)
    ]
    buffer = BytesIO()
    pages[0].save(
        buffer, format="TIFF", save_all=True, append_images=pages[1:],
        description="thickness [nm]: median, low and high end of 90 %, interference order",
    )  # fmt: skip
    stream.write(buffer.getbuffer())


def _write_npz(field: FieldMap, stream: IO[bytes]) -> None:
    np.savez_compressed(
        stream,
        median_nm=field.median_nm,
        low_nm=field.low_nm,
        high_nm=field.high_nm,
        order=field.order,
    )
