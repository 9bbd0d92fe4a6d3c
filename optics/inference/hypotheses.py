"""Which films on which substrates are weighed against each other, and with what prior weight."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from ..errors import InputError, LimitError, shorten
from ..films.materials.catalogue import (
    load_file,
    load_material,
    optical_stand_in,
    spread_sets,
)
from ..films.materials.effective_medium import Grade, Mixture, tell_stand_ins
from ..films.materials.medium import Medium
from ..films.materials.nk_table import Material
from ..films.notation import parse_medium, parse_stack
from ..films.stack import Stack
from .layered import Bilayer

MAX_PAIRS = 200
_SEVERAL = re.compile(r'[^"(]+,\s*[A-Za-z][^"]*')  # names between commas; of a file they are one

Weighted = list[tuple[Medium, float]]


@dataclass(frozen=True)
class FilmModel:
    """One data set of one film hypothesis on one data set of the substrate.

    Attributes
    ----------
    film_name : str
        The hypothesis in words, such as ``TiO2, anatase``.
    film : Medium
    base : Stack
        All that lies under the film.
    weight : float
        Prior probability; all pairs of a question sum to 1.
    """

    film_name: str
    film: Medium
    base: Stack
    weight: float

    @property
    def substrate(self) -> Medium:
        """What the film touches."""
        return self.base.layers[0].medium if self.base.layers else self.base.substrate


def list_film_models(films: Sequence[str], on: str) -> tuple[FilmModel, ...]:
    """All pairs of film and substrate data sets for the films in question.

    Parameters
    ----------
    films : sequence of str
        Films as our notation writes them, without thickness; equal prior weight each. A film
        listed in ``variants.toml``, by formula or by what it is called, stands for all its
        variants.
    on : str
        What it lies on: a material, or layers and a substrate in our notation. The data sets of
        the material the film touches are weighed, the default of the others taken.

    Returns
    -------
    tuple of Pair

    Raises
    ------
    InputError
        If a name is unknown, or a film is listed twice.
    LimitError
        If there are more than 200 pairs.
    """
    if not films:
        raise InputError("name at least one film, such as TiO2")
    named = [hypothesis for film in films for hypothesis in _hypotheses(film)]
    if len({name for name, _, _ in named}) < len(named):
        raise InputError(f"a film is listed twice in {', '.join(films)!r}")
    bases = _bases(on)
    pairs = tuple(
        FilmModel(name, film, base, weight / len(films) * share * chance)
        for name, media, weight in named
        for film, share in media
        for base, chance in bases
    )
    if len(pairs) > MAX_PAIRS:
        raise LimitError(
            f"{len(pairs)} combinations of data sets are too many; name fewer films, or one data "
            f"set such as Ti(johnson1974)"
        )
    return pairs


@cache
def _variants() -> dict[str, dict[str, dict[str, Any]]]:
    text = files(__package__).joinpath("variants.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _hypotheses(film: str) -> list[tuple[str, Weighted, float]]:
    """Name, weighed data sets and prior weight of each thing a film of that name may be."""
    name = film.strip()
    if name.casefold() in _variants():
        named = _variants()[name.casefold()].items()
        return [(of, _variant_sets(entry), float(entry["weight"])) for of, entry in named]
    medium = parse_medium(film)
    plain = isinstance(medium, Material) and "(" not in film
    variants = _variants().get(medium.name, {}) if isinstance(medium, Material) and plain else {}
    if not variants:
        return [(name, _data_sets(medium, film), 1.0)]
    return [
        (f"{name}, {variant}", _variant_sets(entry), float(entry["weight"]))
        for variant, entry in variants.items()
    ]


def _variant_sets(entry: dict[str, Any]) -> Weighted:
    """The data sets of a variant: of its one medium, or of the medium over another."""
    upper = _data_sets(parse_medium(entry["medium"]), entry["medium"])
    if "over" not in entry:
        return upper
    lower = _data_sets(parse_medium(entry["over"]), entry["over"])
    share = float(entry["share"])
    return [(Bilayer(a, b, share), p * q) for a, p in upper for b, q in lower]


def name_base(on: str) -> str:
    """What a film lies on in our notation: an alloy without data of its own by what stands for
    it.

    Raises
    ------
    InputError
        If several are named.
    """
    if _SEVERAL.fullmatch(on):
        raise InputError(
            f"`on` {shorten(on)!r} names several bases; a film lies on one, so ask for one at a "
            "time",
            parameter="on",
        )
    other = optical_stand_in(on)
    return on if other is None else other.on


@lru_cache(maxsize=64)
def describe_stand_ins(films: tuple[str, ...], on: str) -> tuple[str, ...]:
    """What to expect of films and a base that other materials stand for."""
    media = [parse_medium(film) for film in films if film.strip().casefold() not in _variants()]
    if optical_stand_in(on) is not None:
        return tell_stand_ins([*media, load_material(on)])
    base = parse_stack(on)
    return tell_stand_ins([*media, *(layer.medium for layer in base.all_layers), base.substrate])


def _bases(on: str) -> list[tuple[Stack, float]]:
    """What the film may lie on, one stack for each data set of the material it touches."""
    on = name_base(on)
    stack = parse_stack(on)
    if not stack.layers:
        return [
            (replace(stack, substrate=medium), share)
            for medium, share in _data_sets(stack.substrate, on)
        ]
    first, *rest = stack.layers
    return [
        (replace(stack, layers=(replace(first, medium=medium), *rest)), share)
        for medium, share in _data_sets(first.medium, on.partition("/")[0])
    ]


def _data_sets(medium: Medium, text: str) -> Weighted:
    """The data sets a medium written as ``text`` may have, with weights that sum to 1."""
    if isinstance(medium, Grade):
        raise InputError(f"{text!r:.80} is a graded layer; the thickness of one cannot be gauged")
    if isinstance(medium, Mixture):
        return [
            (replace(medium, first=first), share)
            for first, share in _data_sets(medium.first, text.partition(":")[0])
        ]
    if not isinstance(medium, Material) or medium.kind == "user":
        return [(medium, 1.0)]
    outright = f"({medium.variant})" in text.replace(" ", "")
    argument = medium.variant if outright else medium.phase
    name = f"{medium.name}({argument})" if argument else medium.name
    return [(load_file(entry.file), share) for entry, share in spread_sets(name)]


def group_by_film(models: Sequence[FilmModel]) -> list[list[int]]:
    """Positions of the models that share a film's data set."""
    groups: dict[int, list[int]] = {}
    for j, model in enumerate(models):
        groups.setdefault(id(model.film), []).append(j)
    return list(groups.values())
