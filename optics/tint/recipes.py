"""Which heat gives this colour? Temperatures for given times, and times for given temperatures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import Literal

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..colour.spaces import delta_e_76
from ..errors import InputError, OutOfRangeError
from ..numerics.parallel import map_parallel
from ..oxidation.anodic import anodic_law
from ..oxidation.metals import Metal, anodic_cautions
from ..oxidation.regime import grow
from ..oxidation.schedule import LONGEST_S, HeatSchedule, hold
from .kiln import Kiln
from .result import Recipe, Recipes, Sensitivity
from .shades import Palette, palette_for
from .targets import Target, WantedColour, find_targets, parse_wanted_colour
from .tint import interval90, kiln_of

USUAL_MIN = (10.0, 20.0, 30.0, 60.0)
_LEAST_S, _MOST_S = 60.0, 86400.0
_STEP_C = 2.0
_WORLDS = 120
DEGREES, SHARE = 10.0, 0.10
EASY_DE, TOUCHY_DE = 10.0, 20.0
"""Shifts of colour [ΔE] for ±10 °C or ±10 % of the time below which a heat is easy, above which it
is touchy: judgements, against word regions some 20 ΔE wide."""


def recipes(
    metal: str,
    want: str,
    *,
    times_s: Sequence[float] = (),
    temperatures_C: Sequence[float] = (),
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
    times_s, temperatures_C : sequence of float
        Times to find temperatures for, and temperatures to find times for; usual ones where both
        are empty.
    kiln : Kiln, optional
    conditions : ViewingConditions or str, optional
    seed : int

    Returns
    -------
    Recipes

    Raises
    ------
    InputError
        If no colours of the metal can be computed, or a word, time or temperature is refused.
    """
    held = kiln_of(metal, kiln, seed)
    viewing = as_conditions(conditions)
    palette, wish = _prepare(held, want, viewing)
    low, high = held.metal.range_C
    for temperature_C in temperatures_C:
        if not low <= temperature_C <= high:
            raise OutOfRangeError(
                f"{temperature_C:g} °C is outside the range the law of {held.metal.name} was drawn "
                f"from ({low:g} to {high:g} °C)"
            )
    if any(not 0.0 < time <= LONGEST_S for time in times_s):
        raise OutOfRangeError("a time to tint in must be above 0 and less than a century")
    if not times_s and not temperatures_C:
        times_s = [60.0 * minutes for minutes in USUAL_MIN]
        temperatures_C = np.linspace(low, high, 6)[1:-1].round(-1).tolist()
    targets, nearest = find_targets(palette, wish, held.metal.most_nm)
    heats = _find_heats(held, targets, times_s, temperatures_C)
    found = list(map_parallel(partial(_recipe, held, palette, wish, seed=seed), heats))
    found.sort(key=lambda one: (one.order, -one.chance))
    made = _assemble(held, want, tuple(found), targets, nearest, seed)
    return replace(made, kiln=held, conditions=viewing)


def anodic_recipes(
    metal: str, want: str, *, conditions: ViewingConditions | str | None = None, seed: int = 1
) -> Recipes:
    """Voltages that give a colour; as `recipes`."""
    held = kiln_of(metal, None, seed)
    palette, wish = _prepare(held, want, as_conditions(conditions))
    law = anodic_law(held.metal)
    targets, nearest = find_targets(palette, wish, held.metal.most_nm)
    found = []
    for target in targets:
        volts = target.thickness_nm / law.nm_per_V
        if not law.range_V[0] <= volts <= law.range_V[1]:
            continue
        constant = law.nm_per_V + law.sd * np.random.default_rng(seed).standard_normal(
            held.draws.scatter.size
        )
        drawn = np.maximum(constant * volts, 0.0)
        found.append(
            Recipe(
                None, None, volts, "volts", target.thickness_nm, interval90(drawn), target.order,
                target.srgb_hex, target.name, target.delta_e,
                _chance(held, palette, wish, drawn, seed), None,
            )
        )  # fmt: skip
    whole = _assemble(held, want, tuple(found), targets, nearest, seed)
    words = f"{law.nm_per_V:g} ± {law.sd:g} nm/V"
    return Recipes(
        whole.metal, whole.metal_name, whole.oxide, want, whole.recipes, whole.attainable, nearest,
        targets, words, law.source, law.confidence, whole.warnings, anodic_cautions(), seed,
    )  # fmt: skip


def _prepare(
    held: Kiln, want: str, viewing: ViewingConditions | None
) -> tuple[Palette, WantedColour]:
    palette = palette_for(held, viewing or ViewingConditions())
    if palette is None:
        raise InputError(
            f"no colour of oxide on {held.metal.name} can be computed: {held.metal.note}"
        )
    return palette, parse_wanted_colour(want)


