"""The colours of a metal over temperature and time, and a plate that runs through some of them."""

from __future__ import annotations

import numpy as np

from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import InputError
from ..oxidation.schedule import format_time, hold, plate_temperatures
from .kiln import Kiln
from .recipes import typical_nm
from .result import HeatStrip, PlateHold
from .shades import Palette, palette_for
from .targets import Target, find_targets, parse_wanted_colour
from .tint import kiln_of, plate

_PLACES = 11
_STEP_C = 2.0


def heat_strip(
    metal: str,
    *,
    kiln: Kiln | None = None,
    conditions: ViewingConditions | str | None = None,
    temperatures: int = 12,
    times_min: tuple[float, ...] = (5.0, 10.0, 20.0, 30.0, 60.0, 120.0),
    seed: int = 1,
) -> HeatStrip:
    """Colours over temperature and time within the law's range.

    Raises
    ------
    InputError
        If the metal is unknown or its colours cannot be computed.
    """
    held = kiln_of(metal, kiln, seed)
    palette = _palette(held, conditions)
    low, high = held.metal.range_C
    temperature_C = np.linspace(low, high, temperatures)
    heats = [hold(float(c), 60.0 * m) for c in temperature_C for m in times_min]
    film = typical_nm(held, heats)
    hexes, names = palette.name_colours(film)
    shape = (temperatures, len(times_min))
    return HeatStrip(
        held.metal.key, held.metal.name, held.metal.oxide, temperature_C, np.array(times_min),
        film.reshape(shape), hexes.reshape(shape), names.reshape(shape), held.source,
        held.warnings, held.metal.cautions, held, as_conditions(conditions),
    )  # fmt: skip


def plate_hold(
    metal: str,
    first: str,
    last: str,
    *,
    time_s: float,
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
    time_s : float
        How long the gradient is held [s].
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
    held = kiln_of(metal, kiln, seed)
    palette = _palette(held, conditions)
    low, high = held.metal.range_C
    grid_C = np.arange(low, high + _STEP_C / 2.0, _STEP_C)
    film = typical_nm(held, [hold(float(c), time_s) for c in grid_C])
    within = film[0], film[-1]
    found = [_reach(held, palette, text, within, time_s) for text in (first, last)]
    pairs = [(a, b) for a in found[0] for b in found[1]]
    a, b = min(pairs, key=lambda pair: (abs(pair[0].order - pair[1].order), pair[0].order))
    ends = np.interp(np.log([a.thickness_nm, b.thickness_nm]), np.log(film), grid_C).round(0)
    temperatures = plate_temperatures(float(ends[1]), float(ends[0]), _PLACES)
    points = plate(held.metal.key, temperatures, time_s, kiln=kiln, along_mm=along_mm, seed=seed)
    return PlateHold(
        held.metal.key, held.metal.name, held.metal.oxide, f"{first} to {last}",
        float(ends[0]), float(ends[1]), time_s / 60.0, points, held.warnings, held.metal.cautions,
    )  # fmt: skip


def _palette(held: Kiln, conditions: ViewingConditions | str | None) -> Palette:
    palette = palette_for(held, as_conditions(conditions))
    if palette is None:
        raise InputError(
            f"no colour of oxide on {held.metal.name} can be computed: {held.metal.note}"
        )
    return palette


def _reach(
    held: Kiln, palette: Palette, text: str, within_nm: tuple[float, float], time_s: float
) -> list[Target]:
    targets, nearest = find_targets(palette, parse_wanted_colour(text), held.metal.most_nm)
    inside = [one for one in targets if within_nm[0] < one.thickness_nm < within_nm[1]]
    if not targets:
        raise InputError(
            f"{held.metal.name} does not show {text!r}; the nearest it has is {nearest.name} "
            f"({nearest.srgb_hex}), {nearest.delta_e:.0f} ΔE away"
        )
    if not inside:
        raise InputError(
            f"{text!r} on {held.metal.name} is out of reach in {format_time(time_s)} within the "
            f"range of the law; allow another time"
        )
    return inside
