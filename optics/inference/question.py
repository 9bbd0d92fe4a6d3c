"""How thick is one of these films? What is asked, and from where to where it may lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from ..colour.conditions import ViewingConditions, as_conditions
from ..films.materials.catalogue import as_materials
from .grown import UsualThickness, expand_oxide, usual_thickness
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
        Range of the thickness [nm], uniform before any reading unless ``usual`` says otherwise.
    conditions : ViewingConditions
        Light and observer.
    usual : UsualThickness or None
        Which thicknesses are likelier before any reading.
    """

    films: tuple[str, ...]
    on: str
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM
    conditions: ViewingConditions = field(default_factory=ViewingConditions)
    usual: UsualThickness | None = None

    @classmethod
    def of(
        cls,
        film: str | Sequence[str],
        on: str,
        *,
        between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
        conditions: ViewingConditions | str | None = None,
    ) -> FilmQuestion:
        """The question from what a caller gave: films as a text with commas or a sequence
        (``oxide`` for what heat grows on the metal), a light by its name.

        How thick the oxide of tempering usually is counts here; a question made of its parts
        takes every thickness as equally likely.

        Raises
        ------
        InputError
            If one is of a wrong kind.
        """
        films = expand_oxide(as_materials(film, "film"), on)
        usual = usual_thickness(films, on, between_nm)
        return cls(films, on, between_nm, as_conditions(conditions), usual)

    @property
    def models(self) -> tuple[FilmModel, ...]:
        """All pairs of data sets the film and what it lies on may have."""
        return _list_models(self.films, self.on)


@lru_cache(maxsize=64)
def _list_models(films: tuple[str, ...], on: str) -> tuple[FilmModel, ...]:
    return list_film_models(films, on)
