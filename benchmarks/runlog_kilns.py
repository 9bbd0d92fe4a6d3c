"""Does the log learn a kiln? Kilns drawn at random, their pieces looked at, the next one foretold.

    python -m benchmarks.runlog_kilns --keep kilns.jsonl [--kilns 200] [--world prior] [--write]

A kiln is drawn from the prior of titanium's law, with steps, drift and walk of its pace and pieces
that are misread, or from a world that it does not hold: ``heat`` (its thermometer stretches the
scale by 6 %, so that growth rises otherwise with what it shows), ``element`` (from piece 4 on it
goes three times slower), ``misread`` (one piece in six is that of another heat), ``wander`` (its
pace changes at every heat, to and fro, never by a step), ``ageing`` (it goes an eighth slower at
every heat); ``card`` is the first of them with a white card on each photo, a way of reading and no
other kiln. Six pieces, in the world ``element`` ten, at heats a person might try are photographed
in the workshop's light; from the first ones the next is foretold, and of what the next heat of such
a kiln makes, all its chances drawn many times, the share within the interval is counted. The recipe
for what 30 nm looks like, by the verb's own search, is set against the best piece so far done again
and against one recipe for all. One line a kiln is added to the file as it is done.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

import numpy as np

from benchmarks.drawn import draw_readings
from benchmarks.runlog import write_table
from oxhue.optics._typing import FloatArray
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.simulate import SampledFilms
from oxhue.optics.inference.uncertainty import DEFAULTS, How
from oxhue.optics.look.look import look
from oxhue.optics.oxidation.calibration import (
    Coupon,
    LawDraws,
    draw_prior,
    fit_law,
)
from oxhue.optics.oxidation.kiln_history import (
    DRIFT_K,
    MISREAD,
    MISREAD_DOUBT,
    STEP_CHANCE,
    STEP_K,
    WALK_K,
    WALK_SPREAD,
    pace_per_K,
)
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.schedule import HeatSchedule, hold
from oxhue.optics.tint.coupon import film_share, piece_from_colour
from oxhue.optics.tint.kiln import DRAWS, Kiln
from oxhue.optics.tint.recipes import recipes

WORLDS = ("prior", "heat", "element", "misread", "wander", "ageing", "card")
PIECES = 6
FIRST_FORETOLD = 3
FORETOLD = {"element": (FIRST_FORETOLD, 4, 5, 6, 8, 10)}
"""From how many pieces the next is foretold, where not from 3, 5 and 6."""
GOAL_NM, WITHIN = 30.0, 0.2
_METAL = find_metal("Ti")
_FILMS, _SHARE = film_share(_METAL)
_MINUTES = (10.0, 20.0, 40.0, 60.0)
_STRETCH, _SLOWER, _SLOWER_FROM, _MISREAD = 1.06, np.log(1.0 / 3.0), 3, 1.0 / 6.0
_WANDER = 0.2  # deviation of ln pace from one heat to the next
_AGEING = np.log(7.0 / 8.0)
_FIXED = hold(400.0, 1200.0)
_DRAWS, _AGAIN = 800, 200


@dataclass
class KilnOutcome:
    """What came of one simulated kiln; the fields are those of the simulated jars."""

    world: str
    kiln: int
    held: list[float] = field(default_factory=list)
    after: list[int] = field(default_factory=list)
    ratio: float | None = None
    planned: float | None = None
    repeated: float | None = None
    fixed: float | None = None


def run_kiln(number: int, world: str) -> KilnOutcome:
    """One simulated kiln of a world, with its pieces."""
    rng = np.random.default_rng([number, WORLDS.index(world), 11])
    truth = draw_prior(_METAL, _SHARE, count=1, rng=rng)
    outcome = KilnOutcome(world, number)
    foretold = FORETOLD.get(world, (FIRST_FORETOLD, 5, 6))
    heats = [
        hold(float(rng.integers(34, 57)) * 10.0, 60.0 * float(rng.choice(_MINUTES)))
        for _ in range(max(foretold) + 1)
    ]
    changes = _Changes.draw(world, pace_per_K(_METAL, heats), rng)
    pieces: list[Coupon] = []
    tried: list[tuple[float, HeatSchedule]] = []
    for count, heat in enumerate(heats):
        before = truth
        if count > 0:
            truth = replace(truth, pace=truth.pace + changes.before(count, rng))
        made = float(_make(truth, heat, world, rng)[0])
        if count in foretold:
            draws = fit_law(_METAL, pieces, _SHARE, count=_DRAWS, rng=rng, in_order=True).draws
            low, high = _ends(draws, heat, rng)
            again = np.log(_make(changes.drawn_again(before, count, rng), heat, world, rng))
            outcome.held.append(float(np.mean((low <= again) & (again <= high))))
            outcome.after.append(count)
            if count == PIECES - 1:
                shipped = draw_prior(_METAL, _SHARE, count=_DRAWS, rng=rng)
                outcome.ratio = float((high - low) / np.ptp(_ends(shipped, heat, rng)))
                _plan(outcome, truth, draws, min(tried, key=lambda one: one[0])[1], rng)
        shown = changes.show(made, rng)
        how: How = "card" if world == "card" else "photo"
        piece = _photograph(heat, shown, truth, how=how, rng=rng)
        pieces.append(replace(piece, place=count))
        tried.append((abs(float(np.log(made / GOAL_NM))), heat))
    return outcome


@dataclass(frozen=True)
class _Changes:
    """What changes of a kiln from heat to heat, and how many of its pieces are misread."""

    world: str
    per_K: float
    drift: float
    wander: float
    misread: float

    @classmethod
    def draw(cls, world: str, per_K: float, rng: np.random.Generator) -> _Changes:
        """Those of one kiln, whose pace gains so much for each kelvin."""
        drift, wander, odds = rng.standard_normal(3)
        if world in ("element", "wander", "ageing"):
            return cls(world, per_K, 0.0, _WANDER, 0.0)
        misread = 1.0 / (1.0 + (1.0 / MISREAD - 1.0) * np.exp(-MISREAD_DOUBT * odds))
        return cls(
            world, per_K, DRIFT_K * per_K * drift, WALK_K * per_K * np.exp(WALK_SPREAD * wander),
            _MISREAD if world == "misread" else misread,
        )  # fmt: skip

    def before(self, count: int, rng: np.random.Generator) -> float:
        """What the logarithm of the pace gains before a heat."""
        if self.world == "ageing":
            return float(_AGEING)
        if self.world == "element":
            return float(_SLOWER) if count == _SLOWER_FROM else 0.0
        walked = self.wander * float(rng.standard_normal())
        if self.world == "wander" or rng.random() >= STEP_CHANCE:
            return self.drift + walked
        return self.drift + walked + STEP_K * self.per_K * float(rng.standard_normal())

    def drawn_again(self, kiln: LawDraws, count: int, rng: np.random.Generator) -> LawDraws:
        """A kiln many times as a heat may find it."""
        many = kiln.take(np.zeros(_AGAIN, dtype=np.intp))
        more = np.array([[self.before(count, rng)] for _ in range(_AGAIN)])
        return replace(many, pace=many.pace + more)

    def show(self, made_nm: float, rng: np.random.Generator) -> float:
        """The thickness that a piece shows: of one misread, that of another."""
        if rng.random() >= self.misread:
            return made_nm
        if self.world != "misread":
            return float(rng.uniform(1.0, _METAL.most_nm))
        return made_nm * float(np.exp(rng.standard_normal()))


def _make(truth: LawDraws, heat: HeatSchedule, world: str, rng: np.random.Generator) -> FloatArray:
    """Thickness of the oxide of a piece [nm], shape (N,)."""
    if world == "heat":
        peak_C = heat.peak_C * _STRETCH - 20.0 * (_STRETCH - 1.0)
        heat = hold(peak_C, heat.duration_s)
    return truth.thickness_nm(_METAL, heat, rng)


def _photograph(
    heat: HeatSchedule, nm: float, truth: LawDraws, *, how: How, rng: np.random.Generator
) -> Coupon:
    """A piece by its colour on a photo, all that a photo leaves in doubt drawn."""
    pairs = list_film_models(_METAL.films, _METAL.on)
    name = _FILMS[int(truth.film[0])]
    own = [j for j, pair in enumerate(pairs) if pair.film_name == name]
    weight = np.array([pairs[j].weight for j in own])
    drawn = rng.choice(own, p=weight / weight.sum())
    films = SampledFilms(np.array([drawn]), np.array([nm]), truth.index_error)
    doubts = replace(DEFAULTS[how], index_spread=0.0)
    lab = draw_readings(films, pairs, doubts=doubts, viewing=ViewingConditions(), rng=rng)[0]
    text = f"{min(max(lab[0], 0.0), 100.0):.2f},{lab[1]:.2f},{lab[2]:.2f}"
    reading = parse_reading(text, how)
    return piece_from_colour(_METAL, heat, reading, viewing=ViewingConditions())


def _ends(draws: LawDraws, heat: HeatSchedule, rng: np.random.Generator) -> FloatArray:
    return np.quantile(np.log(draws.thickness_nm(_METAL, heat, rng)), (0.05, 0.95))


def _plan(
    outcome: KilnOutcome,
    truth: LawDraws,
    draws: LawDraws,
    best: HeatSchedule,
    rng: np.random.Generator,
) -> None:
    """True chances of the goal for the planned heat, the best so far repeated, a fixed recipe."""
    kept = draws.take(np.arange(0, _DRAWS, _DRAWS // DRAWS))  # those that a log keeps
    kiln = Kiln(_METAL, kept, _FILMS, pieces=5, made_from="simulated", between_C=(340.0, 560.0))
    found = recipes("Ti", _goal_hex(), times=(1200.0,), kiln=kiln)
    heats = {"repeated": best, "fixed": _FIXED}
    if found.recipes:
        first = found.recipes[0]
        heats["planned"] = hold(first.temperature_C, 60.0 * first.time_min)
    many = truth.take(np.zeros(200, dtype=np.intp))
    outcome.planned = 0.0
    for name, heat in heats.items():
        off = np.log(_make(many, heat, outcome.world, rng) / GOAL_NM)
        setattr(outcome, name, float(np.mean(np.abs(off) <= np.log1p(WITHIN))))


def _goal_hex() -> str:
    return str(look(f"TiO2 {GOAL_NM:g}nm / Ti").reflected.srgb_hex)


HEAD = (
    "| world | kilns | 90 % hold (forecasts) | piece 4 | later ones | width after 5 pieces "
    "| goal: planned | best repeated | fixed recipe |\n|---|---|---|---|---|---|---|---|---|"
)


def table_row(world: str, kilns: list[KilnOutcome]) -> str:
    """One world as a row of the table."""
    held = np.concatenate([one.held for one in kilns])
    error = np.std([np.mean(one.held) for one in kilns]) / np.sqrt(len(kilns))
    fourth = np.concatenate([one.after for one in kilns]) == FIRST_FORETOLD
    means = [np.mean([getattr(one, n) for one in kilns]) for n in ("planned", "repeated", "fixed")]
    return (
        f"| {world} | {len(kilns)} | {held.mean():.3f} ± {error:.3f} ({held.size}) "
        f"| {held[fourth].mean():.3f} | {held[~fourth].mean():.3f} "
        f"| {np.median([one.ratio for one in kilns]):.2f} "
        f"| {' | '.join(f'{one:.2f}' for one in means)} |"
    )


def main() -> None:
    """Run the kilns that the file lacks, and print the table of those it holds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keep", type=Path, required=True)
    parser.add_argument("--kilns", type=int, default=200)
    parser.add_argument("--world", choices=WORLDS, action="append")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()

    def read() -> list[KilnOutcome]:
        if not options.keep.exists():
            return []
        return [KilnOutcome(**json.loads(x)) for x in options.keep.read_text("utf-8").splitlines()]

    done = {(one.world, one.kiln) for one in read()}
    for number in range(options.kilns):
        for world in options.world or WORLDS:
            if (world, number) not in done:
                with options.keep.open("a", encoding="utf-8") as stream:
                    stream.write(json.dumps(asdict(run_kiln(number, world))) + "\n")
    rows = [
        table_row(world, own)
        for world in WORLDS
        if (own := [x for x in read() if x.world == world])
    ]
    print("\n".join([HEAD, *rows]))
    if options.write:
        write_table("kilns", "\n".join([HEAD, *rows]))


if __name__ == "__main__":
    main()
