"""A vacuum chamber described once: volume, pump, gauge, and the gas that comes in by itself."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any, Literal, get_args

from ..errors import InputError, LimitError, OutOfRangeError, UnknownNameError, suggest_nearest
from ..files.columns import decode_text, read_bytes
from ..units import is_finite, parse_quantity
from .gases import read_data
from .pump import Pump, as_tube
from .rise_test import GasInflow, RiseTest, parse_rise, read_inflow

Gauge = Literal["absolute", "pirani", "ion"]
Residue = Literal["water", "air"]
MOST_BYTES = 8_000
"""Longest description that is read: the parser's time grows as the square of a bad one."""
_WORKING_GASES = {"argon": "Ar", "ar": "Ar", "nitrogen": "N2", "n2": "N2", "air": "air"}


@dataclass(frozen=True)
class Jar:
    """A chamber as it stands on the bench, the same for every run in it.

    Attributes
    ----------
    volume_l : float
        Volume [l].
    pump : Pump or None
        None where its speed is not known: then no film is credited with pumping.
    leak_mbar_l_s : float or None
        Air that leaks in [mbar l/s].
    outgassing_mbar_l_s : float or None
        Gas off the walls after an hour of pumping, mostly water [mbar l/s].
    rise : RiseTest or None
        Pressures with the valve shut, in place of the two.
    base_mbar : float or None
        Pressure that the pump holds without working gas [mbar].
    residue : {"water", "air"}
        What that pressure is of, where no leak is given.
    walls_cm2 : float or None
        Inner surface [cm²]; by default that of a cylinder as high as wide.
    plastic : bool
        Whether masks, tape or parts of plastic, paint or grease are in it.
    gauge : {"absolute", "pirani", "ion"}
        What pressures with working gas are read on.
    name : str

    Raises
    ------
    InputError
        If a number is not possible, or flows are given twice.
    """

    volume_l: float = 3.0
    pump: Pump | None = None
    leak_mbar_l_s: float | None = None
    outgassing_mbar_l_s: float | None = None
    rise: RiseTest | None = None
    base_mbar: float | None = None
    residue: Residue = "water"
    walls_cm2: float | None = None
    plastic: bool = False
    gauge: Gauge = "absolute"
    name: str = ""

    def __post_init__(self) -> None:
        _check_span("volume", self.volume_l, (1e-2, 1e5), "l")
        _check_span("leak", self.leak_mbar_l_s, (0.0, 1e3), "mbar l/s")
        _check_span("outgassing", self.outgassing_mbar_l_s, (0.0, 1e3), "mbar l/s")
        _check_span("base_pressure", self.base_mbar, (1e-12, 10.0), "mbar")
        _check_span("walls", self.walls_cm2, (1.0, 1e7), "cm²")
        _check_choice("gauge", self.gauge, get_args(Gauge))
        _check_choice("residue", self.residue, get_args(Residue))
        if self.rise is not None and self.leak_mbar_l_s is not None:
            raise InputError("`rise` gives the leak; leave out `leak`", parameter="rise")

    @property
    def inner_cm2(self) -> float:
        """Inner surface [cm²]: ``6π (V/2π)^(2/3)`` for a cylinder as high as wide."""
        if self.walls_cm2 is not None:
            return self.walls_cm2
        return float(6.0 * math.pi * (1e3 * self.volume_l / (2.0 * math.pi)) ** (2.0 / 3.0))

    @cached_property
    def inflow(self) -> GasInflow | None:
        """What the rise test says; None without one."""
        return None if self.rise is None else read_inflow(self.rise, self.volume_l)

    def true_pressure_mbar(self, reading_mbar: float, gas: str = "Ar") -> float:
        """Pressure that is there where the gauge, set for air, shows a reading in one gas [mbar].

        Raises
        ------
        OutOfRangeError
            If the gauge cannot be read so high.
        """
        highest = float(read_data()["gauge"][self.gauge]["highest_mbar"])
        if reading_mbar > highest:
            raise OutOfRangeError(
                f"a gauge of the kind {self.gauge} tells nothing above {highest:g} "
                f"mbar; the reading is {reading_mbar:g} mbar"
            )
        return float(reading_mbar) * gauge_factor(self.gauge, gas)


