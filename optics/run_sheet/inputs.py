"""What a person writes about a run, read into objects: setup, chamber, rates, size, tooling."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..deposition.geometry import Piece, Placement, Source, SourceKind
from ..deposition.residual_gas import Chamber
from ..deposition.setup import Setup, tooling_factor
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


def as_setup(
    setup: Setup | None,
    source: Source | SourceKind | None,
    distance: str | None,
    size: str | None,
) -> Setup:
    """The chamber's mechanics, whole or from its parts; what is not given is as usual.

    Raises
    ------
    InputError
        If both are given, or a part is refused.
    """
    parts = {"source": source, "distance": distance, "size": size}
    given = [name for name, value in parts.items() if value is not None]
    if setup is not None:
        if not isinstance(setup, Setup):
            raise InputError(f"`setup` is a Setup, not {setup!r:.80}", parameter="setup")
        if given:
            raise InputError(
                f"`{given[0]}` is part of `setup`; give one of them", parameter="setup"
            )
        return setup
    for name in ("distance", "size"):
        if not isinstance(parts[name], str | None):
            raise InputError(
                f"`{name}` is a text with a unit such as '30cm', not {parts[name]!r:.80}",
                parameter=name,
            )
    return Setup(
        source if isinstance(source, Source) else Source(source or "boat"),
        Placement(parse_quantity(distance or "30cm", "length_mm", "`distance`")),
        parse_piece(size or "50mm"),
    )


def as_chamber(chamber: Chamber | None, pressure: str | None) -> Chamber:
    """The residual gas, whole or by its pressure alone; 1e-5 mbar of water where none is given.

    Raises
    ------
    InputError
        If both are given, or one is refused.
    """
    if chamber is None:
        if not isinstance(pressure, str | None):
            raise InputError(
                f"`pressure` is a text with a unit such as '1e-5mbar', not {pressure!r:.80}",
                parameter="pressure",
            )
        return Chamber(parse_quantity(pressure or "1e-5mbar", "pressure_mbar", "`pressure`"))
    if not isinstance(chamber, Chamber):
        raise InputError(f"`chamber` is a Chamber, not {chamber!r:.80}", parameter="chamber")
    if pressure is not None:
        raise InputError("`pressure` is part of `chamber`; give one of them", parameter="chamber")
    return chamber


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
        across = parse_quantity(text, "length_mm", "`size`")
        return Piece(across, across)
    width, height = (
        parse_quantity(number + (unit or sides[4]), "length_mm", "`size`")
        for number, unit in ((sides[1], sides[2]), (sides[3], sides[4]))
    )
    return Piece(width, height, round=False)


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
