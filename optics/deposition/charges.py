"""What a charge is held in, what it does to the holder, and what is dangerous about it."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

BEAM_ONLY = "electron beam only"  # as charges.toml says it


@dataclass(frozen=True)
class Charge:
    """Remarks on a material in its holder; empty where nothing is held."""

    holder: str = ""
    attacks: str = ""
    hazard: str = ""


def charge_remarks(material: str) -> Charge:
    """What a charge is held in, what it attacks, what is dangerous about it."""
    return Charge(**_remarks().get(material, {}))


@cache
def _remarks() -> dict[str, dict[str, str]]:
    return tomllib.loads(files(__package__).joinpath("charges.toml").read_text("utf-8"))
