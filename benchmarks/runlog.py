"""Does the run log learn? Jars drawn at random, their runs looked at, the next run foretold.

    python -m benchmarks.runlog --keep jars.jsonl [--jars 200] [--first 0] [--world prior] [--write]

A jar is drawn from the prior of :mod:`oxhue.optics.log.jar_prior`, misread pieces, spoilt runs and
steps of leak and rate included, or from a world that it does not hold: ``emissivity`` (the wire's
heat law is another: its rate rises less steeply with current), ``leak`` (a leak opens at run 5),
``word`` (of one piece in six one word is another), ``swapped`` (one look in six is of another
piece), ``wander`` (leak and rate change a little at every run, never by a step), ``gauged`` (as
``leak``, with the pressure read before every run, that which is foretold too). Its runs use
currents a person might try. What is seen of each slide is drawn by :mod:`benchmarks.onlooker` from
films of another seed. From the first runs the next is foretold, and set against what came of it.
One line a jar is added to the file as it is done, so that a long run can be broken off and gone on
with. ``--write`` puts the table of the file into ``benchmarks/runlog.md``, where the table of
:mod:`benchmarks.runlog_kilns` and the times stand too.
"""

from __future__ import annotations

import argparse
import json
import math
from dataclasses import asdict, dataclass, field, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from benchmarks.onlooker import noticed
from oxhue.optics._typing import FloatArray
from oxhue.optics.assay.colours import FilmSet, draw_film_set
from oxhue.optics.log.evidence import LN_NM, STATES, piece_evidence, sort_films
from oxhue.optics.log.gauge_now import read_gauge
from oxhue.optics.log.jar_posterior import (
    STRAY_RUN,
    JarDraws,
    RunEvidence,
    learn_jar,
    melting_chance,
    predict_ln_nm,
)
from oxhue.optics.log.jar_prior import STEP_CHANCE, JarPrior, step_doubt
from oxhue.optics.log.planner import WantedMetal, best_settings, change_model
from oxhue.optics.log.records import LoggedPiece, LoggedRun, Noted
from oxhue.optics.log.run_gas import READING_DOUBT
from oxhue.optics.log.run_model import RunModel, model_run

TABLE = Path(__file__).with_suffix(".md")
WORLDS = ("prior", "emissivity", "leak", "word", "swapped", "wander", "gauged")
RUNS = 8
GOAL = WantedMetal(45.0, 0.25, "metal")
PRIOR = JarPrior(("wire Ti",), True)
_GAUGED = replace(PRIOR, gauged=True)
_FACTS = {"jar": {"volume": "3l", "pumping": "2l/s", "leak": "1e-3mbar.l/s"}}
_DONE = {
    "source": "wire", "metal": "Ti", "wire_diameter": "0.5mm", "wire_length": "200mm",
    "time": "12min", "distance": "5cm", "working_gas": "argon", "working_pressure": "5e-3mbar",
    "new_wire": "yes",
}  # fmt: skip
_CURRENT_A = 6.4
_WORLD_SEED = 1000
_MISREAD = 1.0 / 6.0
_LEAK_AT, _LEAK_TIMES = 4, 5.0
_WANDER = {"leak": 0.4, "rate": 0.15}  # deviation of the logarithm from one run to the next
_OTHER_WORDS = {
    "finish": ("mirror", "glossy", "satin", "dull"), "through": ("opaque", "dim", "clear"),
    "seen": ("silver", "grey", "gold", "purple", "blue", "yellow"), "ohms": ("open", "10ohm"),
}  # fmt: skip


@dataclass
class JarOutcome:
    """What came of one simulated jar.

    Attributes
    ----------
    world, jar
    held : list of bool
        Whether the runs foretold were within their 90 % interval.
    after : list of int
        How many runs each was foretold from.
    stated, metal : list
        Chance of metal stated for them, and whether it was.
    ratio : float or None
        Width of the interval after five runs over that without any.
    planned, repeated, fixed : float or None
        True chance of the goal by the planner's run, by repeating the best run so far, and by a
        fixed recipe.
    """

    world: str
    jar: int
    held: list[bool] = field(default_factory=list)
    after: list[int] = field(default_factory=list)
    stated: list[float] = field(default_factory=list)
    metal: list[bool] = field(default_factory=list)
    ratio: float | None = None
    planned: float | None = None
    repeated: float | None = None
    fixed: float | None = None


