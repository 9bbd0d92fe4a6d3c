"""A thermocouple's log as a heat: columns of time and temperature, as loggers write them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, LimitError, TableError, shorten
from ..files.columns import Line, name_file, read_text, split_cells
from ..units import format_duration
from .clock_times import is_clock_time, is_date, read_clock_times
from .schedule import HeatSchedule

MOST_ROWS = 20_000
LONGEST_GAP = 20.0
"""A gap is a step this many times the usual one in which the temperature moved as well."""
_GAP_RISE_C = 15.0
_ALONE_C = 50.0  # from both its neighbours: no piece of metal is that quick twice

_TEMPERATURE = re.compile(
    r"(?:temp(?:erature)?|t)?[ _]*[(\[]?\s*(?:deg(?:rees)?|°)?[ _]*([cfk])\s*[)\]]?"
    r"|.*(?:°\s*|[(\[]\s*(?:deg\s*)?)([cfk])\s*[)\]]?"
)
_TIME = re.compile(r"(?:time|t|elapsed)?[ _]*[(\[]?\s*(s|sec|seconds|min|minutes|h|hours)\s*[)\]]?")
_SECONDS = {"s": 1.0, "m": 60.0, "h": 3600.0}  # by the first letter of the unit
_NUMBER = re.compile(r"([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(?:°|deg)?\s*([CFKcfk])?")
_WAY_OUT = "or say what its columns are, as in `columns` 'time_min, temperature_C'"


def read_log(path: str | Path, columns: str | None = None) -> HeatSchedule:
    """Read a log of time and temperature.

    Parameters
    ----------
    path : str or Path
        A text file whose columns semicolons, tabs, commas or spaces separate, with decimal points
        or commas. Times are numbers in a column that names their unit (``time_s``,
        ``time [min]``, ``hours``) or clock times (``14:05:07``, with or without a date); the
        temperature stands in a column that names its unit (``temperature_C``, ``temp (°F)``,
        ``K``). Lines above the column names are left aside, and further columns, which a note
        says. Times need not start at 0.
    columns : str, optional
        Names of the columns, separated by commas, in place of those of the file, as in
        ``time_min, temperature_C``; ``-`` for a column that is of no use.

    Returns
    -------
    HeatSchedule
        With a note where something was taken for granted: a log of clock times and one column of
        numbers that names no unit has its temperatures taken as °C.

    Raises
    ------
    TableError
        If a column or unit is missing, a cell is no finite number, the times do not rise, or the
        log has a gap.
    LimitError
        Beyond 20,000 rows.
    """
    name = name_file(Path(path))
    table = _read_table(Path(path), columns, name)
    times, heats = _times(table), _temperatures(table)
    time_s, temperature_C = times.time_s, heats.temperature_C
    notes = (*heats.notes, *_say_taken(table, (*times.columns, heats.column)))
    numbers = [line.number for line in table.rows]
    if times.of_clock:
        time_s, temperature_C, numbers, averaged = _join_same_times(time_s, temperature_C, numbers)
        notes = (*notes, *averaged)
    _check_times(time_s, temperature_C, numbers, name)
    notes = (*notes, *_say_alone(temperature_C, numbers, name))
    time_s = time_s - time_s[0]
    long = f" over {format_duration(float(time_s[-1]))}" if times.of_clock else ""
    words = f"the log {name}{long}, up to {temperature_C.max():.0f} °C"
    return HeatSchedule(time_s, temperature_C, words, notes)


@dataclass(frozen=True)
class _LogColumns:
    """Column names, none where the file has none, and the rows below them."""

    where: str
    names: list[str]
    rows: list[Line]

    def column(self, at: int) -> list[str]:
        """The cells of a column, empty where a row is short."""
        return [row.cells[at] if at < len(row.cells) else "" for row in self.rows]

    @property
    def clocks(self) -> list[int]:
        """Columns of clock times, by the first row."""
        return [i for i, cell in enumerate(self.rows[0].cells) if is_clock_time(cell)]


@dataclass(frozen=True)
class _Times:
    """Seconds (n,), whether a clock gave them, and the columns they stand in."""

    time_s: FloatArray
    of_clock: bool
    columns: tuple[int, ...]


@dataclass(frozen=True)
class _Temperatures:
    """Temperatures (n,), the column they stand in, and what was taken for granted."""

    temperature_C: FloatArray
    column: int
    notes: tuple[str, ...] = ()


def _read_table(path: Path, columns: str | None, where: str) -> _LogColumns:
    lines = read_text(path).splitlines()
    kept = [(n, line) for n, line in enumerate(lines, 1) if line.strip() and line[0] != "#"]
    if len(kept) < 2:
        raise TableError(f"{where} needs a line of column names and two rows or more")
    if len(kept) - 1 > MOST_ROWS:
        raise LimitError(f"{where} has {len(kept) - 1} rows; {MOST_ROWS} is the most, thin it out")
    last = kept[-1][1]
    mark = next((one for one in ";\t," if one in last), None)
    first = next((i for i, (_, line) in enumerate(kept) if _holds_values(line, mark)), len(kept))
    if len(kept) - first < 2:
        raise TableError(f"{where} needs a line of column names and two rows or more")
    rows = list(split_cells(kept[first:], mark, where))
    if columns is not None:
        names = [one.strip().casefold() for one in columns.split(",")]
    elif first == 0:
        names = []
    else:
        names = [one.casefold() for one in next(split_cells([kept[first - 1]], mark, where)).cells]
    if names:
        _check_widths(rows, len(names), where)
    return _LogColumns(where, names, rows)


def _holds_values(line: str, mark: str | None) -> bool:
    """Whether a line has a time and a number, or two numbers, and no longer names columns."""
    cells = [one.strip().strip('"') for one in (line.split(mark) if mark else line.split())]
    return sum(bool(_NUMBER.fullmatch(one)) or is_clock_time(one) for one in cells) >= 2


def _check_widths(lines: Sequence[Line], wanted: int, where: str) -> None:
    """Refuse lines with more cells than there are names: a decimal comma moves every column."""
    for line in lines:
        if any(line.cells[wanted:]):
            raise TableError(
                f"{where} line {line.number} has {len(line.cells)} cells, the first line names "
                f"{wanted} columns; with decimal commas, separate the columns by semicolons"
            )


def _say_taken(table: _LogColumns, taken: Sequence[int]) -> tuple[str, ...]:
    """Which columns count, where a named one is left aside."""
    left = {i for i, name in enumerate(table.names) if name not in ("", "-")} - {*taken}
    if not left:
        return ()
    names = " and ".join(repr(shorten(table.names[i])) for i in taken if i < len(table.names))
    return (f"of the columns of {table.where}, {names} are taken",)


def _times(table: _LogColumns) -> _Times:
    if clocks := table.clocks:
        at = clocks[0]
        cells = table.column(at)
        dated = at > 0 and is_date(table.rows[0].cells[at - 1])
        taken = (at - 1, at) if dated else (at,)
        if dated:
            days = table.column(at - 1)
            cells = [f"{day} {clock}" for day, clock in zip(days, cells, strict=True)]
        head = table.names[at] if at < len(table.names) else ""
        return _Times(_read_clocks(cells, head, table), True, taken)
    found = [(i, m[1]) for i, name in enumerate(table.names) if (m := _TIME.fullmatch(name))]
    if len(found) == 1:
        at, unit = found[0]
        return _Times(_numbers(table, at)[0] * _SECONDS[unit[0]], False, (at,))
    if found:
        raise TableError(
            f"{table.where} has the time more than once, as "
            f"{' and '.join(table.names[i] for i, _ in found)}; keep one, {_WAY_OUT}",
            parameter="columns",
        )
    if not table.names:
        raise TableError(
            f"{table.where} has no line of column names; add one such as time_min,temperature_C, "
            f"{_WAY_OUT}", parameter="columns",
        )  # fmt: skip
    raise TableError(
        f"{table.where} has no time column with its unit; name one time_s, time_min or time_h, "
        f"{_WAY_OUT}", parameter="columns",
    )  # fmt: skip


def _read_clocks(cells: list[str], head: str, table: _LogColumns) -> FloatArray:
    for cell, row in zip(cells, table.rows, strict=True):
        if not is_clock_time(cell):
            raise TableError(
                f"{table.where} line {row.number}: expected a time such as 14:05:07, got "
                f"{shorten(cell)!r}; take the line out or mend it"
            )
    try:
        return read_clock_times(cells, head)
    except InputError as error:
        raise TableError(f"{table.where}: {error}") from error


def _temperatures(table: _LogColumns) -> _Temperatures:
    held = [i for i, cell in enumerate(table.rows[0].cells) if _NUMBER.fullmatch(cell)]
    named = [one for one in table.names if _TEMPERATURE.fullmatch(one)]
    if table.names and (named or len(held) != 1 or not table.clocks):
        at, unit = _temperature_column(table)
        values, _ = _numbers(table, at)
        return _Temperatures(_celsius(values, unit), at)
    if len(held) != 1:
        raise TableError(
            f"{table.where} has no line of column names and {len(held)} columns of numbers; add "
            f"names, {_WAY_OUT}", parameter="columns",
        )  # fmt: skip
    values, unit = _numbers(table, held[0])
    if unit:
        return _Temperatures(_celsius(values, unit), held[0])
    said = f"{table.where} names no unit; its temperatures are taken as °C"
    return _Temperatures(values, held[0], (said,))


def _temperature_column(table: _LogColumns) -> tuple[int, str]:
    found = [(i, match[1] or match[2]) for i, name in enumerate(table.names)
             if (match := _TEMPERATURE.fullmatch(name))]  # fmt: skip
    if len(found) == 1:
        return found[0]
    if found:
        raise TableError(
            f"{table.where} has the temperature more than once, as "
            f"{' and '.join(table.names[i] for i, _ in found)}; keep the one of the piece, "
            f"{_WAY_OUT}", parameter="columns",
        )  # fmt: skip
    raise TableError(
        f"{table.where} has no temperature column with its unit; name one temperature_C, "
        f"temperature_F or temperature_K, {_WAY_OUT}", parameter="columns",
    )  # fmt: skip


def _numbers(table: _LogColumns, at: int) -> tuple[FloatArray, str]:
    """The numbers of a column, and the unit that all of them carry."""
    values, units = [], set()
    for cell, line in zip(table.column(at), table.rows, strict=True):
        match = _NUMBER.fullmatch(cell)
        if match is None:
            raise TableError(
                f"{table.where} line {line.number}: expected a finite number, got "
                f"{shorten(cell)!r}; take the line out or mend it"
            )
        values.append(float(match[1].replace(",", ".")))
        units.add((match[2] or "").casefold())
    if not np.isfinite(values).all():
        raise TableError(f"{table.where} holds a number that is too large to calculate with")
    return np.array(values), units.pop() if len(units) == 1 else ""


def _celsius(values: FloatArray, unit: str) -> FloatArray:
    if unit == "k":
        return values - 273.15
    return (values - 32.0) / 1.8 if unit == "f" else values


def _join_same_times(
    time_s: FloatArray, temperature_C: FloatArray, numbers: list[int]
) -> tuple[FloatArray, FloatArray, list[int], tuple[str, ...]]:
    """Rows that a clock of whole minutes or seconds gives one time, as their mean."""
    if time_s.size < 2 or np.any(np.diff(time_s) < 0.0):
        return time_s, temperature_C, numbers, ()
    each, first, row, count = np.unique(
        time_s, return_index=True, return_inverse=True, return_counts=True
    )
    if each.size == time_s.size:
        return time_s, temperature_C, numbers, ()
    mean = np.bincount(row, temperature_C) / count
    said = f"{time_s.size - each.size} rows have the time of the row before; such rows are averaged"
    return each, np.asarray(mean), [numbers[i] for i in first.tolist()], (said,)


def _say_alone(temperature_C: FloatArray, lines: list[int], where: str) -> tuple[str, ...]:
    """The first reading far above or far below both of its neighbours, where there is one."""
    T, before, after = temperature_C[1:-1], temperature_C[:-2], temperature_C[2:]
    off = np.maximum(T - np.maximum(before, after), np.minimum(before, after) - T)
    if not np.any(off > _ALONE_C):
        return ()
    i = int(np.argmax(off > _ALONE_C))
    return (
        f"{where} line {lines[i + 1]} stands alone, {T[i]:.0f} °C between {before[i]:.0f} and "
        f"{after[i]:.0f} °C; it counts, so take it out if the thermocouple slipped",
    )


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
