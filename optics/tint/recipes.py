"""Which heat gives this colour? Temperatures for given times, and times for given temperatures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import OutOfRangeError
from ..inference.reading import Reading
from ..numerics.parallel import map_parallel
from ..oxidation.metals import anodic_cautions
from ..oxidation.schedule import LEAST_S, LONGEST_S, MOST_S, HeatSchedule, hold
from ..units import as_quantity
from .bath import Bath, bath_of
from .colour_search import ColourSearch, Wish, solve_heats
from .kiln import Kiln, check_peaks, kiln_of, span_C
from .result import Recipe, Recipes
from .surest import surest
from .targets import MET_DE, Target

USUAL_MIN = (10.0, 20.0, 30.0, 60.0)
STEP_C = 2.0

Quantities = str | float | Sequence[str | float]


def recipes(
    metal: str,
    want: str | Reading,
    *,
    times: Quantities = (),
    temperatures: Quantities = (),
    kiln: Kiln | None = None,
    conditions: ViewingConditions | str | None = None,
    tolerance_de: float = MET_DE,
    parts: int | None = None,
    seed: int = 1,
) -> Recipes:
    """Heats that give a colour.

    Parameters
    ----------
    metal : str
    want : str or Reading
        A word, ``#hex`` or ``L,a,b``, or the reading of a sample.
    times, temperatures : str, float, or a sequence of them
        Times to find temperatures for, and temperatures to find times for, such as ``20min`` [s
        without a unit] and ``450C`` [°C]; usual ones where both are empty.
    kiln : Kiln, optional
    conditions : ViewingConditions or str, optional
    tolerance_de : float
        A colour so far from one stated in numbers counts as that colour [ΔE 1976].
    parts : int, optional
        How many parts are to come out alike; each recipe then says how many will.
    seed : int

    Raises
    ------
    InputError
        If no colours of the metal can be computed, or a word, time or temperature is refused.
    """
    times_s = as_quantities(times, "time_s", "times")
    temperatures_C = as_quantities(temperatures, "temperature_C", "temperatures")
    search = ColourSearch.of(
        kiln_of(metal, kiln, seed), Wish(want, tolerance_de, parts),
        viewing=as_conditions(conditions), seed=seed,
    )  # fmt: skip
    check_peaks(search.kiln, temperatures_C)
    if any(not 0.0 < time <= LONGEST_S for time in times_s):
        raise OutOfRangeError("a time to tint in must be above 0 and less than a century")
    if not times_s and not temperatures_C:
        times_s = [60.0 * minutes for minutes in USUAL_MIN]
        temperatures_C = np.linspace(*search.kiln.metal.range_C, 6)[1:-1].round(-1).tolist()
    heats = _find_heats(search, times_s, temperatures_C)
    found = sorted(map_parallel(partial(_recipe, search), heats), key=lambda one: one.rank)
    if search.kiln.pieces:  # any kiln's spread is so wide that what is gained is luck of the draws
        found = surest(search, found)
    made = search.answer(found, "hold", means="heat", caveats=search.kiln.caveats)
    return replace(made, kiln=search.kiln, conditions=search.palette.viewing)


def anodic_recipes(
    metal: str,
    want: str | Reading,
    *,
    bath: Bath | None = None,
    conditions: ViewingConditions | str | None = None,
    tolerance_de: float = MET_DE,
    parts: int | None = None,
    seed: int = 1,
) -> Recipes:
    """Voltages that give a colour, in the bath learnt or any; as `recipes`."""
    held, viewing = bath_of(metal, bath, seed), as_conditions(conditions)
    search = ColourSearch.of(held.kiln, Wish(want, tolerance_de, parts), viewing=viewing, seed=seed)
    low, high = held.law.range_V
    grid_V = np.linspace(low, high, 400)
    film = [float(np.median(held.draws.typical_nm(held.law, volts))) for volts in grid_V]
    found, said = [], set()
    for target in search.reach.targets:
        if film[0] <= target.thickness_nm <= film[-1]:
            volts = float(np.interp(target.thickness_nm, film, grid_V))
            draw = partial(held.draws.thickness_nm, held.law, volts)
            found.append(search.volt_recipe(target, draw, volts))
            said |= set(held.warn_far(round(volts, 1)))
    made = search.answer(found, "volts", means="voltage", caveats=tuple(sorted(said)))
    return replace(
        made, law=held.words, source=held.source, confidence=held.law.confidence, note="",
        cautions=anodic_cautions(),
    )  # fmt: skip


def as_quantities(values: Quantities, dimension: str, parameter: str) -> list[float]:
    """Numbers in the base unit, from one or several numbers or texts with a unit."""
    if isinstance(values, Sequence | np.ndarray) and not isinstance(values, str):
        return [as_quantity(one, dimension, parameter) for one in values]
    return [as_quantity(values, dimension, parameter)]


@dataclass(frozen=True)
class _Heat:
    """A target, the steady heat that reaches it, and which of its two numbers was sought."""

    target: Target
    temperature_C: float
    time_s: float
    solved_for: Literal["temperature", "time"]


def _find_heats(
    search: ColourSearch, times_s: Sequence[float], temperatures_C: Sequence[float]
) -> list[_Heat]:
    """For every target the heats that reach it."""
    grid_log_s = np.linspace(np.log(LEAST_S), np.log(MOST_S), 60)
    heats = [
        _Heat(target, round(degrees, 1), time_s, "temperature")
        for time_s in times_s
        for target, degrees in _solve_temperatures(search, time_s)
    ]
    for temperature_C in temperatures_C:
        reached = solve_heats(search, grid_log_s, partial(_hold_for, temperature_C))
        heats += [_Heat(one, temperature_C, float(np.exp(x)), "time") for one, x in reached]
    return heats


def _solve_temperatures(search: ColourSearch, time_s: float) -> list[tuple[Target, float]]:
    """Temperatures that reach targets in a time; above the law's range, by the law that goes on
    there, only where none in it does."""
    (low, high), (_, top) = search.kiln.metal.range_C, span_C(search.kiln)
    found = solve_heats(search, _steps_C(low, high), partial(hold, time=time_s))
    if found or top <= high:
        return found
    return solve_heats(search, _steps_C(high, top), partial(hold, time=time_s))


def _steps_C(low: float, high: float) -> FloatArray:
    return np.linspace(low, high, 1 + int(np.ceil((high - low) / STEP_C)))


def _hold_for(temperature_C: float, log_s: float) -> HeatSchedule:
    return hold(temperature_C, float(np.exp(log_s)))


def _recipe(search: ColourSearch, found: _Heat) -> Recipe:
    heat = hold(found.temperature_C, found.time_s)
    minutes = found.time_s / 60.0
    return search.heat_recipe(found.target, heat, found.solved_for, minutes=minutes)