@dataclass(frozen=True)
class Made:
    """What a run gives: metal [nm], its state, and whether the wire melted."""

    nm: float
    state: int
    melted: bool


@lru_cache(maxsize=1)
def base_model() -> RunModel:
    """The run that all runs are like."""
    return model_run(LoggedRun(0, "jar", 1, "chamber", "", "", _done(0.0), "", ()), _FACTS)


@lru_cache(maxsize=1)
def world_films() -> tuple[FilmSet, FloatArray, FloatArray]:
    """Films that slides are drawn from, with the metal's thickness and state of each."""
    films = draw_film_set(("Ti",), "glass", seed=_WORLD_SEED)
    return films, *sort_films(films, "Ti")


def _done(ln_current: float) -> dict[str, str]:
    return {**_DONE, "current": f"{_CURRENT_A * math.exp(ln_current):.4f}A"}


def run_jar(jar: int, world: str) -> JarOutcome:
    """One simulated jar of a world, with its runs."""
    rng = np.random.default_rng([jar, WORLDS.index(world), 9])
    prior = _GAUGED if world == "gauged" else PRIOR
    truth = rng.standard_normal((1, len(prior.unknowns)))
    base, found, goals = base_model(), [], []
    outcome = JarOutcome(world, jar)
    now = truth.copy()
    for number in range(RUNS):
        ln_current = float(rng.uniform(-0.09, 0.05))
        model = replace(change_model(base, ln_current, base.seconds), run=number + 1)
        if number > 0:
            now += _step(world, number, rng, prior)
        if world == "gauged":
            model = replace(model, ln_base=_gauge_shows(model, now, rng))
        made = _make(model, now, world, rng)
        model = replace(model, melted=made.melted)
        if number in (3, 5, 7):
            draws = read_gauge(learn_jar(found, prior, seed=1), model)
            if not made.melted:
                _foretell(outcome, model, draws, made)
            if number == 5:
                outcome.ratio = _width(model, draws) / _width(model, learn_jar([], prior, seed=1))
                _plan(outcome, now, draws, goals)
        pieces = () if made.melted else _look(made, PRIOR.misread(truth)[0], world, rng)
        found.append(RunEvidence(model, pieces))
        if not made.melted:
            wrong_state = 0.0 if STATES[made.state] == GOAL.state else 9.0
            goals.append((abs(math.log(made.nm / GOAL.nm)) + wrong_state, ln_current))
    return outcome


def _gauge_shows(model: RunModel, truth: FloatArray, rng: np.random.Generator) -> float:
    """Logarithm of what the gauge shows before a run [mbar]."""
    shown = model.ln_base_shown(_GAUGED.gas(truth), _GAUGED.rest_of_gauge(truth))
    return float(shown[0] + READING_DOUBT * rng.standard_normal())


def _step(world: str, number: int, rng: np.random.Generator, prior: JarPrior) -> FloatArray:
    """What changes of a jar before a run, in the prior's standard deviations, shape (1, Z)."""
    moved = np.zeros((1, len(prior.unknowns)))
    unit = np.eye(len(prior.unknowns))
    doubts = {"leak": (2, prior.leak_doubt), "rate": (0, prior.rate(unit[:1], "wire Ti")[0])}
    for what, (column, doubt) in doubts.items():
        step = 0.0
        if world == "wander":
            step = _WANDER[what] * rng.standard_normal()
        elif world in ("leak", "gauged"):
            step = math.log(_LEAK_TIMES) if (what, number) == ("leak", _LEAK_AT) else 0.0
        elif rng.random() < STEP_CHANCE:
            step = step_doubt(what) * rng.standard_normal()
        moved[0, column] = step / doubt
    return moved


