"""How thick is one of these films? What is asked, and from where to where it may lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from ..colour.conditions import ViewingConditions, as_conditions
from ..films.materials.catalogue import as_materials
from .hypotheses import FilmModel, list_film_models

DEFAULT_BETWEEN_NM = (0.0, 250.0)


@dataclass(frozen=True)
class FilmQuestion:
    """A film of unknown thickness. It is hashable: what is computed for it is kept under it.

    The doubts of a look are no part of it: several looks with doubts of their own ask the same.

    Attributes
    ----------
    films : tuple of str
        What the film may be, each with equal prior weight.
    on : str
        What it lies on, in our notation.
    between_nm : tuple of float
        Range of the thickness [nm], uniform before any reading.
    conditions : ViewingConditions
        Light and observer.
    """

    films: tuple[str, ...]
    on: str
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM
    conditions: ViewingConditions = field(default_factory=ViewingConditions)

    @classmethod
    def of(
        cls,
        film: str | Sequence[str],
        on: str,
        *,
        between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
        conditions: ViewingConditions | str | None = None,
    ) -> FilmQuestion:
        """The question from what a caller gave: films as a text with commas or a sequence, a
        light by its name.

        Raises
        ------
        InputError
            If one is of a wrong kind.
        """
        return cls(as_materials(film, "film"), on, between_nm, as_conditions(conditions))

    @cached_property
    def models(self) -> tuple[FilmModel, ...]:
        """All pairs of data sets the film and what it lies on may have."""
        return list_film_models(self.films, self.on)
