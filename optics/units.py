"""Numbers with units as people write them on a command line: ``450C``, ``1.5h``, ``45 nm``."""

from __future__ import annotations

import math
import numbers
import re
from collections.abc import Mapping

from .errors import InputError, shorten, suggest_point

# A dot followed by a second dot belongs to a range ("0..200nm"), not to the number.
NUMBER = r"[+-]?(?:\d+(?:\.(?!\.)\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_QUANTITY = re.compile(rf"\s*({NUMBER})\s*(\S*)\s*")

# Each dimension: unit as written -> (factor, offset) so that base = number * factor + offset.
_UNITS: dict[str, Mapping[str, tuple[float, float]]] = {
    "length_nm": {
        "nm": (1.0, 0.0),
        "um": (1e3, 0.0),
        "µm": (1e3, 0.0),
        "μm": (1e3, 0.0),
        "Å": (0.1, 0.0),
        "A": (0.1, 0.0),
        "mm": (1e6, 0.0),
        "cm": (1e7, 0.0),
        "m": (1e9, 0.0),
    },
    "temperature_C": {
        "C": (1.0, 0.0),
        "°C": (1.0, 0.0),
        "K": (1.0, -273.15),
        "F": (5.0 / 9.0, -160.0 / 9.0),
        "°F": (5.0 / 9.0, -160.0 / 9.0),
    },
    "time_s": {
        "s": (1.0, 0.0),
        "min": (60.0, 0.0),
        "h": (3600.0, 0.0),
        "d": (86400.0, 0.0),
    },
    "angle_deg": {"": (1.0, 0.0), "deg": (1.0, 0.0), "°": (1.0, 0.0)},
    "length_mm": {
        "mm": (1.0, 0.0),
        "cm": (10.0, 0.0),
        "m": (1e3, 0.0),
        "um": (1e-3, 0.0),
        "µm": (1e-3, 0.0),
        "μm": (1e-3, 0.0),
        "in": (25.4, 0.0),
    },
    "area_cm2": {
        "cm2": (1.0, 0.0),
        "cm²": (1.0, 0.0),
        "mm2": (0.01, 0.0),
        "mm²": (0.01, 0.0),
        "m2": (1e4, 0.0),
        "m²": (1e4, 0.0),
    },
    "mass_g": {"g": (1.0, 0.0), "mg": (1e-3, 0.0), "ug": (1e-6, 0.0), "µg": (1e-6, 0.0)},
    "rate_nm_s": {
        "nm/s": (1.0, 0.0),
        "Å/s": (0.1, 0.0),
        "A/s": (0.1, 0.0),
        "nm/min": (1.0 / 60.0, 0.0),
        "Å/min": (0.1 / 60.0, 0.0),
        "A/min": (0.1 / 60.0, 0.0),
    },
    # One torr is 1/760 of a standard atmosphere of 1013.25 mbar, by definition.
    "pressure_mbar": {
        "mbar": (1.0, 0.0),
        "hPa": (1.0, 0.0),
        "Pa": (0.01, 0.0),
        "Torr": (1013.25 / 760.0, 0.0),
        "torr": (1013.25 / 760.0, 0.0),
        "mTorr": (1.01325 / 760.0, 0.0),
        "mtorr": (1.01325 / 760.0, 0.0),
    },
    "voltage_V": {"V": (1.0, 0.0), "kV": (1e3, 0.0)},
    "current_A": {"A": (1.0, 0.0), "mA": (1e-3, 0.0)},
    "resistance_ohm": {"ohm": (1.0, 0.0), "Ω": (1.0, 0.0), "mohm": (1e-3, 0.0), "mΩ": (1e-3, 0.0)},
    "volume_l": {
        "l": (1.0, 0.0),
        "L": (1.0, 0.0),
        "ml": (1e-3, 0.0),
        "mL": (1e-3, 0.0),
        "cm3": (1e-3, 0.0),
        "cm³": (1e-3, 0.0),
        "dm3": (1.0, 0.0),
        "dm³": (1.0, 0.0),
        "m3": (1e3, 0.0),
        "m³": (1e3, 0.0),
    },
    # A standard cubic centimetre of 0 °C and 1013.25 mbar takes 293.15/273.15 of that at 20 °C.
    "leak_mbar_l_s": {
        "mbar.l/s": (1.0, 0.0),
        "mbar·l/s": (1.0, 0.0),
        "mbar*l/s": (1.0, 0.0),
        "mbarl/s": (1.0, 0.0),
        "Pa.m3/s": (10.0, 0.0),
        "Pa·m³/s": (10.0, 0.0),
        "Torr.l/s": (1013.25 / 760.0, 0.0),
        "Torr·l/s": (1013.25 / 760.0, 0.0),
        "sccm": (1.01325 / 60.0 * 293.15 / 273.15, 0.0),
    },
    "pumping_l_s": {
        "l/s": (1.0, 0.0),
        "L/s": (1.0, 0.0),
        "m3/h": (1.0 / 3.6, 0.0),
        "m³/h": (1.0 / 3.6, 0.0),
        "l/min": (1.0 / 60.0, 0.0),
        "L/min": (1.0 / 60.0, 0.0),
    },
}

