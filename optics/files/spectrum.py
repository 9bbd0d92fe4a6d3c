"""A measured reflectance or transmittance spectrum from a spectrometer's text file.

What is read, beyond what :mod:`~oxhue.optics.files.columns` says: lines before the numbers that
are not numbers (settings of the instrument, names of columns), text after them, decimal commas,
more than two columns, falling wavelengths. What the names do not say (nanometres or micrometres,
percent or fraction) is recognised from the numbers where they leave no doubt, and every such
reading is noted; where they leave doubt, the file is refused and the message says what to state.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Literal, get_args

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, LimitError, TableError, shorten
from ..result import Result
from .columns import (
    MAX_BYTES,
    MAX_ROWS,
    check_unit,
    finite_number,
    name_file,
    read_text,
    sort_rising,
    split_remarks,
)
from .number_block import find_numeric_block, wavelength_name

Kind = Literal["reflectance", "transmittance"]
Unit = Literal["fraction", "percent"]

_VALUE = re.compile(
    r"(?P<before>%|percent)?[ _]*"
    r"(?:(?P<reflectance>r|reflectance|reflectivity|reflection)"
    r"|(?P<transmittance>t|transmittance|transmissivity|transmission))"
    r"[ _]*[(\[]?(?P<after>%|percent|fraction|-|1)?[)\]]?"
)
_ABSORBANCE = re.compile(
    r"(?:a|abs\.?|od|optical density)[ _]*\d*[ _]*[(\[]?(?:%|a\.?u\.?|-|1)?[)\]]?|.*(?:absor|log).*"
)
_LEAST_SCAN = 4  # rows that make a scan, and no mere disorder of rows
# Wavelengths in µm end well below those in nm begin: 0.1 to 30 µm against 100 to 30,000 nm.
_MOST_UM, _LEAST_NM = 30.0, 100.0
# A mirror reads at most a little over 1; a spectrum in percent that stays below 2 is dark.
_MOST_FRACTION, _LEAST_PERCENT, _MOST_PERCENT = 1.1, 2.0, 150.0
_LOWEST = -0.05  # noise around zero


@dataclass(frozen=True, eq=False, repr=False)
class Spectrum(Result):
    """Power reflected or transmitted over wavelength, as measured.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (W,)
        Strictly rising [nm].
    value : ndarray, shape (W,)
        Fraction of the incident light [-]; noise may take it a little below 0 or above 1.
    kind : {"reflectance", "transmittance"}
    notes : tuple of str
        What was recognised and not stated, one sentence each.
    """

    wavelength_nm: FloatArray
    value: FloatArray
    kind: Kind
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse, wherever the readings come from, what no file of readings may hold."""
        _check_choice("kind", self.kind, get_args(Kind))
        try:
            nm, value = (np.asarray(one, dtype=float) for one in (self.wavelength_nm, self.value))
        except (TypeError, ValueError, OverflowError) as error:  # texts, or beyond any float
            raise InputError(
                "`value` and `wavelength_nm` must be finite numbers", parameter="value"
            ) from error
        if nm.ndim != 1 or nm.shape != value.shape:
            raise InputError(
                f"`value` has shape {value.shape}; it needs one reading for each of the "
                f"{nm.size} wavelengths",
                parameter="value",
            )
        if not (np.isfinite(nm).all() and np.isfinite(value).all()):
            raise InputError(
                "`value` and `wavelength_nm` must be finite numbers", parameter="value"
            )
        if np.any(np.diff(nm) <= 0.0):
            raise InputError("`wavelength_nm` must rise strictly", parameter="wavelength_nm")
        if value.size and value.max() > _LEAST_PERCENT:
            raise InputError(
                f"`value` goes up to {value.max():g}, but is a fraction of the light, 0 to 1; "
                f"divide percent by 100",
                parameter="value",
            )


@dataclass(frozen=True)
class _Columns:
    """Which columns of a file count, and what their names say."""

    wavelength: int
    value: int
    to_nm: float | None
    unit: Unit | None
    kind: Kind | None
    name: str


