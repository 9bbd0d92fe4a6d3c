"""Keep or remove the tint beside a weld on stainless steel? What published criteria say of it.

They are rules for kinds of work, and their pictures and words decide, not ours: what is said here
is guidance for the one who then asks the specification of the job.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, ClassVar

from ..colour.colour import hex_and_name
from ..colour.conditions import ViewingConditions
from ..colour.illuminants import white_xyz
from ..colour.names import colour_names
from ..colour.spaces import lab_to_xyz
from ..errors import InputError, shorten
from ..gauge.gauge import gauge
from ..inference.reading import Reading, parse_reading
from ..oxidation.metals import find_metal
from ..result import Result

_LEAST_SHARE = 0.02
_MOST_NM = 250.0
ADVICE = (
    "the specification of the job and its inspector decide, and they go by their own pictures; "
    "where nothing is specified and water or anything corrosive touches the steel, makers of "
    "stainless advise to remove every tint, since the steel beneath it has lost chromium; where "
    "the steel works hot it may stay (bsstainless.com)"
)
SAFETY = (
    "Pickling pastes hold nitric and hydrofluoric acid, which burns deep and poisons: only for "
    "trained people, with the protection, the first aid and the disposal that local rules ask for.",
    "Grinding dust of stainless steel and welding fume hold chromium compounds: extract them and "
    "wear a mask that suits them.",
    "These notes do not replace local codes or licensed practice; where they differ, follow those.",
)


@dataclass(frozen=True)
class WeldVerdict:
    """What one criterion says.

    Attributes
    ----------
    criterion, where : str
        Its name, and the work it is for.
    says : str
        Its rule.
    keep, compare, remove : float
        Probability that the colour may stay, that its own pictures must decide, or that it goes.
    source : str
    """

    criterion: str
    where: str
    says: str
    keep: float
    compare: float
    remove: float
    source: str

    @property
    def verdict(self) -> str:
        """The likeliest of the three, in words."""
        said = {"may stay": self.keep, "compare": self.compare, "remove": self.remove}
        return max(said, key=lambda one: said[one])


@dataclass(frozen=True, eq=False, repr=False)
class WeldTint(Result):
    """Whether published criteria let a weld's tint stay.

    Attributes
    ----------
    seen : str
    names : dict
        Names of the colour with their probabilities.
    thickness_nm, interval90_nm
        Of the oxide that shows it, or None where no oxide in question does.
    criteria : tuple of WeldVerdict
    advice : str
    cautions : tuple of str
    """

    verb: ClassVar[str] = "tint"
    rows: ClassVar[str] = "criteria"

    metal: str
    metal_name: str
    seen: str
    names: dict[str, float]
    thickness_nm: float | None
    interval90_nm: tuple[float, float] | None
    criteria: tuple[WeldVerdict, ...]
    advice: str
    cautions: tuple[str, ...]


def weld_tint(metal: str, seen: str | Reading) -> WeldTint:
    """What published criteria say of the tint beside a weld.

    Parameters
    ----------
    metal : str
        A stainless steel.
    seen : str or Reading
        The deepest colour of the tint: a word, ``#hex`` or ``L,a,b``.

    Raises
    ------
    InputError
        If the metal is no stainless steel or the colour is refused.
    """
    steel = find_metal(metal)
    if steel.key != "stainless":
        raise InputError(
            f"criteria for weld tint are of stainless steel, and {steel.name} is none",
            parameter="metal",
        )  # fmt: skip
    if not isinstance(seen, str | Reading):
        raise InputError(
            f"`seen` must be a colour such as 'dark blue', not {shorten(repr(seen))}",
            parameter="seen",
        )
    reading = parse_reading(seen) if isinstance(seen, str) else seen
    names = _share_names(reading)
    found = gauge(steel.films, steel.on, reading, between_nm=(0.0, _MOST_NM))
    return WeldTint(
        steel.key, steel.name, reading.text, names,
        found.thickness_nm if found.fits else None,
        found.interval90_nm if found.fits else None,
        tuple(_judge(name, entry, names) for name, entry in _criteria().items()),
        ADVICE, SAFETY,
    )  # fmt: skip


def _share_names(reading: Reading) -> dict[str, float]:
    """What the colour may be called, the likeliest first; one of our own names is meant as such,
    for the trade's straw is deeper than what most people call so."""
    if (word := reading.text.strip().casefold()) in colour_names():
        return {word: 1.0}
    viewing = ViewingConditions()
    white = white_xyz(viewing.light, viewing.observer)
    names = hex_and_name(lab_to_xyz(reading.points_lab, white), viewing)[1]
    share: Counter[str] = Counter()
    for name, weight in zip(names.tolist(), reading.weight.tolist(), strict=True):
        share[name] += weight / float(reading.weight.sum())
    kept = {name: part for name, part in share.most_common() if part >= _LEAST_SHARE}
    return {name: part / sum(kept.values()) for name, part in kept.items()}


def _judge(name: str, entry: dict[str, Any], names: dict[str, float]) -> WeldVerdict:
    keep = sum(part for colour, part in names.items() if colour in entry["keeps"])
    compare = sum(
        part for colour, part in names.items()
        if colour not in entry["keeps"] and {colour, "*"} & set(entry["compare"])
    )  # fmt: skip
    remove = max(0.0, 1.0 - keep - compare)
    return WeldVerdict(name, entry["where"], entry["says"], keep, compare, remove, entry["source"])


@cache
def _criteria() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("weld.toml").read_text("utf-8"))
