"""Which films on which substrates are weighed against each other, and with what prior weight."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from ..errors import InputError, LimitError
from ..films.materials import load_file, spread_sets
from ..films.medium import Medium
from ..films.mixing import Grade, Mixture
from ..films.nktable import Material
from ..films.notation import parse_medium

MAX_PAIRS = 200

Weighted = list[tuple[Medium, float]]


@dataclass(frozen=True)
class Pair:
    """One data set of one film hypothesis on one data set of the substrate.

    Attributes
    ----------
    film_name : str
        The hypothesis in words, such as ``TiO2, anatase``.
    film, substrate : Medium
    weight : float
        Prior probability; all pairs of a question sum to 1.
    """

    film_name: str
    film: Medium
    substrate: Medium
    weight: float


def film_pairs(films: Sequence[str], on: str) -> tuple[Pair, ...]:
    """All pairs of film and substrate data sets for the films in question.

    Parameters
    ----------
    films : sequence of str
        Films as our notation writes them, without thickness; equal prior weight each. A film
        listed in ``variants.toml`` stands for all its variants.
    on : str
        The substrate.

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
    substrates = _data_sets(on)
    pairs = tuple(
        Pair(name, film, substrate, weight / len(films) * share * chance)
        for name, medium, weight in named
        for film, share in _data_sets(medium)
        for substrate, chance in substrates
    )
    if len(pairs) > MAX_PAIRS:
        raise LimitError(
            f"{len(pairs)} combinations of data sets are too many; name fewer films, or one data "
            f"set such as Ti(johnson1974)"
        )
    return pairs


@cache
def _variants() -> dict[str, dict[str, dict[str, str | float]]]:
    text = files(__package__).joinpath("variants.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _hypotheses(film: str) -> list[tuple[str, str, float]]:
    """Name, medium and prior weight of each thing a film of that name may be."""
    medium = parse_medium(film)
    plain = isinstance(medium, Material) and "(" not in film
    variants = _variants().get(medium.name, {}) if isinstance(medium, Material) and plain else {}
    if not variants:
        return [(film.strip(), film, 1.0)]
    name = film.strip()
    return [
        (f"{name}, {variant}", str(entry["medium"]), float(entry["weight"]))
        for variant, entry in variants.items()
    ]


def _data_sets(text: str) -> Weighted:
    """The data sets a medium may have, with weights that sum to 1."""
    medium = parse_medium(text)
    if isinstance(medium, Grade):
        raise InputError(f"{text!r} is a graded layer; the thickness of one cannot be gauged")
    if isinstance(medium, Mixture):
        return [
            (replace(medium, first=first), share)
            for first, share in _data_sets(text.partition(":")[0])
        ]
    if not isinstance(medium, Material) or medium.kind == "user":
        return [(medium, 1.0)]
    return [(load_file(entry.file), share) for entry, share in spread_sets(text.strip())]