_SIGNED = frozenset({"temperature_C", "angle_deg"})
"""What may lie below nothing."""


def units_of(dimension: str) -> list[str]:
    """The unit spellings to name for a dimension such as ``"length_nm"``.

    The Greek letter for a millionth is understood, too, and looks like the sign for it.
    """
    return [unit for unit in _UNITS[dimension] if unit and "\u03bc" not in unit]


def list_units() -> set[str]:
    """Every spelling of a unit, of whatever dimension."""
    return {unit for units in _UNITS.values() for unit in units if unit}


def parse_quantity(text: str, dimension: str, what: str) -> float:
    """Read one number with its unit.

    Parameters
    ----------
    text : str
        For instance ``"450C"``, ``"842 F"``, ``"1.5h"``.
    dimension : str
        Base quantity and unit of the result: ``length_nm``, ``length_mm``, ``area_cm2``,
        ``temperature_C``, ``time_s``, ``rate_nm_s``, ``pressure_mbar``, ``voltage_V``,
        ``current_A``, ``resistance_ohm``, ``volume_l``, ``leak_mbar_l_s``, ``pumping_l_s`` or
        ``angle_deg`` (degrees, the unit may be left out).
    what : str
        What the number is for, used in the message.

    Returns
    -------
    float
        The value in the base unit, finite.

    Raises
    ------
    InputError
        If the text is not a number followed by a unit of that dimension, or negative where
        nothing can be.
    """
    units = _UNITS[dimension]
    match = _QUANTITY.fullmatch(text)
    known = ", ".join(units_of(dimension))
    if match is None or not math.isfinite(float(match[1])):
        hint = suggest_point(text)
        raise InputError(f"{what} {shorten(text)!r} is not a number with a unit ({known}){hint}")
    number, unit = float(match[1]), match[2]
    if unit not in units:
        if hint := suggest_point(text):
            raise InputError(f"{what} {shorten(text)!r} has a comma in it{hint}")
        given = f"has the unknown unit {shorten(unit)!r}" if unit else "has no unit"
        right = f"use one of {known}" if "," in known else f"write it as {shorten(match[1])}{known}"
        raise InputError(f"{what} {shorten(text)!r} {given}; {right}")
    if number < 0.0 and dimension not in _SIGNED:
        right = shorten(text.strip().removeprefix("-"))
        raise InputError(f"{what} {shorten(text)!r} cannot be negative; write it as {right}")
    factor, offset = units[unit]
    value = number * factor + offset
    if size := _beyond(value, dimension):
        raise InputError(f"{what} {shorten(text)!r} is too {size} to calculate with")
    return value


