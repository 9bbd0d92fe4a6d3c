"""A person's own table of optical constants, from a text file off an instrument or a paper.

What is read: UTF-8 with or without byte-order mark; columns split by semicolon, tab, comma or
spaces; decimal commas where the split is semicolon or tab; ``#`` comments, of which
``# key: value`` lines are kept as provenance. One row of column names is needed, because the
unit of the wavelength is in its name: ``wavelength_nm``, ``nm``, ``lambda (um)``, ``µm`` ...,
then ``n`` and, unless the material is clear, ``k``. Rows may come in any order. Two rows of one
wavelength are refused, unless the file says ``# duplicates: average``.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..errors import LimitError, TableError, shorten
from .nktable import Material, check_columns

MAX_BYTES = 20_000_000
MAX_ROWS = 200_000
SHORTEST_NM = 50.0  # below this a column in nm is surely micrometres
LONGEST_UM = 100.0  # beyond this a column in micrometres is surely nanometres

_WAVELENGTH = re.compile(r"(?:wavelength|wl|lambda|λ)?[ _-]*[(\[]?(nm|um|μm)?[)\]]?")
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?")
_EXAMPLE = "name the columns wavelength_nm (or wavelength_um), n and k"


@dataclass(frozen=True)
class _Line:
    number: int
    cells: list[str]


def read_user_table(path: str | Path) -> Material:
    """Read a table of optical constants.

    Parameters
    ----------
    path : str or Path
        A text file as the head of this module describes.

    Returns
    -------
    Material
        Kind ``user``; ``header`` holds the file's own remarks and says how k was come by.

    Raises
    ------
    TableError
        If the file is missing, not text, or breaks a rule; the message gives line and column.
    LimitError
        If the file is larger than ``MAX_BYTES`` or has more rows than ``MAX_ROWS``.
    """
    path = Path(path)
    text = _read_text(path)
    remarks, lines = _split(text, path.name)
    if not lines:
        raise TableError(f"{path.name} holds no table; {_EXAMPLE}")
    columns, to_nm = _columns(lines[0], path.name)
    rows = lines[1:]
    if len(rows) > MAX_ROWS:
        raise LimitError(f"{path.name} has {len(rows)} rows; the limit is {MAX_ROWS}")
    table = _numbers(rows, columns, path.name)
    _check_unit(table[:, 0], to_nm, path.name)
    table[:, 0] *= to_nm
    table = _sorted(table, remarks.get("duplicates", "").casefold() == "average", path.name)
    wavelength_nm, n, k = check_columns([tuple(row) for row in table], path.name)
    header = {
        **remarks,
        "source": remarks.get("source", f"the user's file {path.name}"),
        "unit": "nm",
        "k": "as given" if "k" in columns else "not given, taken as 0",
    }
    return Material(path.stem, "", "", "user", wavelength_nm, n, k, header)


def _read_text(path: Path) -> str:
    if path.is_dir():
        raise TableError(f"{path} is a folder; a table is a text file")
    if not path.is_file():
        raise TableError(f"there is no file {path}")
    if path.stat().st_size > MAX_BYTES:
        raise LimitError(f"{path.name} is larger than {MAX_BYTES // 1_000_000} MB, the limit")
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise TableError(f"{path} cannot be read: {error.strerror}") from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise TableError(f"{path.name} is not UTF-8 text; save it as plain CSV") from None
    if "\0" in text:
        raise TableError(f"{path.name} is a binary file; save it as plain CSV")
    return text


def _split(text: str, where: str) -> tuple[dict[str, str], list[_Line]]:
    """The ``# key: value`` remarks, and the other lines cut into cells."""
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
    if not kept:
        return remarks, []
    return remarks, list(_cells(kept, where))