def _make(model: RunModel, truth: FloatArray, world: str, rng: np.random.Generator) -> Made:
    """What a run gives in the true jar."""
    if world == "emissivity":
        model = replace(model, ln_mass_g_s=0.7 * model.ln_mass_g_s + 0.3 * model.ln_mass_g_s[120])
    if rng.random() < melting_chance(model, PRIOR, truth, loss=np.zeros(1))[0]:
        return Made(0.0, 0, True)
    ln_nm = predict_ln_nm(model, PRIOR, truth, loss=np.zeros(1))["piece"]
    state = int(rng.choice(3, p=model.state_chances(ln_nm, PRIOR.gas(truth))[:, 0]))
    ln_made = float(ln_nm[0] + PRIOR.scatter(truth)[0] * rng.standard_normal())
    return Made(math.exp(ln_made), state, False)


def _look(made: Made, misread: float, world: str, rng: np.random.Generator):  # type: ignore[no-untyped-def]
    """What is noted of the slide, as evidence."""
    ln_nm, state = math.log(made.nm), made.state
    slipped = rng.random() < _MISREAD
    if world == "swapped":
        if slipped:
            ln_nm, state = ln_nm + rng.standard_normal(), int(rng.integers(3))
    elif world != "word" and rng.random() < STRAY_RUN + (1.0 - STRAY_RUN) * misread:
        ln_nm, state = float(rng.uniform(LN_NM[0], LN_NM[-1])), int(rng.integers(3))
    films, ln_of, states = world_films()
    ln_near = (
        films.log_prior - 0.5 * ((ln_of - ln_nm) / 0.06) ** 2
    )  # the thickest where all are thinner
    ln_near = np.where((states == state) & np.isfinite(ln_of), ln_near, -np.inf)
    near = np.exp(ln_near - ln_near.max())
    seen = noticed(films, np.array([int(rng.choice(len(near), p=near / near.sum()))]), rng)
    ohm = float(seen.ohm[0])
    notes = {
        "finish": str(seen.finish[0]),
        "through": str(seen.lamp[0]).replace("hidden", "opaque"),
        "ohms": f"{ohm:.3g}ohm" if math.isfinite(ohm) else "open",
    }
    if seen.front[0]:
        notes["seen"] = str(seen.front[0])
    if world == "word" and slipped:
        what = str(rng.choice(list(notes)))
        notes[what] = str(rng.choice([one for one in _OTHER_WORDS[what] if one != notes[what]]))
    noted = tuple(Noted(what, text) for what, text in notes.items())
    told = piece_evidence(LoggedPiece("piece", {"on": "glass"}, noted), "Ti")
    return () if told is None else (told,)


def _spread(model: RunModel, draws: JarDraws, seed: int) -> FloatArray:
    """Draws of the logarithm of the next thickness of a run that does not melt its wire."""
    rng = np.random.default_rng(seed)
    none = np.zeros(len(draws.z))
    stays = 1.0 - melting_chance(model, PRIOR, draws.z, loss=none)
    rows = rng.choice(len(stays), size=4 * len(stays), p=stays / stays.sum())
    z = draws.z[rows]
    ln_nm = predict_ln_nm(model, PRIOR, z, loss=np.zeros(len(z)))["piece"]
    return ln_nm + PRIOR.scatter(z) * rng.standard_normal(len(z))


def _foretell(outcome: JarOutcome, model: RunModel, draws: JarDraws, made: Made) -> None:
    low, high = np.quantile(_spread(model, draws, model.run), (0.05, 0.95))
    outcome.held.append(bool(low <= math.log(made.nm) <= high))
    outcome.after.append(model.run - 1)
    none = np.zeros(len(draws.z))
    ln_nm = predict_ln_nm(model, PRIOR, draws.z, loss=none)["piece"]
    stays = 1.0 - melting_chance(model, PRIOR, draws.z, loss=none)
    metal = model.state_chances(ln_nm, PRIOR.gas(draws.z))[0]
    outcome.stated.append(float(np.average(metal, weights=stays)))
    outcome.metal.append(STATES[made.state] == "metal")


def _width(model: RunModel, draws: JarDraws) -> float:
    return float(np.diff(np.quantile(_spread(model, draws, 3), (0.05, 0.95)))[0])


