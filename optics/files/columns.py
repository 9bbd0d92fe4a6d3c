"""Columns of numbers in a person's text file: what every reader of such a file does alike.

UTF-8 with or without byte-order mark, or UTF-16 with one; columns split by semicolon, tab, comma or
spaces; ``#`` comments, of which ``# key: value`` lines are kept as remarks; wavelengths in
nanometres or micrometres; rows in any order. A pipe is read like a file, and ``-`` is what comes in
on standard input.
"""

from __future__ import annotations

import codecs
import csv
import re
import stat
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, LimitError, TableError, shorten, show_path
from .atomic import note_input, read_once

MAX_BYTES = 20_000_000
MAX_ROWS = 200_000
MAX_LINES = MAX_ROWS + 20_000  # settings and remarks around the rows
LONGEST_LINE = 100_000
SHORTEST_NM = 50.0  # below this a column in nm is surely micrometres
LONGEST_UM = 100.0  # beyond this a column in micrometres is surely nanometres

MARKS = ";\t,"
STANDARD_INPUT = Path("-")
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?")
_DECIMAL_POINT = re.compile(r"[+-]?(?:\d+\.\d*|\.\d+)(?:[eE][+-]?\d+)?")
_MARK_LINE = re.compile(r"\Asep=.(?=\r?\n)")  # by which spreadsheets say how cells are split
_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


@dataclass(frozen=True)
class Line:
    """One line of a file cut into cells, with its number as editors count."""

    number: int
    cells: list[str]


def read_text(path: Path, max_bytes: int = MAX_BYTES) -> str:
    """The text of a file.

    Raises
    ------
    TableError
        If there is no such file, or it is not text.
    LimitError
        If it is larger than ``max_bytes``, or has too many or too long lines.
    """
    return decode_text(read_bytes(path, max_bytes), name_file(path))


def decode_text(raw: bytes, where: str) -> str:
    """The text that bytes are.

    Raises
    ------
    TableError
        If they are no text.
    LimitError
        If it has too many or too long lines.
    """
    try:
        text = raw.decode("utf-16" if raw.startswith(_UTF16) else "utf-8-sig")
    except UnicodeDecodeError:
        raise TableError(f"{where} is not UTF-8 text; save it as plain text in UTF-8") from None
    if "\0" in text:
        raise TableError(f"{where} is a binary file; save it as plain text")
    text = _MARK_LINE.sub("", text)
    lines = text.splitlines()
    if len(lines) > MAX_LINES:
        raise LimitError(f"{where} has {len(lines):,} lines; the limit is {MAX_LINES:,}")
    if max(map(len, lines), default=0) > LONGEST_LINE:
        raise LimitError(
            f"{where} has a line of more than {LONGEST_LINE:,} characters; is it a table?"
        )
    return text


def name_file(path: Path) -> str:
    """What a file is called in a refusal."""
    return "standard input" if path == STANDARD_INPUT else path.name


def read_bytes(path: Path, max_bytes: int = MAX_BYTES) -> bytes:
    """What stands in a file of text, comes through a pipe, or on standard input for ``-``.

    Raises
    ------
    TableError
        If there is no such file, or it cannot be read.
    LimitError
        If it is larger than ``max_bytes``.
    """
    note_input(path)
    shown = repr(show_path(path)) if "\0" in str(path) else show_path(path)
    if path == STANDARD_INPUT:
        return read_once((-1, 0), lambda: _read_standard_input(max_bytes))
    try:
        kind = path.stat()
        if stat.S_ISDIR(kind.st_mode):
            raise TableError(f"{shown} is a folder; a table is a text file")
        if stat.S_ISFIFO(kind.st_mode):
            return read_once((kind.st_dev, kind.st_ino), lambda: _read_pipe(path, max_bytes))
        if not stat.S_ISREG(kind.st_mode):
            raise TableError(f"{shown} is a device; a table is a text file")
        if kind.st_size > max_bytes:
            raise _too_large(path, max_bytes)
        return path.read_bytes()
    except (FileNotFoundError, NotADirectoryError) as error:
        raise TableError(f"there is no file {shown}") from error
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise TableError(f"{shown} cannot be read: {reason}") from error
    except InputError:
        raise
    except ValueError as error:  # a name with a character no name can have
        raise TableError(f"there is no file {shown}") from error


def _read_standard_input(max_bytes: int) -> bytes:
    if sys.stdin is None or sys.stdin.isatty():
        raise TableError("'-' is what comes in on standard input: send a table into it by a pipe")
    try:
        raw = sys.stdin.buffer.read(max_bytes + 1)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise TableError(f"standard input cannot be read: {reason}") from error
    return _check_length(raw, STANDARD_INPUT, max_bytes)


def _read_pipe(path: Path, max_bytes: int) -> bytes:
    with path.open("rb") as stream:
        return _check_length(stream.read(max_bytes + 1), path, max_bytes)


