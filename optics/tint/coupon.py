"""What came out of a heat, as a likelihood over the thickness of the oxide."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..errors import InputError, OutOfRangeError
from ..inference.colour_table import STEP_NM, ColourTable
from ..inference.hypotheses import list_film_models
from ..inference.likelihood import make_prior, single_reading_density, table_for
from ..inference.posterior import Prior
from ..inference.reading import Reading
from ..oxidation.calibration import Coupon
from ..oxidation.metals import Metal
from ..oxidation.schedule import HeatSchedule

_LEAST_SD_NM, _SD_SHARE = 2.0, 0.05


def film_share(metal: Metal) -> tuple[tuple[str, ...], FloatArray]:
    """Names of the film hypotheses of a metal, and their prior weights (H,), which sum to 1."""
    pairs = list_film_models(metal.films, metal.on)
    names = tuple(dict.fromkeys(pair.film_name for pair in pairs))
    share = [sum(pair.weight for pair in pairs if pair.film_name == name) for name in names]
    return names, np.array(share)


def colour_table(
    metal: Metal, reading: Reading, viewing: ViewingConditions
) -> tuple[ColourTable, Prior]:
    """Colours of the metal's oxide at the index of its data sets, and the prior over them."""
    between = (0.0, metal.most_nm)
    doubts = replace(reading.doubts, index_spread=0.0)
    table = table_for(metal.films, metal.on, between, doubts, viewing, reading.view)
    return table, make_prior(metal.films, metal.on, between, 0.0)


def piece_from_colour(
    metal: Metal, heat: HeatSchedule, reading: Reading, viewing: ViewingConditions, kiln: int = 0
) -> Coupon:
    """A test piece whose colour was seen.

    The index error is left out here, for all pieces of one metal share it.

    Raises
    ------
    InputError
        If the metal's colours are not known well enough.
    """
    if not metal.colour:
        raise InputError(
            f"no colour of oxide on {metal.name} can be computed; give thickness_nm in its place"
        )
    told = replace(reading, doubts=replace(reading.doubts, index_spread=0.0))
    prior, density = single_reading_density(
        metal.films, metal.on, (0.0, metal.most_nm), told, viewing
    )
    _, share = film_share(metal)
    return Coupon(heat, prior.thickness_nm, density / share[:, None], kiln)


def piece_from_thickness(
    metal: Metal, heat: HeatSchedule, thickness_nm: float, sd_nm: float | None = None, kiln: int = 0
) -> Coupon:
    """A test piece whose oxide was measured; 5 % or 2 nm where no doubt is stated.

    Raises
    ------
    OutOfRangeError
        If thickness or doubt is out of reach.
    """
    sd = max(_LEAST_SD_NM, _SD_SHARE * thickness_nm) if sd_nm is None else sd_nm
    if not 0.0 <= thickness_nm <= metal.most_nm:
        raise OutOfRangeError(
            f"a thickness of {thickness_nm:g} nm is not between 0 and {metal.most_nm:g} nm, "
            f"as far as {metal.name} is followed"
        )
    if not 0.1 <= sd <= metal.most_nm:
        raise OutOfRangeError(f"a doubt of {sd:g} nm is not from 0.1 nm up")
    grid = np.arange(0.0, metal.most_nm + STEP_NM / 2.0, STEP_NM)
    curve = np.exp(-0.5 * ((grid - thickness_nm) / sd) ** 2)
    count = len(film_share(metal)[0])
    return Coupon(heat, grid, np.tile(curve, (count, 1)), kiln, optical=False)