def _find_heats(
    held: Kiln,
    targets: Sequence[Target],
    times_s: Sequence[float],
    temperatures_C: Sequence[float],
) -> list[tuple[Target, HeatSchedule, Literal["temperature", "time"]]]:
    """For every target the heats within the law's range that reach it."""
    low, high = held.metal.range_C
    heats: list[tuple[Target, HeatSchedule, Literal["temperature", "time"]]] = []
    grid_C = np.arange(low, high + _STEP_C / 2.0, _STEP_C)
    grid_s = np.geomspace(_LEAST_S, _MOST_S, 60)
    for time_s in times_s:
        film = typical_nm(held, [hold(float(c), time_s) for c in grid_C])
        for target in targets:
            if film[0] < target.thickness_nm < film[-1]:
                at = float(np.interp(np.log(target.thickness_nm), np.log(film), grid_C))
                heats.append((target, hold(round(at, 1), time_s), "temperature"))
    for temperature_C in temperatures_C:
        film = typical_nm(held, [hold(temperature_C, float(s)) for s in grid_s])
        for target in targets:
            if film[0] < target.thickness_nm < film[-1]:
                log_s = np.interp(np.log(target.thickness_nm), np.log(film), np.log(grid_s))
                heats.append((target, hold(temperature_C, float(np.exp(log_s))), "time"))
    return heats


def typical_nm(held: Kiln, heats: Sequence[HeatSchedule]) -> FloatArray:
    """Median thickness after each heat [nm], shape (heats,)."""
    few = held.draws.take(np.arange(min(_WORLDS, held.draws.scatter.size)))
    films = [
        grow(held.metal.regimes, few.theta, heat, few.native_nm, few.pace[:, 0]) for heat in heats
    ]
    return np.median(np.array(films), axis=1)


def _recipe(
    held: Kiln,
    palette: Palette,
    wish: WantedColour,
    found: tuple[Target, HeatSchedule, Literal["temperature", "time"]],
    seed: int,
) -> Recipe:
    target, heat, solved_for = found
    drawn = held.draws.thickness_nm(held.metal, heat, np.random.default_rng(seed))
    return Recipe(
        heat.peak_C, heat.duration_s / 60.0, None, solved_for, target.thickness_nm,
        interval90(drawn), target.order, target.srgb_hex, target.name, target.delta_e,
        _chance(held, palette, wish, drawn, seed), _find_sensitivity(held, palette, heat, target),
    )  # fmt: skip


def _chance(
    held: Kiln, palette: Palette, wish: WantedColour, drawn_nm: FloatArray, seed: int
) -> float:
    xyz = palette.draw_xyz(held.draws, held.film_names, drawn_nm, seed)
    return float(wish.matches(palette.lab_of(xyz)).mean())


def _find_sensitivity(
    held: Kiln, palette: Palette, heat: HeatSchedule, target: Target
) -> Sensitivity:
    others = [
        heat.shift(DEGREES), heat.shift(-DEGREES),
        heat.stretch(1.0 + SHARE), heat.stretch(1.0 - SHARE),
    ]  # fmt: skip
    films = typical_nm(held, [heat, *others])
    moved = films[1:] * target.thickness_nm / films[0]
    lab = palette.lab(np.array([target.thickness_nm, *moved]))
    shift = delta_e_76(lab[1:], lab[0])
    degrees, percent = float(shift[:2].max()), float(shift[2:].max())
    worst = max(degrees, percent)
    rating = "easy" if worst < EASY_DE else "touchy" if worst > TOUCHY_DE else "fair"
    return Sensitivity(degrees, percent, rating)


def _assemble(
    held: Kiln,
    want: str,
    found: tuple[Recipe, ...],
    targets: tuple[Target, ...],
    nearest: Target,
    seed: int,
) -> Recipes:
    metal = held.metal
    said = list(held.warnings)
    reached = {one.order for one in found}
    missed = sorted({one.order for one in targets} - reached)
    if targets and not found:
        said.append(
            "the colour exists, but no heat within the law's range and the times reaches it"
        )
    elif missed:
        orders = ", ".join(str(order) for order in missed)
        said.append(f"it also appears in order {orders}, out of reach of these heats")
    return Recipes(
        metal.key, metal.name, metal.oxide, want, found, bool(targets), nearest, targets,
        metal.regimes[-1].law.name, held.source, metal.confidence,
        (*said, *_rests(metal, held)), metal.cautions, seed,
    )  # fmt: skip


def _rests(metal: Metal, held: Kiln) -> tuple[str, ...]:
    if held.pieces:
        return ()
    if metal.confidence == "fit":
        return ("the law is a fit to published lists of colours, not to measured thicknesses",)
    if metal.confidence == "low":
        return ("the law rests on figures from memory, right to a factor of two at best",)
    return ()
