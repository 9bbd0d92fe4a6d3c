"""The oxide that heat grows on a metal: which films it may be, and how thick it usually is."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from .._typing import FloatArray
from ..errors import InputError
from ..films.materials.catalogue import find_entry
from ..films.materials.stand_ins import metal_in_place_of
from ..films.notation import parse_stack
from ..oxidation.metals import Metal, find_metal, metal_names
from .hypotheses import name_base

OXIDE = "oxide"
"""Stands for whatever heat grows on the metal in question."""

_FORMULA = re.compile(r"(?:[A-Z][a-z]?\d*)+")


@dataclass(frozen=True)
class UsualThickness:
    """How thick an oxide of tempering usually is.

    Attributes
    ----------
    metal : str
        In words.
    level_to_nm : float
        Up to here every thickness is as likely [nm].
    tenth_at_nm : float
        Beyond it the prior falls as an exponential, to a tenth here [nm].
    """

    metal: str
    level_to_nm: float
    tenth_at_nm: float

    def weight(self, thickness_nm: FloatArray) -> FloatArray:
        """Prior density, 1 where it is level: ``10^(-(d - level)/(tenth - level))`` beyond."""
        beyond = np.maximum(thickness_nm - self.level_to_nm, 0.0)
        return np.asarray(10.0 ** (-beyond / (self.tenth_at_nm - self.level_to_nm)))

    @property
    def words(self) -> str:
        """What is taken for granted, and how to ask otherwise."""
        return (
            f"thin films are taken as likelier on {self.metal} that was heated: a tenth as likely "
            f"at {self.tenth_at_nm:g} nm as below {self.level_to_nm:g} nm, for thicker oxide is "
            f"grey; a range that begins at {self.level_to_nm:g} nm leaves this out"
        )


def expand_oxide(films: Iterable[str], on: str) -> tuple[str, ...]:
    """The films with ``oxide`` replaced by what heat grows on the metal.

    Raises
    ------
    InputError
        If nothing is known to grow on it.
    """
    found: list[str] = []
    for film in films:
        if film.casefold() != OXIDE:
            found.append(film)
            continue
        metal = _metal_under(on)
        if metal is None:
            raise InputError(
                f"`film` is 'oxide', and no oxide is held for {on!r}; name the film, such as TiO2",
                parameter="film",
            )
        found += [name for name in metal.films if name not in found]
    return tuple(found)


def usual_thickness(
    films: Iterable[str], on: str, between_nm: tuple[float, float]
) -> UsualThickness | None:
    """How thick such films usually are; None where the metal does not say, where one of them is no
    oxide that heat grows on it, or where thicker ones alone are asked about."""
    metal = _metal_under(on)
    if metal is None or metal.usual_nm is None or between_nm[0] >= metal.usual_nm[0]:
        return None
    if any(not set(_FORMULA.findall(_without_sets(film))) <= set(metal.grown) for film in films):
        return None
    return UsualThickness(metal.name, *metal.usual_nm)


def _without_sets(film: str) -> str:
    """A film as written, without the data sets in brackets and the share in per cent."""
    return re.sub(r"\([^)]*\)|\d+(?:\.\d+)?\s*%", "", film)


@lru_cache(maxsize=64)
def _metal_under(on: str) -> Metal | None:
    """The solid metal a film lies on, if a law of its oxide is held."""
    stack = parse_stack(name_base(on))
    if stack.layers:
        return None
    name = getattr(stack.substrate, "name", "")
    for key in metal_names():
        metal = find_metal(key)
        if find_entry(metal.on).name == name:
            return metal
    return find_metal(on) if metal_in_place_of(on) else None
