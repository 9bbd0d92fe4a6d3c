"""The colours of a metal over temperature and time, and a plate that runs through some of them."""

from __future__ import annotations

import numpy as np

from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import InputError, OutOfRangeError
from ..oxidation.schedule import hold
from ..units import as_quantity, format_duration
from .colour_search import typical_nm
from .kiln import Kiln, kiln_of
from .recipes import Quantities, as_quantities
from .result import HeatStrip, PlateHold
from .shades import Palette, require_palette
from .targets import Target, describe_nearest, find_targets, parse_wanted_colour
from .tint import follow_plate

USUAL_TIMES = ("5min", "10min", "20min", "30min", "1h", "2h")
_PLACES = 11
_STEP_C = 2.0


def heat_strip(
    metal: str,
    *,
    kiln: Kiln | None = None,
    conditions: ViewingConditions | str | None = None,
    rows: int = 12,
    times: Quantities = USUAL_TIMES,
    seed: int = 1,
) -> HeatStrip:
    """Colours over temperature and time within the law's range.

    Parameters
    ----------
    metal : str
    kiln : Kiln, optional
    conditions : ViewingConditions or str, optional
    rows : int
        How many temperatures, at even steps over the law's range.
    times : str, float, or a sequence of them
        Such as ``20min`` [s without a unit].
    seed : int

    Raises
    ------
    InputError
        If the metal is unknown or its colours cannot be computed.
    """
    if not isinstance(rows, int) or rows < 2:
        raise OutOfRangeError(
            f"`rows` must be a whole number of 2 or more, not {rows!r:.40}", parameter="rows"
        )
    held, viewing = kiln_of(metal, kiln, seed), as_conditions(conditions)
    palette = require_palette(held, viewing)
    temperature_C = np.linspace(*held.metal.range_C, rows)
    time_s = np.array(as_quantities(times, "time_s", "times"))
    film = typical_nm(held, [hold(degrees, time) for degrees in temperature_C for time in time_s])
    hexes, names = palette.name_colours(film)
    shape = (rows, len(time_s))
    return HeatStrip(
        held.metal.key, held.metal.name, held.metal.oxide, held.metal.note, temperature_C,
        time_s / 60.0, film.reshape(shape), hexes.reshape(shape), names.reshape(shape), held.source,
        (*held.warnings, *held.caveats), held.metal.cautions,
        palette.shows_as_is(film).reshape(shape), held, viewing,
    )  # fmt: skip


def plate_hold(
    metal: str,
    first: str,
    last: str,
    *,
    time: str | float,
    kiln: Kiln | None = None,
    conditions: ViewingConditions | str | None = None,
    along_mm: float | None = None,
    seed: int = 1,
) -> PlateHold:
    """Temperatures of the ends of a plate that is to run from one colour to another.

    Parameters
    ----------
    first, last : str
        Colours at the two ends, as words, hex or L,a,b.
    time : str or float
        How long the gradient is held, such as ``20min`` [s without a unit].
    kiln : Kiln, optional
    conditions : ViewingConditions or str, optional
    along_mm : float, optional
        Length of the plate [mm].
    seed : int

    Raises
    ------
    InputError
        If one of the colours cannot be had in that time within the law's range.
    """
    held, time_s = kiln_of(metal, kiln, seed), as_quantity(time, "time_s", "time")
    palette = require_palette(held, as_conditions(conditions))
    low, high = held.metal.range_C
    grid_C = np.arange(low, high + _STEP_C / 2.0, _STEP_C)
    film = typical_nm(held, [hold(degrees, time_s) for degrees in grid_C])
    within = film[0], film[-1]
    found = [_reach(held, palette, text, within_nm=within, time_s=time_s) for text in (first, last)]
    pairs = [(a, b) for a in found[0] for b in found[1]]
    a, b = min(pairs, key=lambda pair: (abs(pair[0].rank - pair[1].rank), pair[0].rank))
    reached = np.interp(np.log([a.thickness_nm, b.thickness_nm]), np.log(film), grid_C)
    first_C, last_C = reached.round(0).tolist()
    points = follow_plate(
        held, hold(max(first_C, last_C), time_s), np.linspace(first_C, last_C, _PLACES),
        palette=palette, along_mm=along_mm, seed=seed,
    )  # fmt: skip
    own, said = held.metal, (*held.warnings, *held.caveats)
    return PlateHold(
        own.key, own.name, own.oxide, own.note, f"{first} to {last}", first_C, last_C,
        time_s / 60.0, points, said, own.cautions,
    )  # fmt: skip


def _reach(
    held: Kiln, palette: Palette, text: str, *, within_nm: tuple[float, float], time_s: float
) -> list[Target]:
    found = find_targets(palette, parse_wanted_colour(text), held.metal.shown_nm)
    inside = [one for one in found.targets if within_nm[0] < one.thickness_nm < within_nm[1]]
    if not found.targets:
        raise InputError(
            f"{held.metal.name} does not show {text!r:.80}; the nearest it has is "
            f"{describe_nearest(text, found.nearest)}"
        )
    if not inside:
        raise InputError(
            f"{text!r:.80} on {held.metal.name} is out of reach in {format_duration(time_s)} "
            f"within the range of the law; allow another time"
        )
    return inside
