"""What a person writes about a run, read into plain numbers: rates, size, tooling."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..deposition.geometry import Piece
from ..deposition.setup import tooling_factor
from ..errors import InputError, OutOfRangeError, shorten
from ..films.materials.catalogue import find_entry
from ..units import NUMBER, parse_quantity

_SLOWEST_NM_S, _FASTEST_NM_S = 1e-4, 1e4
_SIDES = re.compile(rf"\s*({NUMBER})\s*([^\W\d_]*)\s*[x×]\s*({NUMBER})\s*([^\W\d_]+)\s*")


@dataclass(frozen=True)
class Rates:
    """Growth in the middle of the piece [nm/s]: one for all, and exceptions by material.

    Raises
    ------
    OutOfRangeError
        If a rate is not 0.0001 to 10000 nm/s.
    """

    default_nm_s: float = 1.0
    by_material: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        for rate in (self.default_nm_s, *(rate for _, rate in self.by_material)):
            if not _SLOWEST_NM_S <= rate <= _FASTEST_NM_S:
                raise OutOfRangeError(
                    f"the rate is {rate:g} nm/s; it must be {_SLOWEST_NM_S:g} to "
                    f"{_FASTEST_NM_S:g} nm/s"
                )

    def of(self, name: str) -> float:
        """The rate for a material [nm/s]."""
        return dict(self.by_material).get(name, self.default_nm_s)


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
        value = parse_quantity(rate, "rate_nm_s", "--rate")
        if not mark:
            default.append(value)
            continue
        entry = find_entry(name.strip())
        if entry.name in named:
            raise InputError(f"the rate of {entry.name} is given twice")
        named[entry.name] = value
    if len(default) > 1:
        raise InputError("two rates are given for all layers; name the material, as Al=10nm/s")
    return Rates(default[0] if default else 1.0, tuple(named.items()))


def parse_piece(text: str) -> Piece:
    """Read ``50mm``, a round piece, or ``25x75mm``, a rectangle.

    Raises
    ------
    InputError
        If it is neither, or the size is not possible.
    """
    sides = _SIDES.fullmatch(text)
    if sides is None:
        across = parse_quantity(text, "length_mm", "--size")
        return Piece(across, across)
    width, height = (
        parse_quantity(number + (unit or sides[4]), "length_mm", "--size")
        for number, unit in ((sides[1], sides[2]), (sides[3], sides[4]))
    )
    return Piece(width, height, round=False)


def parse_tooling(text: str) -> float:
    """Read a tooling factor, ``1.1``, or what was measured over what was reckoned, ``99nm/90nm``.

    Raises
    ------
    InputError
        If it is neither.
    """
    measured, mark, reckoned = text.partition("/")
    if mark:
        values = (parse_quantity(part, "length_nm", "--tooling") for part in (reckoned, measured))
        return tooling_factor(*values)
    if re.fullmatch(rf"\s*{NUMBER}\s*", text) is None:
        raise InputError(
            f"--tooling {shorten(text)!r} is neither a factor such as 1.1 nor measured over "
            f"reckoned thickness such as 99nm/90nm"
        )
    return float(text)
