"""Filters and mirrors people want, three seeds each, every design recomputed by the slow reference.

    python -m benchmarks.design_targets --keep runs.jsonl [--only NAME] [--seeds 3] [--write]

Every run is added to the file as it ends, and none in it is run again, so that the whole may be
done in pieces; the table is that of all runs in the file.

Each design is computed again at 0.05 nm by the textbook formulas of
``optics/films/engine/reference.py``, on a grid of its own: none may be said to be met that is not.
The time is the processor's. ``--write`` keeps the table in ``benchmarks/design_targets.md``.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from oxhue.optics.design.design import design
from oxhue.optics.design.goals import Goal
from oxhue.optics.design.result import Design
from oxhue.optics.films.engine.reference import solve_by_fresnel
from oxhue.optics.films.stack_arrays import films_to_arrays

from .results import keep_result, read_kept

TABLE = Path(__file__).with_suffix(".md")
STEP_NM = 0.05
ALLOWED = 0.001  # percent points, thicknesses being given to a tenth of a nanometre


@dataclass(frozen=True)
class Target:
    """What is asked of the search."""

    name: str
    on: str
    goals: tuple[str, ...]
    materials: str
    layers: int
    more: dict[str, Any] = field(default_factory=dict)


TARGETS = (
    Target("anti-reflection, 4", "n=1.52", ("R=0% 400..700nm",), "n=1.38,n=2.35", 4),
    Target("anti-reflection, 8", "n=1.52", ("R=0% 400..700nm",), "n=1.38,n=2.35", 8),
    Target("anti-reflection, 12", "n=1.52", ("R=0% 400..700nm",), "n=1.38,n=2.35", 12),
    Target("half mirror at 45°", "glass", ("half mirror",), "SiO2,TiO2", 10),
    Target("dichroic at 45°", "glass", ("dichroic 560nm",), "SiO2,TiO2", 30),
    Target("hot mirror", "glass", ("hot mirror",), "SiO2,TiO2", 30),
    Target("cold mirror", "glass", ("cold mirror",), "SiO2,TiO2", 30),
    Target("notch", "glass", ("T<1% 525..540nm", "T>90% 420..500nm", "T>90% 570..700nm"),
           "SiO2,Nb2O5", 40),
    Target("long-pass", "glass", ("T<1% 420..540nm", "T>90% 570..750nm"), "SiO2,TiO2", 30),
    Target("short-pass", "n=1.52", ("T>95% 420..560nm", "T<2% 600..720nm"), "n=1.46,n=2.35", 30),
    Target("plate polariser", "glass", ("polariser 532nm",), "SiO2,TiO2", 20),
    Target("cube polariser", "n=1.52",
           ("T>95% 520..545nm at 45deg p", "T<1% 520..545nm at 45deg s"),
           "SiO2,TiO2", 20, {"light_from": "n=1.52"}),
    Target("broad mirror", "glass", ("R>98% 420..680nm",), "SiO2,TiO2", 45),
    Target("bandpass 6 nm", "glass", ("T>90% 529..535nm", "T<1% 450..518nm", "T<1% 548..620nm"),
           "SiO2,Nb2O5", 40),
    Target("bandpass 40 nm", "glass",
           ("T>95% 520..560nm", "T<0.1% 420..505nm", "T<0.1% 577..680nm"), "SiO2,Nb2O5", 60),
    Target("germanium anti-reflection", "Ge(amotchkina2020-film)", ("R=0% 7700..12300nm",),
           "n=2.2,n=4.2", 20, {"thickest_nm": 3000.0}),
    Target("colour over angles", "glass", ("colour #2a50c0 0..45deg",), "Al,SiO2,TiO2,Cr", 5),
    Target("low emittance", "glass", ("low emittance",), "Ag,TiO2", 5),
)  # fmt: skip


def is_false(best: Design, goals: tuple[Goal, ...]) -> bool:
    """Whether a design that is said to be met misses a goal on every wavelength at 0.05 nm."""
    return best.met and any(
        _reference_miss(best, goal) > goal.allowed_miss + ALLOWED
        for goal in goals
        if goal.count == "each" and goal.quantity in ("R", "T") and goal.view == "front"
    )


def _reference_miss(best: Design, goal: Goal) -> float:
    """The worst miss of a goal on R or T [percent points], films on one face."""
    low, high = goal.span_nm
    step = STEP_NM * max(1.0, low / 1000.0)
    grid = np.linspace(low, high, max(2, round((high - low) / step) + 1))
    arrays = films_to_arrays(best.piece, best.piece.layers, grid)
    worst = 0.0
    for angle in dict.fromkeys(goal.angles_deg):
        ways = ("s", "p") if goal.polarization == "mean" else (goal.polarization,)
        found = [
            solve_by_fresnel(
                arrays.index, arrays.thickness_nm, grid, angle_deg=np.asarray(angle),
                polarization=way,
            )[2 if goal.quantity == "R" else 3]
            for way in ways
        ]  # fmt: skip
        gap = 100.0 * np.mean(found, axis=0) - goal.percent
        miss = {">": -gap, "<": gap, "=": np.abs(gap)}[goal.relation]
        worst = max(worst, float(miss.max()))
    return worst


def run_target(target: Target, seed: int) -> dict[str, Any]:
    """One search, its best design judged by the reference."""
    start = time.process_time()
    asked = {"max_layers": target.layers, "count": 1, "seed": seed} | target.more
    found = design(target.on, list(target.goals), target.materials, **asked)
    seconds = time.process_time() - start
    best = found.designs[0]
    return {
        "target": target.name, "seed": seed, "met": best.met, "layers": best.layers,
        "merit": best.merit, "false": is_false(best, found.goals), "seconds": seconds,
        "goals": [str(goal) for goal in found.goals],
    }  # fmt: skip


def table_row(target: Target, runs: list[dict[str, Any]]) -> str:
    """The line of a target, of the seeds that were run."""
    runs = sorted(runs, key=lambda one: int(one["seed"]))
    layers = ", ".join(str(one["layers"]) for one in runs)
    misses = ", ".join(f"{one['merit']:.4f}" for one in runs)
    seconds = np.median([one["seconds"] for one in runs])
    return (
        f"| {target.name}: {'; '.join(runs[0]['goals'])} | "
        f"{sum(one['met'] for one in runs)} of {len(runs)} | {layers} of {target.layers} | "
        f"{misses} | {sum(one['false'] for one in runs)} | {seconds:.1f} |"
    )


def main() -> None:
    """Run and print the table, and keep it if asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--keep", type=Path, required=True)
    parser.add_argument("--only")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    done = {(one["target"], one["seed"]) for one in read_kept(options.keep)}
    for target in TARGETS:
        if options.only is not None and options.only not in target.name:
            continue
        for seed in range(1, options.seeds + 1):
            if (target.name, seed) not in done:
                keep_result(options.keep, run_target(target, seed))
                print(target.name, seed, file=sys.stderr, flush=True)
    held = read_kept(options.keep)
    rows = [
        table_row(target, own)
        for target in TARGETS
        if (own := [one for one in held if one["target"] == target.name])
    ]
    text = "\n".join([
        "# Filters and mirrors people want", "",
        f"Seeds 1 to {options.seeds}, all else by default; a miss is the root mean square of the "
        f"goals' misses in percent points (ΔE for a colour); false: designs said to be met that "
        f"miss a goal at {STEP_NM} nm by the slow reference; the seconds are the processor's.",
        "`python -m benchmarks.design_targets --keep runs.jsonl --write`", "",
        "| target | met | layers | miss | false | s, median |", "|---|---|---|---|---|---|",
        *rows, "",
    ])  # fmt: skip
    print(text)
    if options.write:
        TABLE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
