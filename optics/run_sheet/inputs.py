"""What a person writes about a run, read into objects: setup, rates, size, tooling."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..deposition.geometry import Coil, Piece, Placement, Source
from ..deposition.setup import Heater, Setup, tooling_factor
from ..errors import InputError, OutOfRangeError, UnknownNameError, shorten, suggest_nearest
from ..films.materials.catalogue import find_entry
from ..units import NUMBER, parse_quantity

_SLOWEST_NM_S, _FASTEST_NM_S = 1e-4, 1e4
_SIDES = re.compile(rf"\s*({NUMBER})\s*([^\W\d_]*)\s*[x×]\s*({NUMBER})\s*([^\W\d_]+)\s*")


@dataclass(frozen=True)
class Rates:
    """Growth in the middle of the piece [nm/s]: one for all, and exceptions by material.

    None leaves the rate to what the source gives.

    Raises
    ------
    OutOfRangeError
        If a rate is not 0.0001 to 10000 nm/s.
    """

    default_nm_s: float | None = None
    by_material: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        for rate in (self.default_nm_s, *(rate for _, rate in self.by_material)):
            if rate is not None and not _SLOWEST_NM_S <= rate <= _FASTEST_NM_S:
                raise OutOfRangeError(
                    f"the rate is {rate:g} nm/s; it must be {_SLOWEST_NM_S:g} to "
                    f"{_FASTEST_NM_S:g} nm/s"
                )

    def of(self, name: str) -> float | None:
        """The rate for a material [nm/s]; None where none is given."""
        return dict(self.by_material).get(name, self.default_nm_s)


_LENGTHS = {"distance": "30cm", "offset": "0mm", "wire_length": "50mm", "ring": "0mm"}
_NUMBERS = {
    "area": "area_cm2",
    "wire_diameter": "length_mm",
    "current": "current_A",
    "voltage": "voltage_V",
    "melted_at": "current_A",
    "cold_ohms": "resistance_ohm",
}
_OTHERS = ("source", "size", "tilt", "turning", "focus", "wire", "coil", "tooling")


def make_setup(**written: Any) -> Setup:
    """A chamber's mechanics from its parts as they are written.

    Parameters
    ----------
    **written
        ``source="boat"``, ``distance="30cm"``, ``size="50mm"``, ``offset``, ``tilt="5"``,
        ``turning=True``, ``focus=1.0``, ``ring="40mm"``, ``area="1cm2"``, ``wire="Ti"``,
        ``wire_diameter="0.4mm"``, ``wire_length="200mm"``, ``coil="5mm,0.8mm"``,
        ``current="4.8A"``, ``voltage="500V"``, ``melted_at="5.4A"``, ``cold_ohms="0.7ohm"``,
        ``tooling="99nm/90nm"``; None counts as not given, and what is not given is as usual.

    Raises
    ------
    InputError
        If a part is not known or is refused.
    """
    given = {name: value for name, value in written.items() if value is not None}
    known = [*_LENGTHS, *_NUMBERS, *_OTHERS]
    for name in given:
        if name not in known:
            offer = suggest_nearest(name, known) or f"it has {', '.join(known)}"
            raise UnknownNameError(f"a setup has no {name[:40]!r}; {offer}")
    for name in (*_LENGTHS, *_NUMBERS, "size", "coil", "tilt", "tooling", "wire"):
        if not isinstance(given.get(name, ""), str):
            raise InputError(
                f"`{name}` is a text such as '30cm', not {given[name]!r:.80}", parameter=name
            )
    length = {
        name: parse_quantity(given.get(name, usual), "length_mm", f"`{name}`")
        for name, usual in _LENGTHS.items()
    }
    number = {
        name: parse_quantity(given[name], dimension, f"`{name}`") if name in given else None
        for name, dimension in _NUMBERS.items()
    }
    source, coil = given.get("source", "boat"), given.get("coil")
    if not isinstance(source, Source):
        source = Source(
            source, float(given.get("focus", 1.0)), length["wire_length"], length["ring"],
            None if coil is None else parse_coil(coil),
        )  # fmt: skip
    return Setup(
        source,
        Placement(
            length["distance"],
            length["offset"],
            parse_quantity(given.get("tilt", "0"), "angle_deg", "`tilt`"),
            bool(given.get("turning", False)),
        ),
        parse_piece(given.get("size", "50mm")),
        Heater(
            number["area"], number["wire_diameter"], given.get("wire"), number["current"],
            number["voltage"], number["melted_at"], number["cold_ohms"],
        ),
        parse_tooling(given.get("tooling", "1")),
    )  # fmt: skip


def as_setup(setup: Setup | Mapping[str, Any] | None, **parts: Any) -> Setup:
    """The chamber's mechanics, whole or from its parts as :func:`make_setup` takes them.

    Raises
    ------
    InputError
        If both are given, or a part is refused.
    """
    given = [name for name, value in parts.items() if value is not None]
    if setup is None:
        return make_setup(**parts)
    if not isinstance(setup, Setup | Mapping):
        raise InputError(f"`setup` is a Setup, not {setup!r:.80}", parameter="setup")
    if given:
        raise InputError(f"`{given[0]}` is part of `setup`; give one of them", parameter="setup")
    return setup if isinstance(setup, Setup) else make_setup(**setup)


def as_rates(rate: Rates | str | Sequence[str] | None) -> Rates:
    """Rates from what a caller gave: themselves, or how one or several are written.

    Raises
    ------
    InputError
        If it is none of these, or a text is refused.
    """
    if isinstance(rate, Rates):
        return rate
    texts = rate.split(",") if isinstance(rate, str) else rate or ()
    if not isinstance(texts, Sequence) or not all(isinstance(text, str) for text in texts):
        raise InputError(
            f"`rate` is a text such as '1nm/s, Al=10nm/s', a list of them or Rates, "
            f"not {rate!r:.80}",
            parameter="rate",
        )
    return parse_rates(texts)


def parse_rates(texts: Sequence[str]) -> Rates:
    """Read ``1nm/s`` for all layers and ``Al=10nm/s`` for one material.

    Raises
    ------
    InputError
        If a text is neither, a material is named twice, or two rates are for all.
    """
    default: list[float] = []
    named: dict[str, float] = {}
    for text in texts:
        name, mark, rate = text.rpartition("=")
        value = parse_quantity(rate, "rate_nm_s", "`rate`")
        if not mark:
            default.append(value)
            continue
        entry = find_entry(name.strip())
        if entry.name in named:
            raise InputError(f"the rate of {entry.name} is given twice")
        named[entry.name] = value
    if len(default) > 1:
        raise InputError("two rates are given for all layers; name the material, as Al=10nm/s")
    return Rates(default[0] if default else None, tuple(named.items()))


def parse_piece(text: str) -> Piece:
    """Read ``50mm``, a round piece, or ``25x75mm``, a rectangle.

    Raises
    ------
    InputError
        If it is neither, or the size is not possible.
    """
    sides = _SIDES.fullmatch(text)
    if sides is None:
        across = parse_quantity(text, "length_mm", "`size`")
        return Piece(across, across)
    width, height = (
        parse_quantity(number + (unit or sides[4]), "length_mm", "`size`")
        for number, unit in ((sides[1], sides[2]), (sides[3], sides[4]))
    )
    return Piece(width, height, round=False)


def parse_coil(text: str) -> Coil:
    """Read ``5mm,0.8mm``: diameter of a coil from wire to wire, and its pitch.

    Raises
    ------
    InputError
        If it is not written so, or the coil is not possible.
    """
    parts = text.split(",")
    if len(parts) != 2:
        raise InputError(
            f"`coil` is the diameter and the pitch of a coil, such as '5mm,0.8mm', not "
            f"{shorten(text)!r}",
            parameter="coil",
        )
    return Coil(*(parse_quantity(part, "length_mm", "`coil`") for part in parts))


def parse_tooling(text: str) -> float:
    """Read a tooling factor, ``1.1``, or measured over computed thickness, ``99nm/90nm``.

    Raises
    ------
    InputError
        If it is neither.
    """
    measured, mark, computed = text.partition("/")
    if mark:
        values = (parse_quantity(part, "length_nm", "`tooling`") for part in (computed, measured))
        return tooling_factor(*values)
    if re.fullmatch(rf"\s*{NUMBER}\s*", text) is None:
        raise InputError(
            f"`tooling` {shorten(text)!r} is neither a factor such as 1.1 nor measured over "
            f"computed thickness such as 99nm/90nm"
        )
    return float(text)
