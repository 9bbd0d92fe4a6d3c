"""Which passes of a flame, or which form of one's own ramp, give this colour?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import InputError, OutOfRangeError
from ..inference.reading import Reading
from ..numerics.parallel import map_parallel
from ..oxidation.schedule import MOST_PASSES, MOST_S, HeatSchedule, pass_spot
from .colour_search import ColourSearch, Wish, solve_heats
from .kiln import Kiln, check_peaks, kiln_of, span_C
from .recipes import Quantities, as_quantities
from .result import Recipe, Recipes, SolvedFor
from .targets import MET_DE, Target

AMBIENT_C = 20.0
USUAL_PASS_S = (3.0, 10.0, 30.0)
_LEAST_PASS_S, _MOST_PASS_S = 0.5, 1800.0
_STEP_C = 10.0
_POINTS = 24
_ROUNDING_NM = 0.5


def flame_recipes(
    metal: str,
    want: str | Reading,
    *,
    passing: Quantities = (),
    temperatures: Quantities = (),
    passes: int | None = None,
    kiln: Kiln | None = None,
    conditions: ViewingConditions | str | None = None,
    tolerance_de: float = MET_DE,
    parts: int | None = None,
    seed: int = 1,
) -> Recipes:
    """Passes of a flame or torch that give a colour.

    Parameters
    ----------
    metal, want, kiln, conditions, tolerance_de, parts
        As of `recipes`.
    passing : str, float, or a sequence of them
        How long a spot passes [s without a unit]: the spot's width over its speed.
    temperatures : str, float, or a sequence of them
        Of the metal under the middle of the spot [°C]. With ``passing`` the number of passes is
        sought; alone, the time of a pass; without, the temperature.
    passes : int, optional
        How often the spot passes; 1 unless it is sought.
    seed : int

    Raises
    ------
    InputError
        If all three are stated, or one of them or the colour is refused.
    """
    passing_s = as_quantities(passing, "time_s", "passing")
    peaks_C = as_quantities(temperatures, "temperature_C", "temperatures")
    search = ColourSearch.of(
        kiln_of(metal, kiln, seed), Wish(want, tolerance_de, parts),
        viewing=as_conditions(conditions), seed=seed,
    )  # fmt: skip
    check_peaks(search.kiln, peaks_C)
    if any(not 0.0 < time_s <= _MOST_PASS_S for time_s in passing_s):
        raise OutOfRangeError("a flame passes in more than 0 s and at most half an hour")
    if peaks_C and passing_s:
        if passes is not None:
            raise InputError("`passes` is what is sought where temperature and time of a pass are "
                             "stated; leave one of them out", parameter="passes")  # fmt: skip
        found = _seek_passes(search, peaks_C, passing_s)
    elif peaks_C:
        found = _seek_times(search, peaks_C, passes or 1)
    else:
        found = _seek_peaks(search, passing_s or USUAL_PASS_S, passes or 1, span_C(search.kiln))
    made = [one.recipe(search) for one in found]
    made.sort(key=lambda one: one.rank)
    return search.answer(made, "flame", means="flame", caveats=search.kiln.caveats)


def ramp_recipes(
    metal: str,
    want: str | Reading,
    *,
    ramp: HeatSchedule,
    kiln: Kiln | None = None,
    conditions: ViewingConditions | str | None = None,
    tolerance_de: float = MET_DE,
    parts: int | None = None,
    seed: int = 1,
) -> Recipes:
    """How to change a course of heat so that it gives a colour.

    The ramp keeps its form and gets another peak, or keeps its peak and stays there longer.

    Parameters
    ----------
    metal, want, kiln, conditions, tolerance_de, parts
        As of `recipes`.
    ramp : HeatSchedule
        The course of heat, as `read_log` reads one.
    seed : int
    """
    if not isinstance(ramp, HeatSchedule):
        raise InputError(
            f"`ramp` must be a course of heat, as read_log reads one, not {ramp!r:.40}",
            parameter="ramp",
        )
    search = ColourSearch.of(
        kiln_of(metal, kiln, seed), Wish(want, tolerance_de, parts),
        viewing=as_conditions(conditions), seed=seed,
    )  # fmt: skip
    low, high = span_C(search.kiln)
    coldest = max(low, float(ramp.temperature_C.min()) + 1.0)
    grid_C = np.linspace(coldest, high, 2 + round((high - coldest) / _STEP_C))
    heats: list[tuple[Target, HeatSchedule, SolvedFor, float]] = [
        (target, ramp.with_peak(round(peak_C, 1)), "temperature", 0.0)
        for target, peak_C in solve_heats(search, grid_C, ramp.with_peak)
    ]
    if low <= ramp.peak_C <= high:
        grid_s = np.concatenate([[0.0], np.geomspace(60.0, MOST_S, _POINTS)])
        heats += [
            (target, ramp.hold_longer(time_s), "time", time_s / 60.0)
            for target, time_s in solve_heats(search, grid_s, ramp.hold_longer)
        ]
    made = list(map_parallel(partial(_ramp_recipe, search), heats))
    made.sort(key=lambda one: one.rank)
    caveats = (*ramp.notes, *search.kiln.caveats)
    return search.answer(made, "ramp", means="form of this heat", caveats=caveats)


def _ramp_recipe(
    search: ColourSearch, one: tuple[Target, HeatSchedule, SolvedFor, float]
) -> Recipe:
    target, heat, solved_for, minutes = one
    return search.heat_recipe(target, heat, solved_for, minutes=minutes)


@dataclass(frozen=True)
class _Flame:
    """A target, and the passes that reach it."""

    target: Target
    peak_C: float
    passing_s: float
    passes: int
    solved_for: SolvedFor

    def recipe(self, search: ColourSearch) -> Recipe:
        heat = pass_spot(self.peak_C, AMBIENT_C, self.passing_s, passes=self.passes)
        return search.heat_recipe(
            self.target, heat, self.solved_for, minutes=self.passing_s / 60.0, passes=self.passes
        )


def _of_peak(time_s: float, passes: int, peak_C: float) -> HeatSchedule:
    return pass_spot(peak_C, AMBIENT_C, time_s, passes=passes)


def _of_time(peak_C: float, passes: int, log_s: float) -> HeatSchedule:
    return pass_spot(peak_C, AMBIENT_C, float(np.exp(log_s)), passes=passes)


def _seek_peaks(
    search: ColourSearch, passing_s: Sequence[float], passes: int, range_C: tuple[float, float]
) -> list[_Flame]:
    grid_C = np.linspace(*range_C, 2 + round((range_C[1] - range_C[0]) / _STEP_C))
    return [
        _Flame(target, round(peak_C, 1), time_s, passes, "temperature")
        for time_s in passing_s
        for target, peak_C in solve_heats(search, grid_C, partial(_of_peak, time_s, passes))
    ]


def _seek_times(search: ColourSearch, peaks_C: Sequence[float], passes: int) -> list[_Flame]:
    grid = np.linspace(np.log(_LEAST_PASS_S), np.log(_MOST_PASS_S), _POINTS)
    return [
        _Flame(target, peak_C, float(np.exp(log_s)), passes, "time")
        for peak_C in peaks_C
        for target, log_s in solve_heats(search, grid, partial(_of_time, peak_C, passes))
    ]


def _seek_passes(
    search: ColourSearch, peaks_C: Sequence[float], passing_s: Sequence[float]
) -> list[_Flame]:
    """The number of passes that comes nearest to each target without leaving its stretch."""
    found = []
    for peak_C in peaks_C:
        for time_s in passing_s:
            film = search.typical_each_nm(pass_spot(peak_C, AMBIENT_C, time_s), MOST_PASSES)
            found += [
                _Flame(target, peak_C, time_s, n, "passes")
                for target in search.reach.targets
                if (n := _nearest_count(film, target)) is not None
            ]
    return found


def _nearest_count(film_nm: FloatArray, target: Target) -> int | None:
    """The number of passes whose film (100,) is nearest to a target, if it still shows it."""
    low, high = target.between_nm
    at = int(np.argmin(np.abs(film_nm - target.thickness_nm)))
    return at + 1 if low - _ROUNDING_NM <= film_nm[at] <= high + _ROUNDING_NM else None
