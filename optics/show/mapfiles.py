"""A thickness map as files: numbers in 32 bits, a picture with its scale, charts, a summary."""

from __future__ import annotations

import json
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..files.atomic import make_folder, write_atomically
from ..report.style import save_chart
from ..thickness_map.thickness_map import FieldMap
from .charts_map import Line, chart_histogram, chart_map, chart_profile, profile_of
from .text import format_interval

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.console import Console

Numbers = Literal["tiff", "npz"]


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
    write_atomically(
        folder / name,
        lambda stream: (_write_tiff if numbers == "tiff" else _write_npz)(field, stream),
    )
    charts = charts_of(field, line)
    for chart_name, figure in charts.items():
        save_chart(figure, folder / chart_name)
    files = [name, *charts, "summary.json"]
    summary = json.dumps(map_plain(field, files), indent=1, ensure_ascii=False)
    write_atomically(folder / "summary.json", lambda stream: stream.write(summary.encode("utf-8")))
    return files


def charts_of(field: FieldMap, line: Line | None) -> dict[str, Figure]:
    """The charts of a map by the names of their files."""
    charts = {"map.png": chart_map(field), "histogram.png": chart_histogram(field)}
    if line is not None:
        charts["profile.png"] = chart_profile(field, line)
    return charts


def map_plain(field: FieldMap, files: list[str]) -> dict[str, Any]:
    """The summary of a map: keys are a contract, None where nothing fits."""
    fitted = field.order > 0
    quantiles, width = [None] * 3, None
    if fitted.any():  # what is copied out of the picture is let go at once
        quantiles = np.quantile(field.median_nm[fitted], [0.05, 0.5, 0.95]).tolist()
        width = float(np.median((field.high_nm - field.low_nm)[fitted], overwrite_input=True))
    return {
        "median_nm": quantiles[1],
        "interval90_nm": [quantiles[0], quantiles[2]],
        "pixel_interval90_width_nm": width,
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
            f"{format_interval((low, high))}; a single pixel is known to within "
            f"{plain['pixel_interval90_width_nm']:.0f} nm (90 %)."
        )
    out.print(
        f"{100.0 * field.share_fitted:.0f} % of the picture has a thickness; the rest is left out."
    )
    for note in field.notes:
        out.print(f"Note: {note}.")
    out.print(f"Written to {folder}: {', '.join(files)}.")


def _write_tiff(field: FieldMap, stream: IO[bytes]) -> None:
    from PIL import Image
    from PIL.TiffImagePlugin import AppendingTiffWriter

    about = "thickness [nm]: median, low and high end of 90 %, interference order"
    with AppendingTiffWriter(stream) as pages:  # a page at a time: large maps fill the memory
        for page in (field.median_nm, field.low_nm, field.high_nm, _order_page(field)):
            Image.fromarray(page).save(pages, format="TIFF", description=about)
            pages.newFrame()


def _order_page(field: FieldMap) -> NDArray[np.float32]:
    page = field.order.astype(np.float32)
    page[field.order == 0] = np.nan
    return page


def _write_npz(field: FieldMap, stream: IO[bytes]) -> None:
    np.savez_compressed(
        stream,
        median_nm=field.median_nm,
        low_nm=field.low_nm,
        high_nm=field.high_nm,
        order=field.order,
    )
