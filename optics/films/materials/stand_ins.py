"""Metals and alloys that have no data of their own: what stands for them, and what then differs."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True)
class StandIn:
    """What is used in place of an alloy.

    Attributes
    ----------
    name : str
        The alloy, in words.
    use : str
        Metal whose law of oxidation stands for its own; empty where none does.
    on : str
        Material whose optical constants stand for its own; empty where none do.
    expect : str
        How it differs, with how surely that is known and the source.
    refuse : str
        Why heat gives it no colour; empty where it may.
    write : str
        The mixture with air that a loose material is, in our notation; empty of a solid one.
    """

    name: str
    use: str
    on: str
    expect: str
    refuse: str
    write: str


def find_stand_in(name: str) -> StandIn | None:
    """What stands for an alloy by any of its names; a hyphen is as good as a space."""
    key = _names().get(_plain(name))
    if key is None:
        return None
    entry = _data()[key]
    use = str(entry.get("use", ""))
    told = "expect" in entry
    said = f"{entry['expect']} ({entry['confidence']}: {entry['source']})" if told else ""
    rest = (str(entry.get(name, "")) for name in ("refuse", "write"))
    return StandIn(key, use, str(entry.get("on", use)), said, *rest)


def mixture_of(name: str) -> str:
    """The mixture that a loose material is written as, ``C:air 90%`` of soot; empty of others."""
    found = find_stand_in(name)
    return "" if found is None else found.write


def metal_in_place_of(name: str) -> str:
    """Key of the metal whose law stands for an alloy of that name; empty where none does."""
    found = find_stand_in(name)
    return "" if found is None else found.use


def stand_in_names() -> list[str]:
    """Alloys that another metal stands for, in the order of the data file."""
    return [key for key, entry in _data().items() if "use" in entry]


def stand_in_aliases() -> list[str]:
    """All other names of metals and alloys that something stands for."""
    told = (entry for entry in _data().values() if "use" in entry or "on" in entry)
    return [alias for entry in told for alias in entry["aliases"]]


def names_of_words() -> list[str]:
    """All names of such metals and alloys that are more than one word, the longest first."""
    each = (one for key, entry in _data().items() for one in (key, *entry["aliases"]))
    return sorted((one for one in each if " " in one), key=len, reverse=True)


def _plain(name: str) -> str:
    return name.strip().casefold().replace("-", " ")


@cache
def _names() -> dict[str, str]:
    """Key of each name in plain form."""
    return {_plain(one): key for key, entry in _data().items() for one in (key, *entry["aliases"])}


@cache
def _data() -> dict[str, dict[str, Any]]:
    return tomllib.loads(files(__package__).joinpath("stand_ins.toml").read_text("utf-8"))
