"""The colours of a metal over the volts of an anodising bath: the anodiser's wall chart."""

from __future__ import annotations

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import OutOfRangeError
from ..numerics.density import interval90
from ..oxidation.anodic import check_volts
from ..oxidation.metals import anodic_cautions
from .bath import Bath, bath_of
from .result import VoltChart
from .shades import require_palette

STEP_V = 5.0
_MOST_ROWS = 400


def volt_chart(
    metal: str,
    between_V: tuple[float, float] | None = None,
    *,
    step_V: float = STEP_V,
    bath: Bath | None = None,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> VoltChart:
    """Oxide and typical colour from one voltage to another.

    Parameters
    ----------
    metal : str
    between_V : tuple of float, optional
        First and last voltage; by default the range the constant holds in, up to 140 V.
    step_V : float
    bath : Bath, optional
        What own strips said; the shipped constant without.
    conditions : ViewingConditions or str, optional
    seed : int

    Raises
    ------
    InputError
        If no constant or colours are held for the metal, or the volts are out of its range.
    """
    held, viewing = bath_of(metal, bath, seed), as_conditions(conditions)
    palette = require_palette(held.kiln, viewing)
    low, high = held.law.range_V
    first, last = between_V or (max(low, step_V), min(high, 140.0))
    if not (step_V > 0.0 and first < last and (last - first) / step_V <= _MOST_ROWS):
        raise OutOfRangeError(
            f"volts from {first:g} to {last:g} V in steps of {step_V:g} V are no chart; the first "
            f"is the lower one, and a chart has at most {_MOST_ROWS} rows",
            parameter="between_V",
        )
    for volts in (first, last):
        check_volts(held.metal, volts)
    at_V = np.arange(first, last + 1e-6 * step_V, step_V)
    film, within = _film(held, at_V, seed)
    hexes, names = palette.name_colours(film)
    far = dict.fromkeys(said for volts in (first, last) for said in held.warn_far(volts))
    own = held.metal
    return VoltChart(
        own.key, own.name, own.oxide, "", at_V, film, within, hexes, names, held.words,
        held.source, (*far, *([own.difference] if own.difference else [])), anodic_cautions(),
        palette.shows_as_is(film),
    )  # fmt: skip


def _film(held: Bath, at_V: FloatArray, seed: int) -> tuple[FloatArray, FloatArray]:
    """Median thickness (V,) and where 90 % of pieces come out (V, 2)."""
    film, within = [], []
    for volts in at_V.tolist():
        drawn = held.draws.thickness_nm(held.law, volts, np.random.default_rng(seed))
        film.append(float(np.median(drawn)))
        within.append(interval90(drawn))
    return np.array(film), np.array(within)