def gauge_factor(gauge: Gauge, gas: str) -> float:
    """True pressure over the reading of a gauge set for air [-]."""
    return float(read_data()["gauge"][gauge].get(gas, 1.0))


def working_gas_of(text: str | None) -> str | None:
    """A working gas by its name: ``argon`` or ``nitrogen``, as ``Ar`` or ``N2``; None for none.

    Raises
    ------
    UnknownNameError
        If it is none of these.
    """
    if text is None or text.lower() in ("", "none"):
        return None
    found = _WORKING_GASES.get(text.lower())
    if found is None:
        offer = suggest_nearest(text, ["argon", "nitrogen", "air"])
        raise UnknownNameError(
            f"`working_gas` must be argon, nitrogen or air, not {text!r:.40}"
            f"{'; ' + offer if offer else ''}",
            parameter="working_gas",
        )
    return found


def read_working(
    jar: Jar, working_gas: str | None, working_pressure: str | float | None
) -> tuple[tuple[str, float] | None, float | None]:
    """Working gas, argon where none is named, with its true pressure; and what the gauge shows.

    Raises
    ------
    InputError
        If one is there without the other, or a part is not understood.
    """
    gas = working_gas_of(working_gas)
    if working_pressure is None:
        if gas is not None:
            raise InputError(
                "`working_gas` needs `working_pressure` with it", parameter="working_pressure"
            )
        return None, None
    if working_gas is not None and gas is None:
        raise InputError(
            f"`working_pressure` is of a gas let in, and `working_gas` is {working_gas!r}; leave "
            f"out the pressure, or name the gas",
            parameter="working_pressure",
        )
    gas = gas or "Ar"
    reading = read_number("working_pressure", working_pressure, "pressure_mbar")
    return (gas, jar.true_pressure_mbar(reading, gas)), reading


_FIELDS: dict[str, tuple[str, str]] = {  # as written -> field of Jar, dimension
    "volume": ("volume_l", "volume_l"),
    "leak": ("leak_mbar_l_s", "leak_mbar_l_s"),
    "outgassing": ("outgassing_mbar_l_s", "leak_mbar_l_s"),
    "base_pressure": ("base_mbar", "pressure_mbar"),
    "walls": ("walls_cm2", "area_cm2"),
}
_PUMP_FIELDS = {"pumping": "pumping_l_s", "ultimate": "pressure_mbar"}
_PLAIN: dict[str, type] = {"residue": str, "plastic": bool, "gauge": str, "name": str}


def make_jar(base: Jar | None = None, /, **written: Any) -> Jar:
    """A jar from its parts as they are written.

    Parameters
    ----------
    base : Jar, optional
        What the parts that are not given are taken from.
    **written
        ``volume="3l"``, ``pumping="2l/s"``, ``ultimate="1e-3mbar"``, ``tube="1m,8mm"``,
        ``leak="1e-3mbar.l/s"``, ``outgassing=...``, ``rise="5e-3mbar,5e-2mbar,60s"``,
        ``base_pressure="1e-5mbar"``, ``residue="air"``, ``walls="1200cm2"``, ``plastic=True``,
        ``gauge="pirani"``, ``name="bell jar"``; None counts as not given. A number has the unit
        of the field: l, l/s, mbar, mbar l/s, cm².

    Raises
    ------
    InputError
        If a part is not known or is refused.
    """
    given = {name: value for name, value in written.items() if value is not None}
    known = [*_FIELDS, *_PUMP_FIELDS, *_PLAIN, "tube", "rise"]
    for name in given:
        if name not in known:
            offer = suggest_nearest(name, known) or f"it has {', '.join(known)}"
            raise UnknownNameError(f"a jar has no {name[:40]!r}; {offer}")
    base = Jar() if base is None else base
    parts: dict[str, Any] = {
        field: read_number(name, given[name], dimension)
        for name, (field, dimension) in _FIELDS.items()
        if name in given
    }
    for name, kind in _PLAIN.items():
        if name in given:
            if not isinstance(given[name], kind):
                what = "true or false" if kind is bool else "a text"
                raise InputError(f"`{name}` must be {what}", parameter=name)
            parts[name] = given[name]
    if "rise" in given:
        parts["rise"] = parse_rise(given["rise"])
        parts.setdefault("leak_mbar_l_s", None)
    elif "leak" in given:
        parts["rise"] = None
    return replace(base, **parts, pump=_read_pump(given, base.pump))


