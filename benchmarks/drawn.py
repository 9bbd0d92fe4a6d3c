"""Films drawn from a prior, and readings of them with everything that may be off: a made-up world
that the inference is checked against."""

from __future__ import annotations

import numpy as np

from oxhue.optics._typing import FloatArray
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.errors import OutOfRangeError
from oxhue.optics.films.engine.thickness_scan import View
from oxhue.optics.inference.hypotheses import FilmModel
from oxhue.optics.inference.simulate import SampledFilms, film_xyz, seen_lab
from oxhue.optics.inference.uncertainty import Uncertainty


def draw_films(
    pairs: tuple[FilmModel, ...],
    between_nm: tuple[float, float],
    index_spread: float,
    *,
    count: int,
    rng: np.random.Generator,
) -> SampledFilms:
    """Films from the prior: data sets by weight, thickness uniform, index error normal.

    Raises
    ------
    OutOfRangeError
        If ``count`` is not positive.
    """
    if count < 1:
        raise OutOfRangeError(f"the number of films to draw is {count}; it must be 1 or more")
    weights = np.array([pair.weight for pair in pairs])
    return SampledFilms(
        rng.choice(len(pairs), size=count, p=weights / weights.sum()),
        rng.uniform(*between_nm, count),
        index_spread * rng.standard_normal(count),
    )


def draw_readings(
    films: SampledFilms,
    pairs: tuple[FilmModel, ...],
    *,
    doubts: Uncertainty,
    viewing: ViewingConditions,
    rng: np.random.Generator,
    view: View = "front",
) -> FloatArray:
    """One CIELAB reading of each film, shape (K, 3).

    Unlike the tables, angle and glare are drawn between their limits rather than from nodes,
    and exposure multiplies the light itself, so readings test the tables' approximations too.
    """
    count = films.pair.size
    angle = rng.uniform(doubts.angle_low_deg, doubts.angle_high_deg, count)
    xyz = film_xyz(films, pairs, angle, viewing=viewing, view=view)
    lab = seen_lab(
        xyz,
        rng.uniform(0.0, doubts.glare, count),
        viewing,
        exposure=np.exp(doubts.gain * rng.standard_normal(count)),
    )
    scatter = np.sqrt([doubts.lightness_variance, *[doubts.chroma_variance] * 2])
    drawn: FloatArray = lab + scatter * rng.standard_normal((count, 3))
    return drawn
