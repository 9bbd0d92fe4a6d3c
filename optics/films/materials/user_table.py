"""A person's own table of optical constants, from a text file off an instrument or a paper.

What is read: UTF-8 with or without byte-order mark; columns split by semicolon, tab, comma or
spaces; decimal commas where the split is semicolon or tab; ``#`` comments, of which
``# key: value`` lines are kept as provenance. One row of column names is needed, because the
unit of the wavelength is in its name: ``wavelength_nm``, ``nm``, ``lambda (um)``, ``µm`` ...,
then ``n`` and, unless the material is clear, ``k``. Rows may come in any order. Two rows of one
wavelength are refused, unless the file says ``# duplicates: average``.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from ..._typing import FloatArray
from ...errors import LimitError, TableError, shorten
from ...files.columns import (
    MARKS,
    MAX_BYTES,
    MAX_ROWS,
    Line,
    check_unit,
    finite_number,
    is_number,
    join_name,
    read_text,
    sort_rising,
    split_cells,
    split_remarks,
)
from .nk_table import Material, check_columns

_WAVELENGTH = re.compile(r"(?:wavelength|wl|lambda|λ)?[ _-]*[(\[]?(nm|um|μm)?[)\]]?")
_EXAMPLE = "name the columns wavelength_nm (or wavelength_um), n and k"


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
    remarks, kept = split_remarks(read_text(path, MAX_BYTES))
    lines = _lines(kept, path.name)
    if not lines:
        raise TableError(f"{path.name} holds no table; {_EXAMPLE}")
    columns, to_nm = _columns(lines[0], path.name)
    rows = lines[1:]
    if len(rows) > MAX_ROWS:
        raise LimitError(f"{path.name} has {len(rows)} rows; the limit is {MAX_ROWS}")
    table = _numbers(rows, columns, path.name)
    check_unit(table[:, 0], to_nm, path.name)
    table[:, 0] *= to_nm
    table = sort_rising(table, remarks, path.name)
    wavelength_nm, n, k = check_columns([tuple(row) for row in table], path.name)
    header = {
        **remarks,
        "source": remarks.get("source", f"the user's file {path.name}"),
        "unit": "nm",
        "k": "as given" if "k" in columns else "not given, taken as 0",
    }
    return Material(path.stem, "", "", "user", wavelength_nm, n, k, header)


def _lines(kept: list[tuple[int, str]], where: str) -> list[Line]:
    """Lines cut into cells, the first being the row of names."""
    if not kept:
        return []
    head = join_name(kept[0][1])
    mark = next((sign for sign in MARKS if sign in head), None)
    return list(split_cells([(kept[0][0], head), *kept[1:]], mark, where))


def _columns(head: Line, where: str) -> tuple[list[str], float]:
    """Column names as ``wavelength``, ``n`` and ``k`` in the file's order, and nm per unit."""
    if all(is_number(cell) for cell in head.cells):
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


def _numbers(rows: list[Line], columns: list[str], where: str) -> FloatArray:
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
    value = finite_number(cell, place, name)
    if name == "k" and value < 0:
        raise TableError(f"{place}: k is {value:g}; it must not be negative (n + ik absorbs)")
    if name != "k" and value <= 0:
        raise TableError(f"{place}: {name} is {value:g}; it must be above 0")
    return value
