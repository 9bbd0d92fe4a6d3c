"""The answer to "how thick?": candidates, intervals, and what they rest on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..colour.colour import xyz_to_colour
from ..colour.conditions import ViewingConditions
from ..display import Displayed
from ..inference.hypotheses import FilmModel
from ..inference.next_look import Check
from ..inference.reading import Reading
from ..inference.simulate import SampledFilms, film_xyz

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Candidate:
    """One thickness the reading allows.

    Attributes
    ----------
    thickness_nm : float
    interval90_nm : tuple of float
        Equal-tailed 90 % interval if this candidate is the right one [nm].
    probability : float
    order : int
        Interference order, 1 for the first sequence of colours.
    film : str
        The likeliest film hypothesis here.
    srgb_hex, name : str
        The colour such a film has, square on.
    """

    thickness_nm: float
    interval90_nm: tuple[float, float]
    probability: float
    order: int
    film: str
    srgb_hex: str
    name: str


@dataclass(frozen=True, eq=False)
class Estimate(Displayed):
    """What is held about the thickness after the readings.

    Attributes
    ----------
    thickness_nm : float
        Middle of the likeliest candidate [nm].
    interval90_nm : tuple of float
        Equal-tailed 90 % interval over all candidates together [nm].
    region90_nm : list of tuple
        The shortest set of intervals holding 90 % [nm].
    optical_thickness_nm, optical_interval90_nm
        Thickness times index at 550 nm, known better than the thickness itself [nm].
    candidates : tuple of Candidate
        Likeliest first.
    films : dict
        Probability of each film hypothesis.
    fits : bool
        False when no film in question shows such a colour.
    fit_p : float
        Share of simulated readings at least as unusual; with earlier colours that of the most
        unusual of them all, times their number.
    next_check : str
    checks : tuple of Check
    grid_nm, density : ndarray, shape (T,)
        Posterior density per nanometre.
    readings, earlier : tuple of Reading
    warnings : tuple of str
        What weakens the answer.
    pairs : tuple of Pair
    between_nm : tuple of float
    viewing : Viewing
    seed : int
    """

    thickness_nm: float
    interval90_nm: tuple[float, float]
    region90_nm: list[tuple[float, float]]
    optical_thickness_nm: float
    optical_interval90_nm: tuple[float, float]
    candidates: tuple[Candidate, ...]
    films: dict[str, float]
    fits: bool
    fit_p: float
    next_check: str
    checks: tuple[Check, ...]
    grid_nm: FloatArray
    density: FloatArray
    readings: tuple[Reading, ...]
    earlier: tuple[Reading, ...]
    warnings: tuple[str, ...]
    pairs: tuple[FilmModel, ...]
    between_nm: tuple[float, float]
    viewing: ViewingConditions
    seed: int


def ramp_of(
    estimate: Estimate,
) -> tuple[FloatArray, NDArray[np.str_], NDArray[np.str_]]:
    """Thickness [nm], hex and name of the colours the likeliest film runs through, square on."""
    likeliest = estimate.candidates[0].film
    j = next(i for i, pair in enumerate(estimate.pairs) if pair.film_name == likeliest)
    nm = np.arange(estimate.between_nm[0], estimate.between_nm[1] + 0.5)
    films = SampledFilms(np.full(nm.size, j), nm, np.zeros(nm.size))
    xyz = film_xyz(films, estimate.pairs, np.asarray(0.0), estimate.viewing)
    seen = xyz_to_colour(xyz, estimate.viewing.light, estimate.viewing.observer)
    return nm, np.asarray(seen.srgb_hex), np.asarray(seen.name)
