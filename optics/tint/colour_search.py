"""A colour wanted of a metal: the thicknesses that show it, and each treatment as a recipe."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..colour.spaces import delta_e_76
from ..inference.reading import Reading
from ..numerics.density import interval90
from ..oxidation.anodic import anodic_law
from ..oxidation.calibration import LawDraws
from ..oxidation.schedule import HeatSchedule
from ..report.format import format_ordinal, join_either
from .alike import DrawThickness, PartsOfColour, check_parts, draw_batches
from .kiln import Kiln, kiln_for
from .result import By, Recipe, Recipes, Sensitivity, SolvedFor
from .shades import Palette, require_palette
from .targets import (
    MET_DE,
    Reach,
    Target,
    WantedColour,
    find_targets,
    parse_wanted_colour,
    target_at,
)

DEGREES, SHARE, VOLTS = 10.0, 0.10, 1.0
EASY_DE, TOUCHY_DE = 10.0, 20.0
"""Shifts of colour [ΔE] for ±10 °C, ±10 % of the time or ±1 V below which a recipe is easy, above
which it is touchy: judgements, against word regions some 20 ΔE wide."""
_WORLDS = 120
_SAME_SHARE = 0.05
_WIDE_DOUBT = 0.5  # of the logarithm of a law's thickness: where it rests on memory


@dataclass(frozen=True)
class Wish:
    """What is wanted: a colour, how far from it counts, and for how many parts alike."""

    want: str | Reading
    tolerance_de: float = MET_DE
    parts: int | None = None


@dataclass(frozen=True, eq=False)
class ColourSearch:
    """A colour wanted of a kiln, and the thicknesses that show it."""

    kiln: Kiln
    palette: Palette
    wish: WantedColour
    reach: Reach
    parts: int | None
    seed: int

    @classmethod
    def of(cls, held: Kiln, asked: Wish, *, viewing: ViewingConditions, seed: int) -> ColourSearch:
        """The search for a colour of this kiln.

        Raises
        ------
        InputError
            If the colour, its tolerance or the number of parts is refused, or no colours of the
            metal can be computed.
        """
        palette = require_palette(held, viewing)
        wish = parse_wanted_colour(asked.want, asked.tolerance_de)
        check_parts(asked.parts)
        reach = find_targets(palette, wish, held.metal.shown_nm)
        return cls(held, palette, wish, reach, asked.parts, seed)

    def kiln_for(self, heat: HeatSchedule) -> Kiln:
        """The kiln, or the law that goes on above its range where the heat is hotter."""
        return kiln_for(self.kiln, heat, self.seed)

    def typical_nm(self, heats: Sequence[HeatSchedule]) -> FloatArray:
        """Median thickness after each heat [nm], shape (heats,)."""
        of_kiln: dict[Kiln, list[int]] = {}
        for place, heat in enumerate(heats):
            of_kiln.setdefault(self.kiln_for(heat), []).append(place)
        film = np.empty(len(heats))
        for held, places in of_kiln.items():
            film[places] = typical_nm(held, [heats[place] for place in places])
        return film

    def typical_each_nm(self, heat: HeatSchedule, times: int) -> FloatArray:
        """Median thickness after each of so many equal heats [nm], shape (times,)."""
        held = self.kiln_for(heat)
        return np.median(_few_draws(held).typical_each_nm(held.metal, heat, times), axis=1)

    def draw_heat(self, heat: HeatSchedule) -> DrawThickness:
        """Draws of the thickness of pieces after a heat."""
        held = self.kiln_for(heat)
        return lambda rng: held.draws.thickness_nm(held.metal, heat, rng)

    def heat_recipe(
        self,
        target: Target,
        heat: HeatSchedule,
        solved_for: SolvedFor,
        *,
        minutes: float,
        passes: int | None = None,
    ) -> Recipe:
        """A heat as the way to a target; ``minutes`` is the time that the recipe says."""
        setting = heat.peak_C, minutes, None, passes
        spread = self._sensitivity(heat, target)
        draw = self.draw_heat(heat)
        return self._recipe(target, draw, solved_for, setting, self.kiln_for(heat), spread)

    def volt_recipe(self, target: Target, draw: DrawThickness, volts: float) -> Recipe:
        """A voltage as the way to a target."""
        spread = self._volt_sensitivity(volts, target)
        return self._recipe(target, draw, "volts", (None, None, volts, None), self.kiln, spread)

    def _recipe(
        self,
        target: Target,
        draw: DrawThickness,
        solved_for: SolvedFor,
        setting: tuple[float | None, float | None, float | None, int | None],
        held: Kiln,
        spread: Sensitivity,
    ) -> Recipe:
        degrees, minutes, volts, passes = setting
        drawn_nm = draw(np.random.default_rng(self.seed))
        target = self._reached(target, float(np.median(drawn_nm)))
        return Recipe(
            degrees, minutes, volts, solved_for, target.thickness_nm, interval90(drawn_nm),
            target.order, target.srgb_hex, target.name, target.delta_e,
            self.chance(held, drawn_nm), spread, passes, self._count_parts(held, draw),
        )  # fmt: skip

    def chance(self, held: Kiln, drawn_nm: FloatArray) -> float:
        """Share of films, one in each draw of a kiln (N,), that have the colour wanted."""
        xyz = self.palette.draw_xyz(held, drawn_nm, self.seed)
        lab, names = self.palette.lab_of(xyz), self.palette.name_xyz(xyz)[1]
        return float(self.wish.matches(lab, names).mean())

    def _reached(self, target: Target, thickness_nm: float) -> Target:
        """The target, or what is reached in its place: passes come in whole numbers, and two laws
        that meet at a temperature differ there for times other than those they were joined at."""
        if abs(thickness_nm / target.thickness_nm - 1.0) <= _SAME_SHARE:
            return target
        return target_at(self.reach.palette, self.wish, thickness_nm)

    def _count_parts(self, held: Kiln, draw: DrawThickness) -> PartsOfColour | None:
        """How many parts treated alike have the colour wanted."""
        if self.parts is None:
            return None
        drawn = draw_batches(held, self.palette, draw, parts=self.parts, seed=self.seed)
        shape = drawn.names.shape
        lab, names = drawn.lab.reshape(-1, 3), drawn.names.ravel()
        return drawn.count(self.wish.text, self.wish.matches(lab, names).reshape(shape), self.seed)

    def _sensitivity(self, heat: HeatSchedule, target: Target) -> Sensitivity:
        others = [
            heat.with_peak(heat.peak_C + DEGREES), heat.with_peak(heat.peak_C - DEGREES),
            heat.stretch(1.0 + SHARE), heat.stretch(1.0 - SHARE),
        ]  # fmt: skip
        held = self.kiln_for(heat)
        films = typical_nm(held, [heat, *others])
        shift = self._shifts(target, films[1:] / films[0])
        degrees, percent = float(shift[:2].max()), float(shift[2:].max())
        return Sensitivity(_rating(max(degrees, percent)), degrees, percent)

    def _volt_sensitivity(self, volts: float, target: Target) -> Sensitivity:
        at_V = np.array([volts, volts - VOLTS, volts + VOLTS])
        films = anodic_law(self.kiln.metal).typical_nm(at_V)
        shift = float(self._shifts(target, films[1:] / films[0]).max())
        return Sensitivity(_rating(shift), one_volt_de=shift)

    def _shifts(self, target: Target, factor: FloatArray) -> FloatArray:
        """Shifts of colour [ΔE 1976] where the film comes out so many times (K,) as thick."""
        lab = self.reach.palette.lab(target.thickness_nm * np.array([1.0, *factor]))
        return delta_e_76(lab[1:], lab[0])

    def answer(
        self, found: Sequence[Recipe], by: By, *, means: str, caveats: tuple[str, ...]
    ) -> Recipes:
        """The recipes found, and what to say of those that are out of reach."""
        metal, targets = self.kiln.metal, self.reach.targets
        said = [*self.wish.notes, *self.kiln.warnings, *self.reach.doubts]
        shown = {one.order for one in targets} - {one.order for one in found}
        missed = sorted(order for order in shown if order is not None)
        if targets and not found:
            said.append(f"the colour exists, but no {means} within the law's range reaches it")
        elif missed:
            orders = join_either([format_ordinal(order) for order in missed])
            said.append(f"it also appears in the {orders} order, out of reach of these {means}s")
        return Recipes(
            metal.key, metal.name, metal.oxide, metal.note, self.wish.text, tuple(found),
            bool(targets), self.reach.nearest, targets, metal.regimes[-1].law.name,
            self.kiln.source, metal.confidence, (*said, *caveats), metal.cautions, self.seed,
            self.wish.counts_as, by, self.parts,
        )  # fmt: skip


def typical_nm(held: Kiln, heats: Sequence[HeatSchedule]) -> FloatArray:
    """Median thickness after each heat [nm], shape (heats,)."""
    return np.median(_few_draws(held).typical_all_nm(held.metal, heats), axis=1)


def _few_draws(held: Kiln) -> LawDraws:
    """Draws enough for a median: of a law in wide doubt evenly over all that it may grow, for the
    first few would be off by a tenth."""
    count = held.draws.scatter.size
    few, level = min(_WORLDS, count), held.draws.theta[:, 0]
    if np.std(level) <= _WIDE_DOUBT:
        return held.draws.take(np.arange(few))
    places = ((np.arange(few) + 0.5) * count / few).astype(np.intp)
    return held.draws.take(np.argsort(level)[places])


def solve_heats(
    search: ColourSearch, grid: FloatArray, heat_at: Callable[[float], HeatSchedule]
) -> list[tuple[Target, float]]:
    """Where on a rising grid (G,) of temperatures or times each target is reached, if it is."""
    film = np.maximum.accumulate(search.typical_nm([heat_at(float(x)) for x in grid]))
    found = []
    for target in search.reach.targets:
        if film[0] < target.thickness_nm < film[-1]:
            at = np.interp(np.log(target.thickness_nm), np.log(film), grid)
            found.append((target, float(at)))
    return found


def _rating(shift_de: float) -> str:
    return "easy" if shift_de < EASY_DE else "touchy" if shift_de > TOUCHY_DE else "fair"