def read_spectrum(
    path: str | Path,
    kind: Kind | None = None,
    *,
    reference: str | Path | None = None,
    unit: Unit | None = None,
) -> Spectrum:
    """Read a measured spectrum.

    Parameters
    ----------
    path : str or Path
        A text file as the head of this module describes.
    kind : {"reflectance", "transmittance"}, optional
        What was measured, where the file's columns are not named for it.
    reference : str or Path, optional
        The same instrument's counts with all light returned (a reflectance standard taken as 1)
        or nothing in the beam. The readings are divided by it.
    unit : {"fraction", "percent"}, optional
        Of the readings, where neither the names nor the numbers say it.

    Returns
    -------
    Spectrum

    Raises
    ------
    TableError
        If a file is missing, not text, broken, or leaves in doubt what it holds.
    LimitError
        If a file is larger than 20 MB or has more than 200,000 rows.
    """
    _check_choice("kind", kind, get_args(Kind))
    _check_choice("unit", unit, get_args(Unit))
    path = Path(path)
    table, columns, notes = _read(path, kind)
    kind = kind or columns.kind
    if kind is None:
        raise TableError(
            f"{path.name} does not say what was measured; state the kind: reflectance or "
            f"transmittance"
        )
    if reference is None:
        value = _to_fraction(table[:, 1], unit or columns.unit, path.name, notes)
    else:
        value = _divide_by_reference(table, Path(reference), path.name, notes)
    if not np.all((value >= _LOWEST) & (value <= _MOST_PERCENT / 100.0)):
        odd = value[(value < _LOWEST) | (value > _MOST_PERCENT / 100.0)][0]
        raise TableError(
            f"{path.name}: a {kind} of {odd:.3g} is not possible; it lies between 0 and 1 (0 and "
            f"100 %), and raw counts need the reference they are to be divided by"
        )
    return Spectrum(table[:, 0], value, kind, tuple(notes))


def _check_choice(name: str, value: str | None, allowed: tuple[str, ...]) -> None:
    if value is not None and value not in allowed:
        raise InputError(f"{name} {shorten(value)!r} must be {' or '.join(allowed)}")


def _read(path: Path, kind: Kind | None) -> tuple[FloatArray, _Columns, list[str]]:
    """Rows (P, 2) of rising wavelength [nm] and reading, the columns they come from, notes."""
    where = name_file(path)
    remarks, kept = split_remarks(read_text(path, MAX_BYTES))
    names, rows = find_numeric_block(kept, where)
    if len(rows) > MAX_ROWS:
        raise LimitError(f"{where} has {len(rows)} rows; the limit is {MAX_ROWS}")
    if len(rows) < 2:
        raise TableError(f"{where} has {len(rows)} rows of numbers; a spectrum needs at least two")
    notes: list[str] = []
    columns = _choose_columns(names, len(rows[0].cells), kind, where, notes)
    table = np.array(
        [
            [
                finite_number(line.cells[position], f"{where} line {line.number}", name)
                for position, name in ((columns.wavelength, "wavelength"), (columns.value, "value"))
            ]
            for line in rows
        ]
    )
    table[:, 0] *= _to_nm(table[:, 0], columns.to_nm, where, notes)
    rising = sort_rising(table, remarks, where)
    if len(rising) == len(table):
        _refuse_two_scans(table[:, 0], where)
    return rising, columns, notes


def _refuse_two_scans(wavelength_nm: FloatArray, where: str) -> None:
    """Refuse scans one below the other over the same span: sorted, they would make one zigzag."""
    turns = np.flatnonzero(np.diff(np.sign(np.diff(wavelength_nm)))) + 1
    scans = np.split(wavelength_nm, turns + 1)
    long = [one for one in scans if one.size >= _LEAST_SCAN]
    for first, second in pairwise(long):
        low, high = max(first.min(), second.min()), min(first.max(), second.max())
        if (
            np.sum((first >= low) & (first <= high))
            >= _LEAST_SCAN
            <= np.sum((second >= low) & (second <= high))
        ):
            raise TableError(
                f"{where} holds several scans over the same wavelengths, one below the other; "
                f"keep one"
            )


def _choose_columns(
    names: list[str], width: int, kind: Kind | None, where: str, notes: list[str]
) -> _Columns:
    if not names:
        if width > 2:
            notes.append(f"the columns of {where} have no names; the first two are taken")
        return _Columns(0, 1, None, None, None, "")
    found = [i for i, name in enumerate(names) if name and wavelength_name(name)]
    if len(found) > 1:
        raise TableError(f"{where} has more than one column of wavelengths; keep one")
    at = found[0]
    match = wavelength_name(names[at])
    word = match[1] if match else None
    value = _value_column(names, at, kind, where, notes)
    name = names[value]
    meaning = _VALUE.fullmatch(name.casefold())
    _check_meaning(name, meaning, kind, where)
    return _Columns(
        at,
        value,
        None if word is None else 1.0 if word == "nm" else 1000.0,
        _find_unit(name, meaning),
        _kind_of(meaning),
        name,
    )


