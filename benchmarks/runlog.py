"""Does the run log learn? Jars drawn at random, their runs looked at, the next run foretold.

    python -m benchmarks.runlog [--jars 40] [--world prior] [--write]

A jar is drawn from the prior of :mod:`oxhue.optics.log.jar_posterior`, or from a world that it does
not hold: ``emissivity`` (the wire's heat law is another: its rate rises less steeply with current),
``leak`` (a leak opens at run 5), ``misread`` (one look in six is of another piece). Its runs use
currents a person might try. What is seen of each slide is drawn by :mod:`benchmarks.onlooker` from
films of another seed. From the first runs the next is foretold, and set against what came of it.
``--write`` keeps the table in ``benchmarks/runlog.md``.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchmarks.onlooker import noticed
from oxhue.optics._typing import FloatArray
from oxhue.optics.assay.colours import draw_film_set
from oxhue.optics.log.evidence import STATES, piece_evidence, sort_films
from oxhue.optics.log.jar_posterior import (
    JarDraws,
    JarPrior,
    RunEvidence,
    learn_jar,
    melting_chance,
    predict_ln_nm,
)
from oxhue.optics.log.planner import WantedMetal, best_settings, change_model
from oxhue.optics.log.records import LoggedPiece, LoggedRun, Noted
from oxhue.optics.log.run_model import RunModel, model_run

TABLE = Path(__file__).with_suffix(".md")
WORLDS = ("prior", "emissivity", "leak", "misread")
RUNS = 8
GOAL = WantedMetal(45.0, 0.25, "metal")
_FACTS = {"jar": {"volume": "3l", "pumping": "2l/s", "leak": "1e-3mbar.l/s"}}
_DONE = {
    "source": "wire", "metal": "Ti", "wire_diameter": "0.5mm", "wire_length": "200mm",
    "time": "12min", "distance": "5cm", "working_gas": "argon", "working_pressure": "5e-3mbar",
    "new_wire": "yes",
}  # fmt: skip
_CURRENT_A = 6.4
_WORLD_SEED = 1000
_NEW = np.zeros(1)


@dataclass
class Tally:
    """Counts over jars.

    Attributes
    ----------
    held, foretold : int
        Next runs within their 90 % interval, and all.
    ratio : list of float
        Width of the interval after five runs over that without any.
    stated, metal : list
        Chance of metal stated for the next run, and whether it was.
    planned, repeated, fixed : list of float
        True chance of the goal by the planner's run, by repeating the best run so far, and by a
        fixed recipe.
    """

    held: int
    foretold: int
    ratio: list[float]
    stated: list[float]
    metal: list[bool]
    planned: list[float]
    repeated: list[float]
    fixed: list[float]
    learn_s: float = 0.0


def run_jars(count: int, world: str) -> Tally:
    """Simulated jars of a world, each with eight runs."""
    tally = Tally(0, 0, [], [], [], [], [], [])
    base = model_run(LoggedRun(0, "jar", 1, "chamber", "", "", _done(0.0), "", ()), _FACTS)
    prior = JarPrior("wire", True)
    films = draw_film_set(("Ti",), "glass", seed=_WORLD_SEED)
    ln_nm, state = sort_films(films, "Ti")
    for jar in range(count):
        rng = np.random.default_rng([jar, WORLDS.index(world), 9])
        truth = rng.standard_normal((1, 6))
        truth[0, 1] *= 0.7  # a wire that melts in every run teaches nobody
        _one_jar(tally, base, prior, truth, (films, ln_nm, state), world=world, rng=rng)
    return tally


def _done(ln_current: float) -> dict[str, str]:
    return {**_DONE, "current": f"{_CURRENT_A * math.exp(ln_current):.4f}A"}


def _one_jar(tally, base, prior, truth, films, *, world, rng) -> None:  # type: ignore[no-untyped-def]
    found: list[RunEvidence] = []
    goals: list[tuple[float, float]] = []
    before = learn_jar([], prior, seed=1)
    for number in range(RUNS):
        ln_current = float(rng.uniform(-0.09, 0.05))
        model = replace(change_model(base, ln_current, base.seconds), run=number + 1)
        now = truth.copy()
        if world == "leak" and number >= 4:
            now[0, 2] += math.log(5.0) / prior.leak_doubt
        made, state, melted = _make(model, prior, now, world, rng)
        model = replace(model, melted=melted)
        if number in (3, 5, 7):
            start = time.perf_counter()
            draws = learn_jar(found, prior, seed=1)
            tally.learn_s += time.perf_counter() - start
            _foretell(tally, model, draws, made, state, melted=melted)
            if number == 5:
                tally.ratio.append(_width(model, draws) / _width(model, before))
                _plan(tally, base, prior, now, draws, goals, world=world)
        pieces = () if melted else _look(films, made, state, world=world, rng=rng)
        found.append(RunEvidence(model, pieces))
        if not melted:
            score = abs(math.log(made / GOAL.nm)) + (0.0 if STATES[state] == GOAL.state else 9.0)
            goals.append((score, ln_current))


def _make(
    model: RunModel, prior: JarPrior, truth: FloatArray, world: str, rng: np.random.Generator
) -> tuple[float, int, bool]:
    """What a run gives: metal [nm], state, and whether the wire melted."""
    if world == "emissivity":
        model = replace(model, ln_mass_g_s=0.7 * model.ln_mass_g_s + 0.3 * model.ln_mass_g_s[120])
    if rng.random() < melting_chance(model, prior, truth, loss=_NEW)[0]:
        return 0.0, 0, True
    ln_nm = predict_ln_nm(model, prior, truth, loss=_NEW)["piece"]
    state = int(rng.choice(3, p=model.state_chances(ln_nm, prior.gas(truth))[:, 0]))
    ln_made = float(ln_nm[0] + prior.scatter(truth)[0] * rng.standard_normal())
    return math.exp(ln_made), state, False


def _look(films, made, state, *, world, rng):  # type: ignore[no-untyped-def]
    """What is noted of the slide, as evidence."""
    world_films, ln_nm, states = films
    if world == "misread" and rng.random() < 1.0 / 6.0:
        made, state = made * math.exp(rng.standard_normal()), int(rng.integers(3))
    near = np.where(states == state, np.exp(-0.5 * ((ln_nm - math.log(made)) / 0.06) ** 2), 0.0)
    near = near * np.exp(world_films.log_prior - world_films.log_prior.max())
    if not np.nansum(near) > 0.0:
        return ()
    row = int(rng.choice(len(near), p=np.nan_to_num(near) / np.nansum(near)))
    seen = noticed(world_films, np.array([row]), rng)
    notes = [Noted("finish", str(seen.finish[0])), Noted("through", str(seen.lamp[0]))]
    if seen.front[0]:
        notes.append(Noted("seen", str(seen.front[0])))
    ohm = float(seen.ohm[0])
    notes.append(Noted("ohms", f"{ohm:.3g}ohm" if math.isfinite(ohm) else "open"))
    notes = [Noted(one.what, "opaque" if one.text == "hidden" else one.text) for one in notes]
    told = piece_evidence(LoggedPiece("piece", {"on": "glass"}, tuple(notes)), "Ti")
    return () if told is None else (told,)


def _foretell(tally, model, draws, made, state, *, melted) -> None:  # type: ignore[no-untyped-def]
    if melted:
        return
    ln_nm = predict_ln_nm(model, draws.prior, draws.z, loss=np.zeros(len(draws.z)))["piece"]
    rng = np.random.default_rng(model.run)
    low, high = np.quantile(
        ln_nm + draws.prior.scatter(draws.z) * rng.standard_normal(ln_nm.size), (0.05, 0.95)
    )
    tally.foretold += 1
    tally.held += int(low <= math.log(made) <= high)
    tally.stated.append(float(model.state_chances(ln_nm, draws.prior.gas(draws.z))[0].mean()))
    tally.metal.append(STATES[state] == "metal")


def _width(model: RunModel, draws: JarDraws) -> float:
    ln_nm = predict_ln_nm(model, draws.prior, draws.z, loss=np.zeros(len(draws.z)))["piece"]
    rng = np.random.default_rng(3)
    spread = ln_nm + draws.prior.scatter(draws.z) * rng.standard_normal(ln_nm.size)
    return float(np.diff(np.quantile(spread, (0.05, 0.95)))[0])


def _plan(tally, base, prior, truth, draws, goals, *, world) -> None:  # type: ignore[no-untyped-def]
    """True chances of the goal for the planner's run, the best run repeated, a fixed recipe."""
    few = replace(draws, z=draws.z[::3], wire_loss=np.zeros(len(draws.z[::3])))
    best, _ = best_settings(replace(base, melted=False), few, GOAL, risk=0.05)
    repeated = min(goals)[1] if goals else 0.0
    for name, ln_current, seconds in (
        ("planned", best.ln_current, best.seconds),
        ("repeated", repeated, base.seconds),
        ("fixed", 0.0, base.seconds),
    ):
        model = change_model(base, ln_current, seconds)
        hits = [
            _hits(_make(model, prior, truth, world, np.random.default_rng([i, 3])))
            for i in range(100)
        ]
        getattr(tally, name).append(float(np.mean(hits)))


