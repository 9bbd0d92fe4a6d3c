"""What can be made of each material, and what to mind: least and most thickness, stress, tarnish.

The numbers lie in ``practice.toml``, each with its source. A metal below the thickness at which its
islands touch has neither the colour nor the emittance of its optical data, which are those of
closed films, and is not proposed.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from ..deposition.charges import charge_remarks
from ..electrical.thin_film import conducting_metals, film_metal
from ..errors import InputError, shorten
from ..films.materials.catalogue import find_entry
from ..films.materials.medium import Medium
from ..films.notation import parse_medium
from ..units import NUMBER, parse_quantity

_LIMIT = re.compile(
    rf"\s*([^=]+?)\s*=\s*({NUMBER}\s*[^\W\d_]*)?\s*\.\.\s*({NUMBER}\s*[^\W\d_]+)?\s*"
)
_ASPECTS = ("stress", "adhesion", "tarnish")


@dataclass(frozen=True)
class MaterialLimit:
    """How thick one film of a material may be.

    Attributes
    ----------
    material : str
    thinnest_nm, thickest_nm : float or None
        None for what holds of any film.
    why : str
        Empty for what was asked for.
    source : str
    """

    material: str
    thinnest_nm: float | None = None
    thickest_nm: float | None = None
    why: str = ""
    source: str = ""

    @property
    def holds(self) -> bool:
        """Whether it limits anything."""
        return self.thinnest_nm is not None or self.thickest_nm is not None


@dataclass(frozen=True)
class PracticeRemark:
    """What to mind about films of a material.

    Attributes
    ----------
    material : str
    about : {"stress", "adhesion", "tarnish", "evaporation"}
    remark, source : str
    """

    material: str
    about: str
    remark: str
    source: str


def as_limits(limits: Sequence[MaterialLimit | str] | str) -> tuple[MaterialLimit, ...]:
    """Limits from what a caller gave: objects, or texts such as ``Ag=10..60nm``.

    Raises
    ------
    InputError
        If it is none of these, or a text is refused.
    """
    several = limits.split(",") if isinstance(limits, str) else limits
    return tuple(_parse_limit(one) if isinstance(one, str) else one for one in several)


def _parse_limit(text: str) -> MaterialLimit:
    match = _LIMIT.fullmatch(text)
    if match is None or not (match[2] or match[3]):
        raise InputError(
            f"`limits` are written as 'Ag=10..60nm', 'SiO2=..300nm' or 'Ag=10nm..', "
            f"not {shorten(text)!r}",
            parameter="limits",
        )
    low, high = (part and part.strip() for part in match.group(2, 3))
    if low and high and re.fullmatch(NUMBER, low):
        low += re.sub(rf"^{NUMBER}\s*", "", high)
    least, most = (
        parse_quantity(end, "length_nm", "`limits`") if end else None for end in (low, high)
    )
    if least is not None and most is not None and not 0.0 < least < most:
        raise InputError(f"`limits` {shorten(text)!r} must rise", parameter="limits")
    return MaterialLimit(parse_medium(match[1]).label, least, most)


def limits_for(
    palette: Sequence[Medium], asked: Sequence[MaterialLimit] = ()
) -> tuple[MaterialLimit, ...]:
    """One limit for each medium: as asked, or what is good practice.

    Raises
    ------
    InputError
        If a limit is asked of a material that is not in the palette.
    """
    by_label = {one.material: one for one in asked}
    for label in by_label:
        if label not in [medium.label for medium in palette]:
            raise InputError(
                f"`limits` names {label}, which is not among the materials", parameter="limits"
            )
    return tuple(by_label.get(medium.label) or _usual_limit(medium.label) for medium in palette)


def _usual_limit(label: str) -> MaterialLimit:
    name = _plain(label)
    row = practice().get(name, {})
    thinnest, why = row.get("thinnest_nm"), row.get("why", "")
    source = row.get("source", "")
    if thinnest is None and name in conducting_metals():
        metal = film_metal(name)
        thinnest, source = metal.percolation_nm[1], "common practice, no source"
        why = why or f"thinner films of {name} may be islands, not a closed metal"
    return MaterialLimit(label, thinnest, row.get("thickest_nm"), why, source)


def remarks_of(labels: Sequence[str]) -> tuple[PracticeRemark, ...]:
    """What to mind about films of these media: stress, adhesion, tarnish, what no boat holds."""
    found = []
    for name in dict.fromkeys(_plain(label) for label in labels):
        row = practice().get(name, {})
        found += [
            PracticeRemark(name, about, row[about], row["source"])
            for about in _ASPECTS
            if about in row
        ]
        holder = charge_remarks(name).holder
        if holder.startswith("electron beam"):  # what people without one must know
            found.append(PracticeRemark(name, "evaporation", holder, "common practice, no source"))
    return tuple(found)


def _plain(label: str) -> str:
    """The material's name of a label that names a data set too; the label of what is none."""
    try:
        return find_entry(label).name
    except InputError:
        return label


@cache
def practice() -> dict[str, Any]:
    """The table, by material."""
    text = files(__package__).joinpath("practice.toml").read_text("utf-8")
    return tomllib.loads(text)
