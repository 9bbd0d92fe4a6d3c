"""Where the numbers stand in a text file that also holds settings, names and remarks."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ..errors import TableError, shorten
from .columns import MARKS, Line, is_number, join_name, split_cells

_WAVELENGTH = re.compile(r"(?:wave ?length|wl|lambda|λ)?[ _-]*[(\[]?(nm|um|μm)?[)\]]?")
_WAVENUMBER = re.compile(r"(?P<wavenumber>wave ?number|\bcm(?:\^?-1|⁻¹)|1/cm)")
_NO_LENGTH = re.compile(r"(?P<energy>energy|\bm?ev\b)|(?P<frequency>frequency|\b[tpg]hz\b)")
"""What an axis that is no wavelength is called."""
_UNITS = ("nm", "um", "μm", "%", "percent", "fraction", "-", "")
_SAMPLE = 300  # lines enough to tell how a file parts its columns


def wavelength_name(name: str) -> re.Match[str] | None:
    """The match of a column's name as a wavelength, its unit as group 1, or None."""
    return _WAVELENGTH.fullmatch(name.casefold())


def find_numeric_block(kept: list[tuple[int, str]], where: str) -> tuple[list[str], list[Line]]:
    """Names of the columns, empty where there are none, and the rows of numbers.

    Lines before the numbers that are not numbers count as settings, those after them as text.

    Raises
    ------
    TableError
        If there are no numbers, text stands between them, or rows differ in width.
    """
    mark = _find_mark(kept)
    lines = list(_trim_cells(kept, mark, where))
    head = next((i for i, line in enumerate(lines) if _is_head(line)), None)
    begins = _is_row if head is None else _starts_with_number
    first = next(
        (i for i in range(0 if head is None else head + 1, len(lines)) if begins(lines[i])), None
    )
    if first is None:
        raise TableError(f"{where} holds no rows of numbers: a wavelength and a reading in each")
    _refuse_other_axes(lines[:first], where)
    names = [] if head is None else _join_units(lines[head], lines[head + 1 : first])
    rows = [line for line in lines[first:] if _starts_with_number(line)]
    _check_rows(rows, lines[first:], len(names) or len(lines[first].cells), where)
    if head is None and mark == "," and _looks_like_decimal_commas(rows):
        raise TableError(
            f"{where} seems to use the comma both between columns and in its numbers; export it "
            f"with semicolons or tabs between columns"
        )
    return names, rows


def _check_rows(rows: list[Line], block: list[Line], width: int, where: str) -> None:
    """Refuse text between the numbers, and rows of another width."""
    if rows[-1] is not block[len(rows) - 1]:
        stray = next(line for line in block if not _starts_with_number(line))
        raise TableError(
            f"{where} line {stray.number}: {shorten(stray.cells[0])!r} is not a number, yet "
            f"numbers follow"
        )
    for line in rows:
        if len(line.cells) != width:
            raise TableError(
                f"{where} line {line.number} has {len(line.cells)} cells where {width} are expected"
            )


def _join_units(head: Line, below: list[Line]) -> list[str]:
    """Names of columns, with the units of a row of units if there is one below them."""
    for line in below:
        if len(line.cells) == len(head.cells) and all(
            cell.strip("[]()").casefold() in _UNITS for cell in line.cells
        ):
            return [
                f"{name}({cell.strip('[]()')})" if cell.strip("[]()") else name
                for name, cell in zip(head.cells, line.cells, strict=True)
            ]
    return head.cells


def _refuse_other_axes(above: list[Line], where: str) -> None:
    """Refuse an axis that is no wavelength; above the names a lamp's energy may be told."""
    named = above[-1].cells if above else ()
    told = [(cell, _WAVENUMBER) for line in above for cell in line.cells]
    for cell, other in told + [(cell, _NO_LENGTH) for cell in named]:
        if over := other.search(cell.casefold()):
            raise TableError(f"{where} is over {over.lastgroup}; export it over nanometres")


def _find_mark(kept: list[tuple[int, str]]) -> str | None:
    """What parts the columns: the mark that makes most lines rows of numbers."""
    step = max(1, len(kept) // _SAMPLE)
    sample = kept[::step]

    def rows(mark: str | None) -> int:
        count = 0
        for line in sample:
            try:
                count += all(_is_row(cells) for cells in _trim_cells([line], mark, ""))
            except TableError:
                continue
        return count

    # At equal counts the first wins: a line cut at semicolons is no accident.
    marks: tuple[str | None, ...] = (*MARKS, None)
    return max(marks, key=rows)


def _trim_cells(kept: list[tuple[int, str]], mark: str | None, where: str) -> Iterator[Line]:
    """Lines cut into cells, without the empty cells that a trailing mark leaves."""
    named = ((number, join_name(text)) for number, text in kept)
    for line in split_cells(named, mark, where):
        cells = line.cells
        if mark is None and any("," in cell for cell in cells):
            cells = [cell.replace(",", ".") if cell.count(",") == 1 else cell for cell in cells]
        while len(cells) > 1 and not cells[-1]:
            cells = cells[:-1]
        yield Line(line.number, cells)


def _is_row(line: Line) -> bool:
    return len(line.cells) > 1 and is_number(line.cells[0]) and is_number(line.cells[1])


def _starts_with_number(line: Line) -> bool:
    return is_number(line.cells[0])


def _is_head(line: Line) -> bool:
    """Whether a line names columns, one of them the wavelength."""
    return len(line.cells) > 1 and any(cell and wavelength_name(cell) for cell in line.cells)


def _looks_like_decimal_commas(rows: list[Line]) -> bool:
    cells = [cell for line in rows for cell in line.cells]
    return len(rows[0].cells) in (3, 4) and not any("." in cell or "e" in cell for cell in cells)