def _hits(came: tuple[float, int, bool]) -> bool:
    made, state, melted = came
    near = not melted and abs(math.log(made / GOAL.nm)) <= math.log1p(GOAL.within)
    return near and STATES[state] == GOAL.state


def _row(world: str, tally: Tally) -> str:
    stated, metal = np.array(tally.stated), np.array(tally.metal)
    sure = stated > 0.5
    return (
        f"| {world} | {tally.held / tally.foretold:.2f} ({tally.foretold}) "
        f"| {np.median(tally.ratio):.2f} "
        f"| {stated.mean():.2f} / {metal.mean():.2f} "
        f"| {stated[sure].mean():.2f} / {metal[sure].mean():.2f} "
        f"| {np.mean(tally.planned):.2f} | {np.mean(tally.repeated):.2f} "
        f"| {np.mean(tally.fixed):.2f} |"
    )


def main() -> None:
    """Print the table, and keep it if wanted."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jars", type=int, default=40)
    parser.add_argument("--world", choices=WORLDS, action="append")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    head = (
        "| world | 90 % hold (runs foretold) | width after 5 runs | metal: stated / came "
        "| where stated likely | goal: planned | best repeated | fixed recipe |\n"
        "|---|---|---|---|---|---|---|---|"
    )
    print(head)
    rows = []
    for world in options.world or WORLDS:
        rows.append(_row(world, run_jars(options.jars, world)))
        print(rows[-1], flush=True)
    if options.write:
        text = f"# The run log\n\n`python -m benchmarks.runlog --jars {options.jars} --write`\n\n"
        TABLE.write_text(f"{text}{head}\n" + "\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
