"""Our designs against a general optimiser given ten times the time.

The rival is scipy's least squares (trust region, exact slopes) from random starts, one after
another, on the same goals within the same limits. It is told the order of media of our best
design, so that it looks for the thicknesses alone; ours has to find the order too. Where ours meets
all goals, the rival is asked to meet them with as many layers, and in the same time again with one
less: ours is ahead where it fails at the first, and behind where it does the second. Ours runs with
three seeds, the rival with ten times the median time of ours. Time is that of the processor. Run
from the project's folder:

    python -m benchmarks.mirror_search --keep rows.jsonl [--only NAME] [--seeds 3] [--times 10]
        [--write]

Every target is added to the file as it ends, and none in it is run again, so that the whole may be
done in pieces; the table is that of all in the file.

``--write`` keeps the table in ``benchmarks/mirror_search.md``.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from oxhue.optics.design.design import design
from oxhue.optics.design.merit import Merit, make_merit
from oxhue.optics.design.starts import caps_nm, middle_nm
from oxhue.optics.design.state import Limits

from .design_targets import TARGETS, Target
from .results import keep_result, read_kept

TABLE = Path(__file__).with_suffix(".md")
_LEVEL = 0.02  # relative difference of merits that counts as level
_MET = 1e-3  # percent points: met, thicknesses being given to a tenth of a nanometre
_STEPS = 200


def rival(
    merit: Merit, orders: list[np.ndarray], *, limits: Limits, seconds: float
) -> tuple[np.ndarray, np.ndarray, int]:
    """The best films of least squares from random starts, and how many starts there were."""
    rng, least, starts = np.random.default_rng(1), np.inf, 0
    best = orders[0], np.zeros(orders[0].size)
    middle = middle_nm(merit)
    half = np.array([middle / 2.0 / abs(m.nk(np.array([middle]))[0]) for m in merit.palette])
    media = len(merit.palette)
    caps, least_nm = np.minimum(caps_nm(merit), limits.most_nm(media)), limits.least_nm(media)
    stop = time.process_time() + seconds
    while time.process_time() < stop:
        which = orders[starts % len(orders)]
        lower, upper = least_nm[which], np.maximum(caps[which], least_nm[which] + 1.0)
        start = np.clip(half[which] * rng.uniform(0.02, 1.0, which.size), lower + 0.1, upper - 0.1)
        found = least_squares(
            lambda nm, which=which: merit.residuals(which, nm), start,
            jac=lambda nm, which=which: merit.with_slopes(which, nm)[1],
            bounds=(lower, upper), x_scale="jac", max_nfev=_STEPS,
        )  # fmt: skip
        if found.cost < least:
            least, best = float(found.cost), (which, found.x)
        starts += 1
    return *best, starts


def compare(target: Target, seeds: int, times: float) -> str:
    """One line of the table."""
    found, spent = [], []
    for seed in range(1, seeds + 1):
        begin = time.process_time()
        asked = {"max_layers": target.layers, "count": 1, "seed": seed} | target.more
        found.append(design(target.on, list(target.goals), target.materials, **asked))
        spent.append(time.process_time() - begin)
    best = [one.designs[0] for one in found]
    bounded = all(goal.relation != "=" or goal.within is not None for goal in found[0].goals)
    layers = sorted(one.layers for one in best)[seeds // 2]
    merit = make_merit(found[0].base, found[0].palette, found[0].goals, density=2, layers=layers)
    ranked = sorted(best, key=lambda one: (not one.met, round(one.merit, 4), one.layers))
    middle = ranked[seeds // 2]
    fine = merit.with_denser_grids(5)  # neither was refined on it

    def ask_rival(orders: list[np.ndarray]) -> tuple[float, int]:
        which, nm, starts = rival(
            merit, orders, limits=found[0].limits, seconds=times * float(np.median(spent))
        )
        return fine.value(which, nm), starts

    miss, starts = ask_rival([middle.which])
    fewer: float | None = None
    if middle.met and bounded:  # ours less the first or the last layer
        fewer, more = ask_rival([middle.which[1:], middle.which[:-1]])
        starts += more
    misses = [fine.value(one.which, one.thickness_nm) for one in best]
    ours = fine.value(middle.which, middle.thickness_nm)
    return (
        f"| {target.name} | {', '.join(str(one.layers) for one in best)} | "
        f"{', '.join(f'{one:.4f}' for one in misses)} | {np.median(spent):.1f} | "
        f"{miss:.4f} | {'' if fewer is None else f'{fewer:.4f}'} | {starts} | "
        f"{_judge(ours, miss, fewer)} |"
    )


def _judge(ours: float, theirs: float, fewer: float | None) -> str:
    if fewer is not None:
        return "behind" if fewer < _MET else "ahead" if theirs > _MET else "level"
    if ours < (1.0 - _LEVEL) * theirs:
        return "ahead"
    return "level" if ours <= (1.0 + _LEVEL) * theirs else "behind"


def main() -> None:
    """Run and print the table, and keep it if asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--keep", type=Path, required=True)
    parser.add_argument("--only")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--times", type=float, default=10.0)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    done = {one["target"] for one in read_kept(options.keep)}
    for target in TARGETS:
        if target.name not in done and (options.only is None or options.only in target.name):
            row = compare(target, options.seeds, options.times)
            keep_result(options.keep, {"target": target.name, "row": row})
            print(row, file=sys.stderr, flush=True)
    held = {one["target"]: one["row"] for one in read_kept(options.keep)}
    text = "\n".join([
        "# Our designs against a general optimiser", "",
        f"Seeds 1 to {options.seeds}, all else by default; a miss is the root mean square of the "
        f"goals' misses in percent points (ΔE for a colour). The rival is scipy's least squares "
        f"with exact slopes from random starts, in our order of media, for {options.times:g} times "
        f"our median time; where ours meets all goals, it is asked for the same with as many "
        f"layers, and in that time again with one less.",
        "`python -m benchmarks.mirror_search --keep rows.jsonl --write`", "",
        "| target | layers | miss | s, median | rival's miss | with a layer less | its starts | "
        "ours is |",
        "|---|---|---|---|---|---|---|---|",
        *(held[target.name] for target in TARGETS if target.name in held), "",
    ])  # fmt: skip
    print(text)
    if options.write:
        TABLE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
