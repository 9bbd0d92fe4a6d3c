"""Which heat gives this colour? Temperatures for given times, and times for given temperatures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..colour.spaces import delta_e_76
from ..errors import OutOfRangeError
from ..gauge.candidates import hex_and_name
from ..numerics.density import interval90
from ..numerics.parallel import map_parallel
from ..oxidation.anodic import anodic_law
from ..oxidation.metals import anodic_cautions
from ..oxidation.schedule import LONGEST_S, HeatSchedule, hold
from ..units import as_quantity
from .bath import Bath, bath_of
from .kiln import Kiln, kiln_of
from .result import Recipe, Recipes, Sensitivity
from .shades import Palette, require_palette
from .targets import Reach, Target, WantedColour, find_targets, parse_wanted_colour

USUAL_MIN = (10.0, 20.0, 30.0, 60.0)
_LEAST_S, _MOST_S = 60.0, 86400.0
_STEP_C = 2.0
_WORLDS = 120
DEGREES, SHARE, VOLTS = 10.0, 0.10, 1.0
EASY_DE, TOUCHY_DE = 10.0, 20.0
"""Shifts of colour [ΔE] for ±10 °C, ±10 % of the time or ±1 V below which a recipe is easy, above
which it is touchy: judgements, against word regions some 20 ΔE wide."""

Quantities = str | float | Sequence[str | float]


def recipes(
    metal: str,
    want: str,
    *,
    times: Quantities = (),
    temperatures: Quantities = (),
    kiln: Kiln | None = None,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> Recipes:
    """Heats that give a colour.

    Parameters
    ----------
    metal : str
    want : str
        A word, ``#hex`` or ``L,a,b``.
    times, temperatures : str, float, or a sequence of them
        Times to find temperatures for, and temperatures to find times for, such as ``20min`` [s
        without a unit] and ``450C`` [°C]; usual ones where both are empty.
    kiln : Kiln, optional
    conditions : ViewingConditions or str, optional
    seed : int

    Raises
    ------
    InputError
        If no colours of the metal can be computed, or a word, time or temperature is refused.
    """
    times_s = as_quantities(times, "time_s", "times")
    temperatures_C = as_quantities(temperatures, "temperature_C", "temperatures")
    question = _WantedOfKiln.of(
        kiln_of(metal, kiln, seed), want, viewing=as_conditions(conditions), seed=seed
    )
    low, high = question.kiln.metal.range_C
    for temperature_C in temperatures_C:
        if not low <= temperature_C <= high:
            raise OutOfRangeError(
                f"{temperature_C:g} °C is outside the range the law of {question.kiln.metal.name} "
                f"was drawn from ({low:g} to {high:g} °C)"
            )
    if any(not 0.0 < time <= LONGEST_S for time in times_s):
        raise OutOfRangeError("a time to tint in must be above 0 and less than a century")
    if not times_s and not temperatures_C:
        times_s = [60.0 * minutes for minutes in USUAL_MIN]
        temperatures_C = np.linspace(low, high, 6)[1:-1].round(-1).tolist()
    heats = _find_heats(question, times_s, temperatures_C)
    found = list(map_parallel(partial(_recipe, question), heats))
    found.sort(key=lambda one: (one.order, -one.chance))
    made = question.answer(tuple(found), "heat", question.kiln.caveats)
    return replace(made, kiln=question.kiln, conditions=question.palette.viewing)


def anodic_recipes(
    metal: str,
    want: str,
    *,
    bath: Bath | None = None,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> Recipes:
    """Voltages that give a colour, in the bath learnt or any; as `recipes`."""
    held = bath_of(metal, bath, seed)
    question = _WantedOfKiln.of(held.kiln, want, viewing=as_conditions(conditions), seed=seed)
    low, high = held.law.range_V
    grid_V = np.linspace(low, high, 400)
    film = [float(np.median(held.draws.typical_nm(held.law, volts))) for volts in grid_V]
    found, said = [], set()
    for target in question.reach.targets:
        if film[0] <= target.thickness_nm <= film[-1]:
            volts = float(np.interp(target.thickness_nm, film, grid_V))
            drawn = held.draws.thickness_nm(held.law, volts, np.random.default_rng(seed))
            found.append(question.recipe(target, drawn, solved_for="volts", volts=volts))
            said |= set(held.warn_far(round(volts, 1)))
    made = question.answer(tuple(found), "voltage", tuple(sorted(said)))
    return replace(
        made, law=held.words, source=held.source, confidence=held.law.confidence, note="",
        cautions=anodic_cautions(),
    )  # fmt: skip


def as_quantities(values: Quantities, dimension: str, parameter: str) -> list[float]:
    """Numbers in the base unit, from one or several numbers or texts with a unit."""
    if isinstance(values, Sequence | np.ndarray) and not isinstance(values, str):
        return [as_quantity(one, dimension, parameter) for one in values]
    return [as_quantity(values, dimension, parameter)]


@dataclass(frozen=True, eq=False)
class _WantedOfKiln:
    """A colour wanted of a kiln, and the thicknesses that show it."""

    kiln: Kiln
    palette: Palette
    want: str
    wish: WantedColour
    reach: Reach
    seed: int

    @classmethod
    def of(cls, held: Kiln, want: str, *, viewing: ViewingConditions, seed: int) -> _WantedOfKiln:
        palette = require_palette(held, viewing)
        wish = parse_wanted_colour(want)
        return cls(
            held, palette, want, wish, find_targets(palette, wish, held.metal.shown_nm), seed
        )

    def recipe(
        self,
        target: Target,
        drawn_nm: FloatArray,
        *,
        solved_for: Literal["temperature", "time", "volts"],
        volts: float | None = None,
        heat: HeatSchedule | None = None,
    ) -> Recipe:
        """One way to a target, whose pieces come out as drawn (N,)."""
        xyz = self.palette.draw_xyz(self.kiln, drawn_nm, self.seed)
        lab, names = self.palette.lab_of(xyz), hex_and_name(xyz, self.palette.viewing)[1]
        return Recipe(
            None if heat is None else heat.peak_C,
            None if heat is None else heat.duration_s / 60.0,
            volts, solved_for, target.thickness_nm, interval90(drawn_nm), target.order,
            target.srgb_hex, target.name, target.delta_e,
            float(self.wish.matches(lab, names).mean()),
            _find_sensitivity(self, heat, target)
            if heat is not None
            else _find_volt_sensitivity(self, volts, target),
        )  # fmt: skip

    def answer(self, found: tuple[Recipe, ...], means: str, caveats: tuple[str, ...]) -> Recipes:
        """The recipes found, and what to say of those that are out of reach."""
        metal, targets = self.kiln.metal, self.reach.targets
        said = [*self.kiln.warnings, *self.reach.doubts]
        missed = sorted({one.order for one in targets} - {one.order for one in found})
        if targets and not found:
            said.append(f"the colour exists, but no {means} within the law's range reaches it")
        elif missed:
            orders = ", ".join(str(order) for order in missed)
            said.append(f"it also appears in order {orders}, out of reach of these {means}s")
        return Recipes(
            metal.key, metal.name, metal.oxide, metal.note, self.want, found, bool(targets),
            self.reach.nearest, targets, metal.regimes[-1].law.name, self.kiln.source,
            metal.confidence, (*said, *caveats), metal.cautions, self.seed, self.wish.counts_as,
        )  # fmt: skip


_Heat = tuple[Target, HeatSchedule, Literal["temperature", "time"]]


def _find_heats(
    question: _WantedOfKiln, times_s: Sequence[float], temperatures_C: Sequence[float]
) -> list[_Heat]:
    """For every target the heats within the law's range that reach it."""
    low, high = question.kiln.metal.range_C
    heats: list[_Heat] = []
    grid_C = np.arange(low, high + _STEP_C / 2.0, _STEP_C)
    grid_s = np.geomspace(_LEAST_S, _MOST_S, 60)
    for time_s in times_s:
        film = typical_nm(question.kiln, [hold(c, time_s) for c in grid_C])
        for target in question.reach.targets:
            if film[0] < target.thickness_nm < film[-1]:
                at = float(np.interp(np.log(target.thickness_nm), np.log(film), grid_C))
                heats.append((target, hold(round(at, 1), time_s), "temperature"))
    for temperature_C in temperatures_C:
        film = typical_nm(question.kiln, [hold(temperature_C, s) for s in grid_s])
        for target in question.reach.targets:
            if film[0] < target.thickness_nm < film[-1]:
                log_s = np.interp(np.log(target.thickness_nm), np.log(film), np.log(grid_s))
                heats.append((target, hold(temperature_C, np.exp(log_s)), "time"))
    return heats


