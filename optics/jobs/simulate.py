"""Worlds drawn from the model: films at random, and readings of them with all their doubts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..errors import OutOfRangeError
from .checks import Films, film_xyz, seen_lab
from .doubts import Doubts
from .hypotheses import Pair
from .table import Viewing

FloatArray = NDArray[np.float64]


def draw_films(
    pairs: tuple[Pair, ...],
    between_nm: tuple[float, float],
    index_spread: float,
    count: int,
    rng: np.random.Generator,
) -> Films:
    """Films from the prior: data sets by weight, thickness uniform, index error normal.

    Raises
    ------
    OutOfRangeError
        If ``count`` is not positive.
    """
    if count < 1:
        raise OutOfRangeError(f"the number of films to draw is {count}; it must be 1 or more")
    weights = np.array([pair.weight for pair in pairs])
    return Films(
        rng.choice(len(pairs), size=count, p=weights / weights.sum()),
        rng.uniform(*between_nm, count),
        index_spread * rng.standard_normal(count),
    )


def draw_readings(
    films: Films,
    pairs: tuple[Pair, ...],
    doubts: Doubts,
    viewing: Viewing,
    rng: np.random.Generator,
) -> FloatArray:
    """One CIELAB reading of each film, shape (K, 3).

    Unlike the tables, angle and glare are drawn between their limits rather than from nodes,
    and exposure multiplies the light itself, so readings test the tables' approximations too.
    """
    count = films.pair.size
    angle = rng.uniform(doubts.angle_low_deg, doubts.angle_high_deg, count)
    xyz = film_xyz(films, pairs, angle, viewing)
    lab = seen_lab(
        xyz,
        rng.uniform(0.0, doubts.glare, count),
        viewing,
        np.exp(doubts.gain * rng.standard_normal(count)),
    )
    scatter = np.sqrt([doubts.lightness_variance, *[doubts.chroma_variance] * 2])
    drawn: FloatArray = lab + scatter * rng.standard_normal((count, 3))
    return drawn
