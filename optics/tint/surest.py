"""Recipes moved to the heat whose pieces come out in the colour most often."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from ..oxidation.schedule import LEAST_S, MOST_S, HeatSchedule, hold
from .colour_search import DEGREES, SHARE, ColourSearch
from .kiln import span_C
from .result import Recipe
from .targets import target_at

_FACTORS = np.exp(np.arange(-0.30, 0.31, 0.05))


def surest(search: ColourSearch, found: Sequence[Recipe]) -> list[Recipe]:
    """Recipes moved to where most pieces come out in the colour, the surest first in each order.

    A recipe is for the thickness that shows the colour best under the likeliest kind of oxide;
    with all kinds weighed, and on the slope of a colour, somewhat more or less may be surer.
    """
    factors: dict[int | None, float] = {}
    for one in found:
        if one.order not in factors:
            factors[one.order] = _surest_factor(search, steady_heat(one))
    moved = [_move(search, one, factors[one.order]) for one in found]
    return sorted(moved, key=lambda one: one.rank)


def _surest_factor(search: ColourSearch, heat: HeatSchedule) -> float:
    """By how much thicker than after a heat a film has the best chance of the colour."""
    held, drawn_nm = search.kiln_for(heat), draw_nm(search, heat)
    chances = np.array([search.chance(held, factor * drawn_nm) for factor in _FACTORS])
    if not chances.any():
        return 1.0
    # of some hundred draws: neighbours count too, so that luck moves nothing
    smooth = np.convolve(np.pad(chances, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")
    return float(_FACTORS[np.argmax(smooth)])


def _move(search: ColourSearch, one: Recipe, factor: float) -> Recipe:
    """A recipe for a film so many times as thick, where that is surer and in the law's range."""
    heat = steady_heat(one)
    hotter, longer = heat.shift(DEGREES), heat.stretch(1.0 + SHARE)
    films = np.log(search.typical_nm([heat, hotter, longer]))
    if one.solved_for == "temperature":
        other = heat.shift(round(DEGREES * np.log(factor) / (films[1] - films[0])))
    else:
        other = heat.stretch((1.0 + SHARE) ** (np.log(factor) / (films[2] - films[0])))
    low, high = span_C(search.kiln)
    if not (low <= other.peak_C <= high and LEAST_S <= other.duration_s <= MOST_S):
        return one
    target = target_at(search.reach.palette, search.wish, float(np.exp(films[0]) * factor))
    minutes = other.duration_s / 60.0
    moved = search.heat_recipe(target, other, one.solved_for, minutes=minutes)
    return _show_met(search, moved) if moved.chance > one.chance else one


def _show_met(search: ColourSearch, one: Recipe) -> Recipe:
    """A recipe with the colour in the middle of the pieces that come out as wanted: that of the
    typical thickness may be another, where kinds of oxide are open that grow differently."""
    heat = steady_heat(one)
    xyz = search.palette.draw_xyz(search.kiln_for(heat), draw_nm(search, heat), search.seed)
    lab, (hexes, names) = search.palette.lab_of(xyz), search.palette.name_xyz(xyz)
    met = np.flatnonzero(search.wish.matches(lab, names))
    if not met.size:
        return one
    off = np.linalg.norm(lab[met] - np.median(lab[met], axis=0), axis=1)
    middle = met[np.argmin(off)]
    return replace(
        one, srgb_hex=str(hexes[middle]), name=str(names[middle]),
        delta_e=float(search.wish.distance(lab[[middle]])[0]),
    )  # fmt: skip


def setting_of(recipe: Recipe) -> tuple[float, float]:
    """Temperature [°C] and time [s] of a steady heat."""
    assert recipe.temperature_C is not None
    assert recipe.time_min is not None
    return recipe.temperature_C, 60.0 * recipe.time_min


def steady_heat(recipe: Recipe) -> HeatSchedule:
    """The steady heat of a recipe."""
    return hold(*setting_of(recipe))


def draw_nm(search: ColourSearch, heat: HeatSchedule) -> FloatArray:
    """Films of pieces after a heat [nm], the same draws each time."""
    return np.asarray(search.draw_heat(heat)(np.random.default_rng(search.seed)))
