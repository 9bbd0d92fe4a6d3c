"""A thermocouple's log as a heat: time and temperature columns whose heads name their units."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from .._typing import FloatArray
from ..errors import LimitError, TableError, shorten
from ..files.columns import Line, find_mark, name_file, read_text, split_cells
from .schedule import HeatSchedule

MOST_ROWS = 20_000
LONGEST_GAP = 20.0
"""A gap is a step this many times the usual one in which the temperature moved as well."""
_GAP_RISE_C = 15.0

_TEMPERATURE = re.compile(
    r"(?:temp(?:erature)?|t)?[ _]*[(\[]?\s*(?:deg(?:rees)?|°)?[ _]*([cfk])\s*[)\]]?"
)
_TIME = re.compile(r"(?:time|t|elapsed)?[ _]*[(\[]?\s*(s|sec|seconds|min|minutes|h|hours)\s*[)\]]?")
_SECONDS = {"s": 1.0, "m": 60.0, "h": 3600.0}  # by the first letter of the unit


def read_log(path: str | Path) -> HeatSchedule:
    """Read a log of time and temperature.

    Parameters
    ----------
    path : str or Path
        A CSV whose first line names a time column with its unit (``time_s``, ``time [min]``,
        ``hours``) and a temperature column with its unit (``temperature_C``, ``temp (°F)``, ``K``).
        Further columns are left aside. Times need not start at 0.

    Returns
    -------
    HeatSchedule

    Raises
    ------
    TableError
        If a column or unit is missing, a cell is no finite number, the times do not rise, or the
        log has a gap.
    LimitError
        Beyond 20,000 rows.
    """
    name = name_file(Path(path))
    lines = read_text(Path(path)).splitlines()
    kept = [(n, line) for n, line in enumerate(lines, 1) if line.strip() and line[0] != "#"]
    if len(kept) < 3:
        raise TableError(f"{name} needs a line of column names and two rows or more")
    if len(kept) - 1 > MOST_ROWS:
        raise LimitError(f"{name} has {len(kept) - 1} rows; {MOST_ROWS} is the most, thin it out")
    head, *rows = kept
    mark = find_mark(head[1])
    names = [cell.casefold() for cell in next(split_cells([head], mark, name)).cells]
    time_at, to_s = _time_column(names, name)
    heat_at, unit = _temperature_column(names, name)
    lines_of_cells = list(split_cells(rows, mark, name))
    _check_widths(lines_of_cells, len(names), name)
    numbers = np.array([_pair(line, (time_at, heat_at), name) for line in lines_of_cells])
    time_s, temperature_C = numbers[:, 0] * to_s, _celsius(numbers[:, 1], unit)
    _check_times(time_s, temperature_C, [n for n, _ in rows], name)
    time_s = time_s - time_s[0]
    return HeatSchedule(
        time_s, temperature_C, f"the log {name}, up to {temperature_C.max():.0f} °C"
    )


def _check_widths(lines: Sequence[Line], wanted: int, where: str) -> None:
    """Refuse lines with more cells than there are names: a decimal comma moves every column."""
    for line in lines:
        if any(line.cells[wanted:]):
            raise TableError(
                f"{where} line {line.number} has {len(line.cells)} cells, the first line names "
                f"{wanted} columns; with decimal commas, separate the columns by semicolons"
            )


def _time_column(names: list[str], where: str) -> tuple[int, float]:
    for i, name in enumerate(names):
        if match := _TIME.fullmatch(name):
            return i, _SECONDS[match[1][0]]
    raise TableError(
        f"{where} has no time column with its unit; name one time_s, time_min or time_h"
    )


def _temperature_column(names: list[str], where: str) -> tuple[int, str]:
    found = [(i, match[1]) for i, name in enumerate(names)
             if (match := _TEMPERATURE.fullmatch(name))]  # fmt: skip
    if len(found) == 1:
        return found[0]
    if found:
        raise TableError(
            f"{where} has the temperature more than once, as "
            f"{' and '.join(names[i] for i, _ in found)}; keep the one of the piece"
        )
    raise TableError(
        f"{where} has no temperature column with its unit; name one temperature_C, temperature_F "
        f"or temperature_K"
    )


def _pair(line: Line, places: tuple[int, int], where: str) -> list[float]:
    values = []
    for place in places:
        cell = line.cells[place] if place < len(line.cells) else ""
        try:
            value = float(cell)
        except ValueError:
            value = np.nan
        if not np.isfinite(value):
            raise TableError(
                f"{where} line {line.number}: expected a finite number, got {shorten(cell)!r}; "
                f"take the line out or mend it"
            )
        values.append(value)
    return values


def _celsius(values: FloatArray, unit: str) -> FloatArray:
    if unit == "k":
        return values - 273.15
    return (values - 32.0) / 1.8 if unit == "f" else values


def _check_times(
    time_s: FloatArray, temperature_C: FloatArray, lines: list[int], where: str
) -> None:
    step = np.diff(time_s)
    if np.any(step <= 0.0):
        i = int(np.argmax(step <= 0.0)) + 1
        raise TableError(f"{where} line {lines[i]}: the time does not rise above the line before")
    wide = (step > LONGEST_GAP * np.median(step)) & (np.abs(np.diff(temperature_C)) > _GAP_RISE_C)
    if step.size > 3 and wide.any():
        i = int(np.argmax(wide))
        raise TableError(
            f"{where} has a gap of {step[i] / 60.0:.3g} min after line {lines[i]}, over which the "
            f"temperature moved by {abs(temperature_C[i + 1] - temperature_C[i]):.0f} °C; log it "
            f"without gaps"
        )