def typical_nm(held: Kiln, heats: Sequence[HeatSchedule]) -> FloatArray:
    """Median thickness after each heat [nm], shape (heats,)."""
    few = held.draws.take(np.arange(min(_WORLDS, held.draws.scatter.size)))
    return np.median([few.typical_nm(held.metal, heat) for heat in heats], axis=1)


def _recipe(question: _WantedOfKiln, found: _Heat) -> Recipe:
    target, heat, solved_for = found
    held, rng = question.kiln, np.random.default_rng(question.seed)
    drawn = held.draws.thickness_nm(held.metal, heat, rng)
    return question.recipe(target, drawn, solved_for=solved_for, heat=heat)


def _find_sensitivity(question: _WantedOfKiln, heat: HeatSchedule, target: Target) -> Sensitivity:
    others = [
        heat.shift(DEGREES), heat.shift(-DEGREES),
        heat.stretch(1.0 + SHARE), heat.stretch(1.0 - SHARE),
    ]  # fmt: skip
    films = typical_nm(question.kiln, [heat, *others])
    shift = _shifts(question, target, films[1:] / films[0])
    degrees, percent = float(shift[:2].max()), float(shift[2:].max())
    return Sensitivity(_rating(max(degrees, percent)), degrees, percent)


def _find_volt_sensitivity(
    question: _WantedOfKiln, volts: float | None, target: Target
) -> Sensitivity | None:
    if volts is None:
        return None
    at_V = np.array([volts, volts - VOLTS, volts + VOLTS])
    films = anodic_law(question.kiln.metal).typical_nm(at_V)
    shift = float(_shifts(question, target, films[1:] / films[0]).max())
    return Sensitivity(_rating(shift), one_volt_de=shift)


def _shifts(question: _WantedOfKiln, target: Target, factor: FloatArray) -> FloatArray:
    """Shifts of colour [ΔE 1976] where the film comes out so many times (K,) as thick."""
    lab = question.reach.palette.lab(target.thickness_nm * np.array([1.0, *factor]))
    return delta_e_76(lab[1:], lab[0])


def _rating(shift_de: float) -> str:
    return "easy" if shift_de < EASY_DE else "touchy" if shift_de > TOUCHY_DE else "fair"
