"""How thick is one of these films? What is asked, and from where to where it may lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from ..colour.conditions import ViewingConditions, as_conditions
from ..colour.fringe_sums import sum_light
from ..colour.illuminants import tristimulus_weights, white_xyz
from ..colour.spaces import delta_e_76, xyz_to_lab
from ..films.materials.catalogue import as_materials
from ..films.solve import solve
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..films.stack_arrays import base_of
from .faults import IDEAL, UNKNOWN, add_faults, check_clear_layer, check_finish
from .grown import UsualThickness, expand_oxide, usual_thickness
from .hypotheses import FilmModel, list_film_models
from .layered import scan_film
from .reading import Reading

DEFAULT_BETWEEN_NM = (0.0, 250.0)
_THICK_NM = 2000.0  # below it the grid follows the fringes of most clear layers
_TOLD_DE = 2.0  # which two looks at one piece differ by (judgement)


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
    finish : str
        What the surface is, or may be; ``ideal`` where films are as their data sets say.
    clear_layer : str
        Where a clear layer that nobody stated may lie: over, under or either; empty for nowhere.
    """

    films: tuple[str, ...]
    on: str
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM
    conditions: ViewingConditions = field(default_factory=ViewingConditions)
    usual: UsualThickness | None = None
    finish: str = IDEAL
    clear_layer: str = ""

    @classmethod
    def of(
        cls,
        film: str | Sequence[str],
        on: str,
        *,
        between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
        conditions: ViewingConditions | str | None = None,
        finish: str | None = None,
        clear_layer: str | None = None,
    ) -> FilmQuestion:
        """The question from what a caller gave: films as a text with commas or a sequence
        (``oxide`` for what heat grows on the metal), a light by its name, a finish or none.

        How thick the oxide of tempering usually is counts here; a question made of its parts
        takes every thickness as equally likely.

        Raises
        ------
        InputError
            If one is of a wrong kind.
        """
        films = expand_oxide(as_materials(film, "film"), on)
        usual = usual_thickness(films, on, between_nm)
        conditions = as_conditions(conditions)
        surface = check_finish(finish), check_clear_layer(clear_layer)
        return cls(films, on, between_nm, conditions, usual, *surface)

    @property
    def models(self) -> tuple[FilmModel, ...]:
        """All pairs of data sets the film and what it lies on may have."""
        return _list_models(self.films, self.on)

    @property
    def hypotheses(self) -> tuple[FilmModel, ...]:
        """What is weighed: the models, with each fault that they may have."""
        if self.finish == IDEAL:
            return self.models
        return _list_hypotheses(self.films, self.on, self.finish, self.clear_layer)

    def suited_to(self, readings: Sequence[Reading]) -> FilmQuestion:
        """The question with no faults in doubt where all readings are words and no finish is
        stated: a word is so wide that faults say nothing more."""
        plain = self.finish == UNKNOWN and not self.clear_layer
        if plain and all(reading.word for reading in readings):
            return replace(self, finish=IDEAL)
        return self


@lru_cache(maxsize=64)
def _list_models(films: tuple[str, ...], on: str) -> tuple[FilmModel, ...]:
    return list_film_models(films, on)


@lru_cache(maxsize=64)
def _list_hypotheses(
    films: tuple[str, ...], on: str, finish: str, clear_layer: str
) -> tuple[FilmModel, ...]:
    return add_faults(_list_models(films, on), finish, clear_layer)


def doubt_fringes(model: FilmModel, viewing: ViewingConditions) -> tuple[str, ...]:
    """What to say where a thick clear layer of the base shows otherwise than it is weighed.

    Its fringes are averaged, but those that bands of a lamp pick out are seen; and of two thick
    layers, or one on a plate, only one is averaged.
    """
    base = model.base
    thickest_nm = max((float(np.max(one.thickness_nm)) for one in base.layers), default=0.0)
    if thickest_nm < _THICK_NM:
        return ()
    grid = DEFAULT_WAVELENGTH_NM
    weights = tristimulus_weights(grid, viewing.light, viewing.observer)
    (weighed,) = scan_film(model.film, [base_of(base, grid)], np.zeros(1), weights=weights)
    (exact,) = sum_light(solve(base, grid), ["R"], light=viewing.light, observer=viewing.observer)
    white = white_xyz(viewing.light, viewing.observer)
    off_de = float(np.max(delta_e_76(xyz_to_lab(weighed, white), xyz_to_lab(exact, white))))
    if off_de < _TOLD_DE:
        return ()
    return (
        f"what it lies on has a clear layer of {thickest_nm / 1000.0:g} µm, whose fringes are "
        f"finer than those that films are compared by: under this light its colour comes out "
        f"{off_de:.0f} ΔE wrong, and the thickness may with it; take a piece without that layer",
    )