_LEAST, _MOST = 1e-100, 1e100
"""Sizes in base units between which products and quotients of a few stay numbers."""


def _beyond(value: float, dimension: str) -> str:
    """How a value is out of what can be calculated with, ``small`` or ``large``; else empty."""
    if abs(value) > _MOST:
        return "large"
    # What may be negative is a place on a scale, and as near to its zero as it likes.
    return "small" if dimension not in _SIGNED and 0.0 < value < _LEAST else ""


def is_finite(value: float) -> bool:
    """Whether a number is finite; a whole number beyond any float counts as none."""
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def as_quantity(value: str | float, dimension: str, parameter: str) -> float:
    """A number in the base unit of a dimension, from a number or from text with a unit.

    Raises
    ------
    InputError
        If it is neither, not finite, or of another unit.
    """
    if isinstance(value, str):
        return parse_quantity(value, dimension, f"`{parameter}`")
    number = isinstance(value, numbers.Real) and not isinstance(value, bool)
    if not number or not is_finite(value):
        known, own = ", ".join(units_of(dimension)), dimension.rpartition("_")[2]
        raise InputError(
            f"`{parameter}` must be text with a unit ({known}) or a number [{own}], "
            f"not {value!r:.40}",
            parameter=parameter,
        )
    if size := _beyond(float(value), dimension):
        raise InputError(
            f"`{parameter}` is {value!r:.40}, too {size} to calculate with", parameter=parameter
        )
    return float(value)


_RANGE = re.compile(r"(.+?)\s*\.\.\s*(.+)")


def parse_range(text: str, dimension: str, what: str) -> tuple[float, float]:
    """Read a range such as ``0..250nm``; the first unit may be left out.

    Returns
    -------
    tuple of float
        Both ends in the base unit, the first below the second.

    Raises
    ------
    InputError
        If the text is not two numbers with a unit of that dimension, rising.
    """
    match = _RANGE.fullmatch(text.strip())
    if match is None:
        raise InputError(f"{what} {shorten(text)!r} is not a range such as 0..250nm")
    high_text = match[2]
    high = parse_quantity(high_text, dimension, what)
    unit = _QUANTITY.fullmatch(high_text)
    bare = re.fullmatch(rf"\s*{NUMBER}\s*", match[1])
    low_text = match[1] + (unit[2] if bare and unit else "")
    low = parse_quantity(low_text, dimension, what)
    if not low < high:
        raise InputError(f"{what} {shorten(text)!r} must run upwards, the smaller number first")
    return low, high


def parse_whole_numbers(text: str, count: int, what: str) -> tuple[int, ...]:
    """Read whole numbers separated by commas, such as the pixels ``12,40,300,40``.

    Raises
    ------
    InputError
        If there are not ``count`` of them, or one is negative, not whole or beyond all pixels.
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != count or not all(part.isascii() and part.isdigit() for part in parts):
        raise InputError(
            f"{what} {shorten(text)!r} is not {count} whole numbers separated by commas"
        )
    digits = [part.lstrip("0") for part in parts]
    if max(map(len, digits)) > 9:
        raise InputError(f"{what} {shorten(text)!r} holds a number of more than nine digits")
    return tuple(int(one or 0) for one in digits)


def format_digits(value: float, digits: int = 2) -> str:
    """A number with so many digits that count, large ones too without a power of ten: ``230``."""
    return f"{float(f'{value:.{digits}g}'):.10g}"


def format_duration(seconds: float) -> str:
    """A time in the units people set a clock by: ``45 s``, ``4 min 27 s``, ``3 h 20 min``."""
    if not math.isfinite(seconds):
        return "any time"
    whole = round(seconds)
    if seconds < 10.0:
        return f"{seconds:.2g} s"
    if whole < 120:
        return f"{whole} s"
    minutes, s = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes} min {s} s" if s else f"{minutes} min"
    hours, minutes = divmod(round(seconds / 60.0), 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"
