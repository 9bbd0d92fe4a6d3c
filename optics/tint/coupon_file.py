"""Test pieces as a CSV: what heat each saw and what came out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from .._typing import FloatArray
from ..errors import InputError, LimitError, TableError, shorten, suggest_nearest
from ..files.columns import find_mark, name_file, read_text, split_cells
from ..inference.reading import Reading, parse_reading
from ..oxidation.log_file import read_log
from ..oxidation.metals import Metal, find_metal
from ..oxidation.schedule import HeatSchedule, hold

MOST_PIECES = 200
OUTCOMES = ("word", "hex", "Lab", "thickness_nm")
_TEMPERATURES = {
    "temperature_C": (1.0, 0.0),
    "temperature_F": (5.0 / 9.0, -160.0 / 9.0),
    "temperature_K": (1.0, -273.15),
}
_TIMES = {"time_min": (60.0, 0.0), "time_s": (1.0, 0.0), "time_h": (3600.0, 0.0)}
"""Columns of a heat, each with the factor and the offset to °C or s."""

COLUMNS = (
    "id", "kiln", "metal", *_TEMPERATURES, *_TIMES, "profile", "volts", *OUTCOMES, "sd", "how",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class CouponRow:
    """One line of the file, its outcome as written and as read: a colour or a thickness.

    ``sd`` is the standard deviation of a thickness [nm]; that of a colour is part of the reading.
    ``curve`` are thicknesses [nm] and the likelihood at each (D,), where more is known than that.
    """

    id: str
    kiln: str
    heat: HeatSchedule
    text: str
    reading: Reading | None
    thickness_nm: float | None
    sd: float | None
    curve: tuple[FloatArray, FloatArray] | None = None


@dataclass(frozen=True, eq=False)
class StripRow:
    """One line about an anodised strip, its outcome as of a `CouponRow`."""

    id: str
    volts: float
    text: str
    reading: Reading | None
    thickness_nm: float | None
    sd: float | None


def read_pieces(path: str | Path) -> tuple[Metal, list[CouponRow | StripRow]]:
    """Read a file of test pieces: the metal and a row for each, all heated or all anodised.

    A CSV with a head, its cells separated by comma, semicolon or tab: ``metal`` and
    ``temperature_C,time_min`` (or ``_F``, ``_K``; ``_s``, ``_h``) or ``profile`` (a thermocouple
    log next to the file) or ``volts``, one of ``word``, ``hex``, ``Lab`` (in quotes) or
    ``thickness_nm`` filled in each line, and if wanted ``sd`` (nm of a thickness, ΔE of a colour),
    ``how`` (word, photo, card, instrument), ``id`` and ``kiln``. `InputError` names a line that
    cannot be used.
    """
    return parse_pieces(read_text(Path(path)), name_file(Path(path)), Path(path).parent)


def parse_pieces(
    text: str, where: str, folder: Path | None
) -> tuple[Metal, list[CouponRow | StripRow]]:
    """Read test pieces from what stands in a file, as `read_pieces`.

    ``where`` names it in a refusal; a ``profile`` lies in ``folder``, and none may be named
    without one.
    """
    kept = _without_remarks(text)
    if len(kept) < 2:
        raise TableError(f"{where} needs a line of column names and a line for each test piece")
    if len(kept) - 1 > MOST_PIECES:
        raise LimitError(f"{where} has {len(kept) - 1} test pieces; {MOST_PIECES} is the most")
    first, *others = split_cells(kept, find_mark(kept[0][1]), where)
    head = _read_head(first.cells, where)
    rows = [
        (line.number, _read_cells(line.cells, head, f"{where} line {line.number}"))
        for line in others
    ]
    named = {one.name: one for one in (find_metal(cells["metal"]) for _, cells in rows)}
    metals = dict.fromkeys(one.key for one in named.values())
    if len(metals) > 1:
        raise TableError(f"{where} holds {' and '.join(metals)}; give each metal a file of its own")
    pieces = [
        _read_piece(cells, f"{where} line {number}", str(i), folder)
        for i, (number, cells) in enumerate(rows, 1)
    ]
    if len({type(piece) for piece in pieces}) > 1:
        raise TableError(
            f"{where} has heated and anodised pieces; give the kiln and the bath a file each"
        )
    return next(iter(named.values())) if len(named) == 1 else find_metal(next(iter(metals))), pieces


def _without_remarks(text: str) -> list[tuple[int, str]]:
    """The lines that are no remarks, with their numbers; a hex value in front makes none."""
    lines = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    head = next((line for _, line in lines if line[0] != "#"), "")
    first = head.split(find_mark(head))[0].strip().strip('"').casefold()
    mark = "# " if first == "hex" else "#"
    return [(n, line) for n, line in lines if not line.startswith(mark)]


_MEANT = dict.fromkeys(
    ("colour", "color", "seen"), "write a colour's name under word, a #hex value under hex"
)
"""Columns people write first, and where what they mean belongs."""


def _read_head(cells: list[str], where: str) -> list[str]:
    folded = {name.casefold(): name for name in COLUMNS}
    names = []
    for cell in cells:
        name = folded.get(cell.casefold())
        if name is None:
            hint = _MEANT.get(cell.casefold()) or suggest_nearest(cell, list(COLUMNS))
            raise TableError(
                f"{where} has a column {shorten(cell)!r}; the columns are "
                f"{', '.join(COLUMNS)}" + (f" ({hint})" if hint else "")
            )
        names.append(name)
    if len(set(names)) < len(names):
        raise TableError(f"{where} names a column twice")
    if "metal" not in names:
        raise TableError(f"{where} has no column metal")
    return names


def _read_cells(cells: list[str], head: list[str], where: str) -> dict[str, str]:
    if len(cells) > len(head):
        raise TableError(
            f"{where} has {len(cells)} cells where {len(head)} are named; put L,a,b in quotes"
        )
    row = dict.fromkeys(COLUMNS, "") | dict(zip(head, cells, strict=False))
    if not row["metal"]:
        raise TableError(f"{where} names no metal")
    return row


def _read_piece(
    cells: Mapping[str, str], where: str, number: str, folder: Path | None
) -> CouponRow | StripRow:
    given = [name for name in OUTCOMES if cells[name]]
    if len(given) != 1:
        raise TableError(
            f"{where} states {' and '.join(given) or 'no outcome'}; fill exactly one of "
            f"{', '.join(OUTCOMES)}"
        )
    name = cells["id"] or number
    try:
        sd = _read_number(cells["sd"], "sd") if cells["sd"] else None
        outcome: tuple[str, Reading | None, float | None, float | None]
        if given == ["thickness_nm"]:
            nm = _read_number(cells["thickness_nm"], "thickness_nm")
            outcome = f"{nm:g} nm", None, nm, sd
        else:
            reading = parse_reading(cells[given[0]], cells["how"] or None)
            if sd is not None:
                reading = replace(reading, doubts=replace(reading.doubts, noise_de=sd))
            outcome = cells[given[0]], reading, None, None
        if cells["volts"]:
            if cells["profile"] or any(cells[one] for one in (*_TEMPERATURES, *_TIMES)):
                raise InputError("give volts, or a heat, not both")
            return StripRow(name, _read_number(cells["volts"], "volts"), *outcome)
        return CouponRow(name, cells["kiln"], _read_heat(cells, folder), *outcome)
    except TableError:
        raise
    except InputError as error:
        raise TableError(f"{where}: {error}") from error


def _read_heat(cells: Mapping[str, str], folder: Path | None) -> HeatSchedule:
    if cells["profile"]:
        if folder is None:
            raise InputError("a profile cannot be read here; give temperature_C and time_min")
        if any(cells[one] for one in (*_TEMPERATURES, *_TIMES)):
            raise InputError("give a profile, or temperature_C with time_min, not both")
        return read_log(folder / cells["profile"])
    return hold(_read_one(cells, _TEMPERATURES), _read_one(cells, _TIMES))


def _read_one(cells: Mapping[str, str], units: Mapping[str, tuple[float, float]]) -> float:
    """What the one filled cell among several units of a quantity says, in its base unit."""
    given = [name for name in units if cells[name]]
    if not given:
        raise InputError("give temperature_C and time_min, a profile, or volts")
    if len(given) > 1:
        raise InputError(f"{' and '.join(given)} say the same; fill one of them")
    factor, offset = units[given[0]]
    return factor * _read_number(cells[given[0]], given[0]) + offset


def _read_number(text: str, name: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError(
            f"{name} is {shorten(text)!r}, which is not a number; write it without "
            f"its unit, as in 450"
        ) from None