def _plan(
    outcome: JarOutcome, truth: FloatArray, draws: JarDraws, goals: list[tuple[float, float]]
) -> None:
    """True chances of the goal for the planner's run, the best run repeated, a fixed recipe."""
    base = base_model()
    few = replace(draws, drawn=draws.drawn[::3], wire_loss=np.zeros(len(draws.z[::3])))
    best, _ = best_settings(replace(base, melted=False), few, GOAL, risk=0.05)
    repeated = min(goals)[1] if goals else 0.0
    for name, ln_current, seconds in (
        ("planned", best.ln_current, best.seconds),
        ("repeated", repeated, base.seconds),
        ("fixed", 0.0, base.seconds),
    ):
        model = change_model(base, ln_current, seconds)
        hits = [
            _hits(_make(model, truth, outcome.world, np.random.default_rng([i, 3])))
            for i in range(100)
        ]
        setattr(outcome, name, float(np.mean(hits)))


def _hits(made: Made) -> bool:
    near = not made.melted and abs(math.log(made.nm / GOAL.nm)) <= math.log1p(GOAL.within)
    return near and STATES[made.state] == GOAL.state


HEAD = (
    "| world | jars | 90 % hold (runs foretold) | width after 5 runs "
    "| metal where stated under 0.3: stated / came | 0.3 to 0.7 | over 0.7 "
    "| goal: planned | best repeated | fixed recipe |\n"
    "|---|---|---|---|---|---|---|---|---|---|"
)


def table_row(world: str, jars: list[JarOutcome]) -> str:
    """One world as a row of the table."""
    held = np.concatenate([one.held for one in jars])
    stated = np.concatenate([one.stated for one in jars])
    metal = np.concatenate([one.metal for one in jars])
    bins = []
    for low, high in ((0.0, 0.3), (0.3, 0.7), (0.7, 1.01)):
        own = (stated >= low) & (stated < high)
        bins.append(
            f"{stated[own].mean():.2f} / {metal[own].mean():.2f} ({own.sum()})"
            if own.any() else "none"
        )  # fmt: skip
    means = [float(np.mean([getattr(one, n) for one in jars])) for n in _PLANS]
    return (
        f"| {world} | {len(jars)} | {held.mean():.3f} ({held.size}) "
        f"| {np.median([one.ratio for one in jars]):.2f} | {' | '.join(bins)} "
        f"| {' | '.join(f'{one:.2f}' for one in means)} |"
    )


_PLANS = ("planned", "repeated", "fixed")


def read_outcomes(path: Path) -> list[JarOutcome]:
    """The jars that a file holds already."""
    if not path.exists():
        return []
    return [JarOutcome(**json.loads(line)) for line in path.read_text("utf-8").splitlines()]


def write_table(mark: str, table: str) -> None:
    """Put a table between its marks in the page of results."""
    text = TABLE.read_text("utf-8")
    before, _, rest = text.partition(f"<!-- {mark} -->\n")
    _, _, after = rest.partition(f"<!-- end of {mark} -->")
    TABLE.write_text(
        f"{before}<!-- {mark} -->\n{table}\n<!-- end of {mark} -->{after}", encoding="utf-8"
    )


def main() -> None:
    """Run the jars that the file lacks, and print the table of those it holds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keep", type=Path, required=True)
    parser.add_argument("--jars", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--world", choices=WORLDS, action="append")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    done = {(one.world, one.jar) for one in read_outcomes(options.keep)}
    for jar in range(options.first, options.jars):
        for world in options.world or WORLDS:
            if (world, jar) not in done:
                with options.keep.open("a", encoding="utf-8") as stream:
                    stream.write(json.dumps(asdict(run_jar(jar, world))) + "\n")
    held = read_outcomes(options.keep)
    rows = [
        table_row(world, own)
        for world in WORLDS
        if (own := [one for one in held if one.world == world])
    ]
    print("\n".join([HEAD, *rows]))
    if options.write:
        write_table("jars", "\n".join([HEAD, *rows]))


if __name__ == "__main__":
    main()