def _cells(kept: list[tuple[int, str]], where: str) -> Iterator[_Line]:
    head = re.sub(r"\s+([(\[])", r"\1", kept[0][1])  # "lambda (nm)" is one name
    kept = [(kept[0][0], head), *kept[1:]]
    mark = next((sign for sign in ";\t," if sign in head), None)
    for number, line in kept:
        if mark is None:
            cells = line.split()
        else:
            try:
                cells = next(csv.reader([line], delimiter=mark))
            except csv.Error as error:
                raise TableError(f"{where} line {number}: {error}") from error
        cells = [cell.strip() for cell in cells]
        yield _Line(number, _decimal_points(cells, number, where) if mark in (";", "\t") else cells)


def _decimal_points(cells: list[str], number: int, where: str) -> list[str]:
    commas = [bool(_DECIMAL_COMMA.fullmatch(cell)) for cell in cells]
    if any(commas) and any("." in cell for cell in cells):
        raise TableError(f"{where} line {number} mixes decimal commas and decimal points")
    return [
        cell.replace(",", ".") if comma else cell for cell, comma in zip(cells, commas, strict=True)
    ]


def _columns(head: _Line, where: str) -> tuple[list[str], float]:
    """Column names as ``wavelength``, ``n`` and ``k`` in the file's order, and nm per unit."""
    if all(_is_number(cell) for cell in head.cells):
        raise TableError(f"{where} has no row of column names; {_EXAMPLE}")
    names: list[str] = []
    to_nm = 0.0
    for cell in head.cells:
        name = cell.casefold()
        unit = _WAVELENGTH.fullmatch(name)
        if name in ("n", "k"):
            names.append(name)
        elif unit is None or not name:
            raise TableError(f"{where} has the unknown column {shorten(cell)!r}; {_EXAMPLE}")
        elif unit[1] is None:
            raise TableError(f"{where}: column {shorten(cell)!r} has no unit; {_EXAMPLE}")
        else:
            names.append("wavelength")
            to_nm = 1.0 if unit[1] == "nm" else 1000.0
    if sorted(names) not in (["n", "wavelength"], ["k", "n", "wavelength"]):
        found = ", ".join(head.cells)
        raise TableError(f"{where} has the columns {shorten(found)!r}; {_EXAMPLE}, each once")
    return names, to_nm


def _numbers(rows: list[_Line], columns: list[str], where: str) -> NDArray[np.float64]:
    """Rows as numbers, shape (P, 3): wavelength in the file's unit, n, k."""
    order = {"wavelength": 0, "n": 1, "k": 2}
    table = np.zeros((len(rows), 3))
    for index, line in enumerate(rows):
        if len(line.cells) != len(columns):
            raise TableError(
                f"{where} line {line.number} has {len(line.cells)} cells, "
                f"but there are {len(columns)} column names"
            )
        for name, cell in zip(columns, line.cells, strict=True):
            table[index, order[name]] = _number(cell, f"{where} line {line.number}", name)
    return table


def _number(cell: str, place: str, name: str) -> float:
    if not _is_number(cell):
        raise TableError(f"{place}, column {name}: {shorten(cell)!r} is not a number")
    value = float(cell)
    if not np.isfinite(value):
        raise TableError(f"{place}, column {name}: {cell} is not a finite number")
    if name == "k" and value < 0:
        raise TableError(f"{place}: k is {value:g}; it must not be negative (n + ik absorbs)")
    if name != "k" and value <= 0:
        raise TableError(f"{place}: {name} is {value:g}; it must be above 0")
    return value


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return "_" not in cell


def _check_unit(wavelength: NDArray[np.float64], to_nm: float, where: str) -> None:
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


def _sorted(table: NDArray[np.float64], average: bool, where: str) -> NDArray[np.float64]:
    table = table[np.argsort(table[:, 0], kind="stable")]
    same = np.diff(table[:, 0]) == 0
    if not same.any():
        return table
    if not average:
        raise TableError(
            f"{where} gives {table[:-1, 0][same][0]:g} nm twice; keep one row, or say "
            "'# duplicates: average' in the file"
        )
    wavelength_nm, rows = np.unique(table[:, 0], return_inverse=True)
    sums = [np.bincount(rows, table[:, column]) for column in (1, 2)]
    counts = np.bincount(rows)
    return np.column_stack([wavelength_nm, sums[0] / counts, sums[1] / counts])
