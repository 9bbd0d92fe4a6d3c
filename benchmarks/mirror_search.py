"""The search for designs against scipy's general global optimisers given ten times the time.

Six problems of the kinds that are published. The optimisers are told the order of media of the
best design our search found, and look for the thicknesses alone, within the same limits and on the
same merit; ours has to find the order too. Ours runs with three seeds, and each optimiser once,
with ten times the median time of ours, starting again with the next seed where it ends sooner. Time
is that of the processor, so that a busy machine does not count. Run from the project's folder:

    python -m benchmarks.mirror_search [--effort 600] [--times 10] [--write]

``--write`` keeps the table in ``benchmarks/mirror_search.md``.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import numpy as np

from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import Merit, make_merit
from oxhue.optics.design.search import search
from oxhue.optics.design.starts import caps_nm, list_starts, middle_nm
from oxhue.optics.design.state import Limits, SearchState, Trial
from oxhue.optics.films.notation import parse_medium, parse_stack

SEEDS = (1, 2, 3)
TABLE = Path(__file__).with_suffix(".md")


@dataclass(frozen=True)
class Problem:
    """One problem: what it is, what it is laid on, goals, materials and number of layers."""

    name: str
    on: str
    goals: tuple[str, ...]
    materials: tuple[str, ...]
    layers: int


PROBLEMS = (
    Problem("anti-reflection 400-700 nm, 1.38/2.35 on 1.52", "n=1.52", ("R=0% 400..700nm",),
            ("n=1.38", "n=2.35"), 4),
    Problem("anti-reflection 400-700 nm, 1.38/2.35 on 1.52", "n=1.52", ("R=0% 400..700nm",),
            ("n=1.38", "n=2.35"), 6),
    Problem("anti-reflection 400-700 nm, 1.38/2.35 on 1.52", "n=1.52", ("R=0% 400..700nm",),
            ("n=1.38", "n=2.35"), 8),
    Problem("broadband enhanced aluminium", "glass", ("R>97% 420..680nm",),
            ("Al", "SiO2", "TiO2"), 7),
    Problem("neutral 50/50", "n=1.52", ("R=50% 420..680nm",), ("n=1.38", "n=2.35"), 6),
    Problem("dark absorber", "glass", ("R=0% 400..700nm 0..30deg",), ("Cr", "SiO2"), 4),
    Problem("short-pass edge", "n=1.52", ("T>95% 420..560nm", "T<2% 600..720nm"),
            ("n=1.46", "n=2.35"), 16),
    Problem("colour over angles", "glass", ("colour #2a50c0 0..45deg",),
            ("Al", "SiO2", "TiO2", "Cr"), 5),
)  # fmt: skip


class _OutOfTimeError(Exception):
    """The optimiser has had its time."""


def ours(merit: Merit, limits: Limits, effort: int, seed: int) -> tuple[Trial, float]:
    """The best design of our search, and the processor time it took [s]."""
    begin = time.process_time()
    bench = SearchState(merit, limits, caps_nm(merit), effort)
    rng = np.random.default_rng(seed)
    search(bench, list_starts(merit, limits.most_layers), middle_nm=middle_nm(merit), rng=rng)
    return bench.rank_all()[0], time.process_time() - begin


def theirs(method: str, merit: Merit, design: Trial, limits: Limits, seconds: float) -> float:
    """The least merit a general optimiser finds in that much processor time."""
    from scipy import optimize

    upper = np.minimum(caps_nm(merit)[design.which], limits.thickest_nm)
    bounds = [(limits.thinnest_nm, float(high)) for high in upper]
    stop = time.process_time() + seconds
    least = np.inf

    def value(nm: np.ndarray) -> float:
        nonlocal least
        if time.process_time() > stop:
            raise _OutOfTimeError
        found = merit.value(design.which, np.asarray(nm))
        least = min(least, found)
        return found**2

    runs: dict[str, Callable[[int], object]] = {
        "differential evolution": lambda seed: optimize.differential_evolution(
            value, bounds, rng=seed, maxiter=10**6, tol=0.0
        ),
        "dual annealing": lambda seed: optimize.dual_annealing(
            value, bounds, rng=seed, maxiter=10**6
        ),
    }
    try:
        for seed in count(SEEDS[0]):  # start again where a run ends before its time is up
            runs[method](seed)
    except _OutOfTimeError:
        pass
    return float(least)


METHODS = ("differential evolution", "dual annealing")


def run(effort: int, times: float) -> list[str]:
    """The table, a line for each problem."""
    lines = [
        "| problem | layers | ours, median | ours, worst | s | "
        + " | ".join(METHODS)
        + " | s each |",
        "|---|---|---|---|---|" + "---|" * (len(METHODS) + 1),
    ]
    for problem in PROBLEMS:
        merit = make_merit(
            parse_stack(problem.on),
            [parse_medium(name) for name in problem.materials],
            [parse_goal(text) for text in problem.goals],
        )
        limits = Limits(problem.layers)
        found = [ours(merit, limits, effort, seed) for seed in SEEDS]
        found.sort(key=lambda one: one[0].merit)
        best, middle, worst = (one[0] for one in found)
        seconds = float(np.median([time for _, time in found]))
        rivals = (theirs(name, merit, best, limits, times * seconds) for name in METHODS)
        cells = " | ".join(f"{miss:.4f}" for miss in rivals)
        line = f"| {problem.name}: {', '.join(problem.goals)} | {best.which.size} of " \
               f"{problem.layers} | {middle.merit:.4f} | {worst.merit:.4f} | {seconds:.1f} | " \
               f"{cells} | {times * seconds:.0f} |"  # fmt: skip
        print(line, file=sys.stderr, flush=True)
        lines.append(line)
    return lines


def main() -> None:
    """Run and print the table, and keep it if asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--effort", type=int, default=600)
    parser.add_argument("--times", type=float, default=10.0)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    text = "\n".join(
        [
            "# Search for designs against general global optimisers",
            "",
            f"Root mean square miss in percent points (ΔE for the colour), lower is better; effort "
            f"{options.effort} refinements, seeds {SEEDS[0]} to {SEEDS[-1]}; the optimisers have "
            f"{options.times:g} times our median processor time each, and are given our order of "
            f"media.",
            "`python -m benchmarks.mirror_search --write`",
            "",
            *run(options.effort, options.times),
            "",
        ]
    )
    print(text)
    if options.write:
        TABLE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
