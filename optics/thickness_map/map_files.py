"""A thickness map as files: numbers in 32 bits, a picture with its scale, charts, a summary."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import IO, TYPE_CHECKING, Literal

import numpy as np

from .._typing import SingleArray
from ..errors import InputError
from ..files.atomic import make_folder, write_atomically
from ..report.style import save_chart
from .plots import chart_histogram, chart_map, chart_profile, profile_of
from .result import FieldMap, Line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Numbers = Literal["tiff", "npz"]
_NAMES = {"thickness.tiff", "thickness.npz", "map.png", "histogram.png", "profile.png"}


def write_map(
    field: FieldMap, folder: Path, *, numbers: Numbers = "tiff", line: Line | None = None
) -> FieldMap:
    """Write numbers, pictures and summary into a folder; the map with the names of its files.

    Parameters
    ----------
    field : FieldMap
    folder : Path
        Made where it does not exist.
    numbers : {"tiff", "npz"}
        A TIFF of four 32-bit pages (median, low, high, order) or a NumPy archive, compressed.
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
    earlier = _files_of_earlier_map(folder)
    name = f"thickness.{numbers}"
    write_atomically(
        folder / name,
        lambda stream: (_write_tiff if numbers == "tiff" else _write_npz)(field, stream),
    )
    charts = charts_of(field, line)
    for chart_name, figure in charts.items():
        save_chart(figure, folder / chart_name)
    files = [name, *charts, "summary.json"]
    written = replace(field, files=tuple(files), folder=str(folder), line=line)
    summary = json.dumps(written.json_fields(), indent=1, ensure_ascii=False)
    write_atomically(folder / "summary.json", lambda stream: stream.write(summary.encode("utf-8")))
    for left in earlier - set(files):
        (folder / left).unlink(missing_ok=True)
    return written


def _files_of_earlier_map(folder: Path) -> set[str]:
    """What an earlier map left in a folder, as its summary says, so that no two maps mix."""
    try:
        told = json.loads((folder / "summary.json").read_bytes())["files"]
        return _NAMES & {name for name in told if isinstance(name, str)}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):  # no summary of ours
        return set()


def charts_of(field: FieldMap, line: Line | None) -> dict[str, Figure]:
    """The charts of a map by the names of their files."""
    charts = {"map.png": chart_map(field), "histogram.png": chart_histogram(field)}
    if line is not None:
        charts["profile.png"] = chart_profile(field, line)
    return charts


def _write_tiff(field: FieldMap, stream: IO[bytes]) -> None:
    from PIL import Image
    from PIL.TiffImagePlugin import AppendingTiffWriter

    about = "thickness [nm]: median, low and high end of 90 %, interference order"
    makers = (*(partial(getattr, field, f"{name}_nm") for name in ("median", "low", "high")),
              partial(_order_page, field))  # fmt: skip
    with AppendingTiffWriter(stream) as pages:  # a page at a time: large maps fill the memory
        for make in makers:  # LZW: what every program that opens a TIFF can read
            Image.fromarray(make()).save(
                pages, format="TIFF", description=about, compression="tiff_lzw"
            )
            pages.newFrame()


def _order_page(field: FieldMap) -> SingleArray:
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