def as_jar(jar: Jar | Mapping[str, Any] | str | Path | None, **written: Any) -> Jar:
    """A jar from itself, from its parts as written, or from the file that describes it.

    Parameters
    ----------
    jar : Jar, mapping, str, Path or None
        A text is the name of a TOML file.
    **written
        Parts in place of the jar's own; see :func:`make_jar`.

    Raises
    ------
    InputError
        If it is none of these, the file cannot be read, or a part is refused.
    """
    if jar is None or isinstance(jar, Jar):
        return make_jar(jar, **written)
    if isinstance(jar, Mapping):
        return make_jar(make_jar(**{str(name): value for name, value in jar.items()}), **written)
    if isinstance(jar, str | Path):
        return make_jar(read_jar(Path(jar)), **written)
    raise InputError(
        f"`jar` must be a Jar or the name of its file, not {jar!r:.80}", parameter="jar"
    )


def read_jar(path: Path) -> Jar:
    """The jar that a TOML file describes, by the names of :func:`make_jar`.

    Raises
    ------
    InputError
        If it cannot be read, is too long, is no TOML, or a part is refused.
    """
    try:
        raw = read_bytes(path, MOST_BYTES)
    except LimitError:
        raise InputError(
            f"`jar` {path.name!r} is longer than {MOST_BYTES:,} bytes; a description has some ten "
            f'lines such as volume = "3l"',
            parameter="jar",
        ) from None
    except InputError as error:
        raise InputError(f"cannot read `jar`: {error}", parameter="jar") from None
    try:
        written = tomllib.loads(decode_text(raw, path.name))
    except (ValueError, RecursionError) as error:
        why = " ".join(str(error).split())[:120]
        raise InputError(
            f'`jar` {path.name!r} is no TOML file of lines such as volume = "3l": {why}',
            parameter="jar",
        ) from None
    try:
        return make_jar(**written)
    except InputError as error:
        raise InputError(f"{path.name}: {error}", parameter=error.parameter) from None


def _read_pump(given: Mapping[str, Any], base: Pump | None) -> Pump | None:
    pump = given.get("pumping", base)
    if pump is None:
        for name in ("ultimate", "tube"):
            if name in given:
                raise InputError(f"`{name}` needs `pumping` with it", parameter=name)
        return None
    if not isinstance(pump, Pump):
        speed = read_number("pumping", pump, "pumping_l_s")
        pump = Pump(speed) if base is None else replace(base, speed_l_s=speed)
    if "ultimate" in given:
        lowest = read_number("ultimate", given["ultimate"], "pressure_mbar")
        pump = replace(pump, ultimate_mbar=lowest)
    return replace(pump, tube=as_tube(given["tube"])) if "tube" in given else pump


def read_number(name: str, value: object, dimension: str) -> float:
    """A quantity written with its unit, or a number in the unit of the program.

    Raises
    ------
    InputError
        If it is neither.
    """
    if isinstance(value, str):
        return parse_quantity(value, dimension, f"`{name}`")
    if isinstance(value, bool) or not isinstance(value, int | float) or not is_finite(value):
        raise InputError(
            f"`{name}` must be a text with a unit or a number, not {value!r:.80}", parameter=name
        )
    return float(value)


def _check_span(name: str, value: float | None, span: tuple[float, float], unit: str) -> None:
    if value is not None and not span[0] <= value <= span[1]:
        raise OutOfRangeError(
            f"`{name}` is {value:g} {unit}; it must be {span[0]:g} to {span[1]:g} {unit}",
            parameter=name,
        )


def _check_choice(name: str, value: str, known: tuple[str, ...]) -> None:
    if value not in known:
        offer = suggest_nearest(str(value), list(known)) or f"use {', '.join(known)}"
        raise UnknownNameError(f"`{name}` cannot be {value!r:.40}; {offer}", parameter=name)