def _value_column(
    names: list[str], wavelength: int, kind: Kind | None, where: str, notes: list[str]
) -> int:
    others = [i for i in range(len(names)) if i != wavelength]
    means = {i: _kind_of(_VALUE.fullmatch(names[i].casefold())) for i in others}
    fitting = [i for i in others if means[i] is not None and kind in (None, means[i])]
    if len({means[i] for i in fitting}) > 1:
        raise TableError(
            f"{where} holds reflectance and transmittance; state the kind that is wanted"
        )
    if len(fitting) > 1:
        raise TableError(f"{where} has {len(fitting)} columns of {means[fitting[0]]}; keep one")
    chosen = fitting[0] if fitting else others[0]
    if len(others) > 1:
        notes.append(f"of the columns of {where}, {shorten(names[chosen])!r} is taken")
    return chosen


def _check_meaning(name: str, meaning: re.Match[str] | None, kind: Kind | None, where: str) -> None:
    if _ABSORBANCE.fullmatch(name.casefold()):
        raise TableError(
            f"{where}: the column {shorten(name)!r} is absorbance; export transmittance instead"
        )
    said = _kind_of(meaning)
    if said and kind and said != kind:
        raise TableError(f"{where}: the column {shorten(name)!r} is {said}, not {kind}")


def _kind_of(meaning: re.Match[str] | None) -> Kind | None:
    if meaning is None:
        return None
    return "reflectance" if meaning["reflectance"] else "transmittance"


def _find_unit(name: str, meaning: re.Match[str] | None) -> Unit | None:
    if "%" in name or "percent" in name.casefold():
        return "percent"
    return "fraction" if meaning is not None and meaning["after"] else None


def _to_nm(wavelength: FloatArray, stated: float | None, where: str, notes: list[str]) -> float:
    low, high = float(wavelength.min()), float(wavelength.max())
    if low <= 0.0:
        raise TableError(f"{where}: a wavelength of {low:g} is not possible")
    if stated is not None:
        check_unit(wavelength, stated, where)
        return stated
    if low >= _LEAST_NM:
        notes.append(f"the wavelengths of {where}, {low:g} to {high:g}, are read as nanometres")
        return 1.0
    if high <= _MOST_UM:
        notes.append(f"the wavelengths of {where}, {low:g} to {high:g}, are read as micrometres")
        return 1000.0
    raise TableError(
        f"{where}: {low:g} to {high:g} may be nanometres or micrometres; name the column "
        f"wavelength_nm or wavelength_um"
    )


def _to_fraction(
    reading: FloatArray, unit: Unit | None, where: str, notes: list[str]
) -> FloatArray:
    high = float(reading.max())
    if unit is None and high > _MOST_PERCENT:
        raise TableError(
            f"{where}: readings up to {high:g} are neither fractions nor percent; raw counts need "
            f"the reference they are to be divided by"
        )
    if unit is None and _MOST_FRACTION < high < _LEAST_PERCENT:
        raise TableError(
            f"{where}: readings up to {high:g} may be fractions or percent; state the unit: "
            f"fraction or percent"
        )
    if unit is None:
        unit = "percent" if high > _MOST_FRACTION else "fraction"
        notes.append(f"the readings of {where}, up to {high:g}, are read as {unit}")
    return reading / 100.0 if unit == "percent" else reading


def _divide_by_reference(
    table: FloatArray, reference: Path, where: str, notes: list[str]
) -> FloatArray:
    """Readings over those of the reference at the same wavelengths."""
    other, _, more = _read(reference, None)
    notes.extend(more)
    wavelength = table[:, 0]
    low, high = other[0, 0], other[-1, 0]
    if wavelength[0] < low or wavelength[-1] > high:
        raise TableError(
            f"{reference.name} spans {low:g} to {high:g} nm, but {where} runs from "
            f"{wavelength[0]:g} to {wavelength[-1]:g} nm"
        )
    if np.any(other[:, 1] <= 0.0):
        at = other[other[:, 1] <= 0.0, 0][0]
        raise TableError(f"{reference.name} reads nothing at {at:g} nm; cut that end off")
    if not np.array_equal(wavelength, other[:, 0]):
        notes.append(f"{reference.name} is interpolated to the wavelengths of {where}")
    notes.append(f"readings are divided by {reference.name}; dark counts are taken as zero")
    share: FloatArray = table[:, 1] / np.interp(wavelength, other[:, 0], other[:, 1])
    return share