def _check_length(raw: bytes, path: Path, max_bytes: int) -> bytes:
    if len(raw) > max_bytes:
        raise _too_large(path, max_bytes)
    return raw


def _too_large(path: Path, max_bytes: int) -> LimitError:
    most = f"{max_bytes // 1_000_000} MB" if max_bytes >= 1_000_000 else f"{max_bytes:,} bytes"
    return LimitError(f"{name_file(path)} is larger than {most}, the limit")


def find_mark(head: str) -> str:
    """What separates the columns of a table, by its line of names."""
    return max(MARKS, key=head.count) if any(mark in head for mark in MARKS) else ","


def split_remarks(text: str) -> tuple[dict[str, str], list[tuple[int, str]]]:
    """The ``# key: value`` remarks, and the other lines that are not empty, with their numbers."""
    remarks: dict[str, str] = {}
    kept: list[tuple[int, str]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.strip()
        if bare.startswith("#"):
            key, colon, value = bare[1:].partition(":")
            if colon:
                remarks[key.strip()] = value.strip()
        elif bare:
            kept.append((number, bare))
    return remarks, kept


def join_name(line: str) -> str:
    """A row of column names in which ``lambda (nm)`` is one name."""
    return re.sub(r"\s+([(\[])", r"\1", line)


def split_cells(kept: Iterable[tuple[int, str]], mark: str | None, where: str) -> Iterator[Line]:
    """Lines cut at a mark, or at spaces where there is none.

    Decimal commas become points where the mark leaves no doubt about them.

    Raises
    ------
    TableError
        If quotes do not pair, or one line holds decimal commas and decimal points.
    """
    for number, line in kept:
        if mark is None:
            cells = line.split()
        else:
            try:
                cells = next(csv.reader([line], delimiter=mark))
            except csv.Error as error:
                raise TableError(f"{where} line {number}: {error}") from error
        cells = [cell.strip() for cell in cells]
        yield Line(
            number, replace_decimal_commas(cells, number, where) if mark in (";", "\t") else cells
        )


def replace_decimal_commas(cells: list[str], number: int, where: str) -> list[str]:
    """Cells with decimal commas turned into points, or a ``TableError`` where both occur."""
    commas = [bool(_DECIMAL_COMMA.fullmatch(cell)) for cell in cells]
    if any(commas) and any(_DECIMAL_POINT.fullmatch(cell) for cell in cells):
        raise TableError(f"{where} line {number} mixes decimal commas and decimal points")
    return [
        cell.replace(",", ".") if comma else cell for cell, comma in zip(cells, commas, strict=True)
    ]


def is_number(cell: str) -> bool:
    """Whether a cell reads as a number; ``nan`` and ``inf`` do, ``1_000`` does not."""
    try:
        float(cell)
    except ValueError:
        return False
    return "_" not in cell


def finite_number(cell: str, place: str, name: str) -> float:
    """The number in a cell, or a ``TableError`` that says where and what stands there."""
    if not is_number(cell):
        raise TableError(f"{place}, column {name}: {shorten(cell)!r} is not a number")
    value = float(cell)
    if not np.isfinite(value):
        raise TableError(f"{place}, column {name}: {shorten(cell)} is not a finite number")
    return value


def check_unit(wavelength: FloatArray, to_nm: float, where: str) -> None:
    """Refuse wavelengths that the unit in their column's name makes absurd."""
    if wavelength.size == 0:
        return
    low, high = float(wavelength.min()), float(wavelength.max())
    if to_nm == 1.0 and high < SHORTEST_NM:
        raise TableError(
            f"{where}: wavelengths of {low:g} to {high:g} look like micrometres, but the column "
            "says nm; name it wavelength_um"
        )
    if to_nm != 1.0 and low > LONGEST_UM:
        raise TableError(
            f"{where}: wavelengths of {low:g} to {high:g} look like nanometres, but the column "
            "says micrometres; name it wavelength_nm"
        )


def sort_rising(table: FloatArray, remarks: dict[str, str], where: str) -> FloatArray:
    """Rows (P, C) by rising first column.

    Raises
    ------
    TableError
        If a wavelength occurs twice and no remark ``duplicates: average`` says what to do.
    """
    table = table[np.argsort(table[:, 0], kind="stable")]
    same = np.diff(table[:, 0]) == 0
    if not same.any():
        return table
    if remarks.get("duplicates", "").casefold() != "average":
        raise TableError(
            f"{where} gives {table[:-1, 0][same][0]:g} nm twice; keep one row, or say "
            "'# duplicates: average' in the file"
        )
    wavelength_nm, rows = np.unique(table[:, 0], return_inverse=True)
    counts = np.bincount(rows)
    sums = [np.bincount(rows, column) / counts for column in table.T[1:]]
    return np.column_stack([wavelength_nm, *sums])
