"""Broad dielectric mirrors: how many are met, each design recomputed on a grid of its own.

    python -m benchmarks.broad_mirrors [--only 3] [--layers 45] [--write]

``--write`` keeps the table in ``benchmarks/broad_mirrors.md``. The time is the processor's.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np

from oxhue.optics.design.design import design
from oxhue.optics.films.solve import solve

TABLE = Path(__file__).with_suffix(".md")
STEP_NM = 0.05
BANDS = (("98", "420..680"), ("99", "420..680"), ("97", "400..700"), ("95", "420..750"),
         ("95", "450..850"))  # fmt: skip
HIGH = ("TiO2", "Nb2O5", "Ta2O5")


def run(layers: int, only: int | None, seed: int) -> list[str]:
    """The table, a line for each mirror."""
    lines = ["| goal | high | met | layers | least R said | least R at 0.05 nm | refinements | s |",
             "|---|---|---|---|---|---|---|---|"]  # fmt: skip
    cases = [(bound, band, high) for high in HIGH for bound, band in BANDS]
    met = false = 0
    begin = time.process_time()
    for bound, band, high in cases[:only]:
        start = time.process_time()
        goal = f"R>{bound}% {band}nm"
        found = design("glass", goal, ["SiO2", high], max_layers=layers, count=1, seed=seed)
        seconds, best = time.process_time() - start, found.designs[0]
        low, top = (float(end) for end in band.split(".."))
        R = 100.0 * solve(best.piece, np.arange(low, top + STEP_NM / 2, STEP_NM)).R.min()
        met += best.met
        false += best.met and float(bound) > (R + 0.001)
        line = (
            f"| {goal} | {high} | {'yes' if best.met else 'no'} | {best.layers} | "
            f"{best.results[0].least:.2f} | {R:.2f} | {found.refinements} | {seconds:.1f} |"
        )
        print(line, file=sys.stderr, flush=True)
        lines.append(line)
    whole = time.process_time() - begin
    return [*lines, "", f"{met} of {len(cases[:only])} met, {false} said to be met that are not, "
            f"{whole:.0f} s of the processor."]  # fmt: skip


def main() -> None:
    """Run and print the table, and keep it if asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", type=int)
    parser.add_argument("--layers", type=int, default=45)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    text = "\n".join([
        "# Broad dielectric mirrors on glass", "",
        f"Up to {options.layers} layers of SiO2 and another, all else by default, seed "
        f"{options.seed}.", "`python -m benchmarks.broad_mirrors --write`", "",
        *run(options.layers, options.only, options.seed), "",
    ])  # fmt: skip
    print(text)
    if options.write:
        TABLE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
