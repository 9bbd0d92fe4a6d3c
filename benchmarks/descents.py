"""Our descents to a spectrum's best fits against scipy's least squares, from the same starts.

Run as ``python -m benchmarks.descents``; ``--write`` keeps the table. Both have the analytic
derivatives and the same bounds. Ours takes all starts of all data sets in one go; scipy's
(trust region reflective) takes them one by one. Time is that of the processor.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from benchmarks.spectrum_calibration import BETWEEN_NM, COARSE_NM, SYSTEMS, simulate
from oxhue.optics._typing import FloatArray, IndexArray
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.spectrum.forward_model import ForwardModel
from oxhue.optics.spectrum.forward_models import list_forward_models
from oxhue.optics.spectrum.noise_model import NoiseModel, NoiseSetting
from oxhue.optics.spectrum.sample_batch import ModelBatch, batch_models, join_unknowns
from oxhue.optics.spectrum.search import descend
from oxhue.optics.spectrum.survey import Survey

TABLE = Path(__file__).with_suffix(".md")
NOISE, MISS = 0.01, 0.004
_STARTS = 7  # of each world
EQUAL = 0.01  # nats by which ends of one start may differ
RIVAL = 12.0  # nats above the best at which an end still counts


@dataclass(frozen=True)
class Problem:
    """Starts of one family of worlds, and the reading they go to."""

    family: ModelBatch
    which: IndexArray
    starts: FloatArray
    reading: FloatArray
    whitening: FloatArray


def scipys(
    world: ForwardModel, start: FloatArray, reading: FloatArray, whitening: FloatArray
) -> float:
    """Half the squared residuals, prior included, at the end of scipy's descent."""

    def residual(x: FloatArray) -> FloatArray:
        off = whitening @ (world.curves(x[None])[0] - reading)
        return np.concatenate([np.nan_to_num(off, nan=1e6), x[1:]])

    def jacobian(x: FloatArray) -> FloatArray:
        steep = whitening @ world.slopes(x[None])[1][0]
        return np.concatenate([np.nan_to_num(steep), np.eye(x.size)[1:]])

    low, high = world.bounds
    inside = np.clip(start, low + 1e-9, high - 1e-9)
    found = least_squares(residual, inside, jacobian, bounds=(low, high), x_scale="jac")
    return float(found.cost)


def problems(count: int, seed: int) -> list[tuple[str, Problem]]:
    """Every family of every system, ``count`` readings of each."""
    made = []
    for film, on, kind in SYSTEMS[:3]:
        worlds, _ = list_forward_models(
            list_film_models((film,), on),
            COARSE_NM,
            kind=kind,
            model="auto",
            between_nm=BETWEEN_NM,
            roughness=True,
            angle_deg=0.0,
        )
        whitening = NoiseModel.for_readings(COARSE_NM).whitening(NoiseSetting(NOISE, MISS))
        rng = np.random.default_rng(seed)
        for _ in range(count):
            reading = simulate(worlds, COARSE_NM, "one percent", (20.0, 800.0), rng).reading
            for family in batch_models([world for world in worlds if world.has_thickness]):
                surveys = [Survey.of(world) for world in family.worlds]
                found = [own.starts("", reading, whitening)[0][:_STARTS] for own in surveys]
                which, starts = join_unknowns(found)
                name = f"{film} on {on}, {'tables' if family.worlds[0].model.table else 'formula'}"
                made.append((name, Problem(family, which, starts, reading, whitening)))
    return made


def compared(some: Sequence[Problem]) -> str:
    """Cells of one row: starts, times, their ratio, and where the two end."""
    begun = time.process_time()
    ours = [
        descend(p.family, p.which, p.starts, reading=p.reading, whitening=p.whitening)[2]
        for p in some
    ]
    middle = time.process_time()
    theirs = [
        np.array(
            [
                scipys(p.family.worlds[i], start, p.reading, p.whitening)
                for i, start in zip(p.which, p.starts, strict=True)
            ]
        )
        for p in some
    ]
    own, other = middle - begun, time.process_time() - middle
    apart = np.concatenate(ours) - np.concatenate(theirs)
    best = [a.min() - b.min() for a, b in zip(ours, theirs, strict=True)]
    rivals = [_rivals(p.which, a, b) for p, a, b in zip(some, ours, theirs, strict=True)]
    held, lacking = np.sum(rivals, axis=0)
    return (
        f"{apart.size} | {1e3 * own / apart.size:.2f} | {1e3 * other / apart.size:.2f} | "
        f"{other / own:.0f} | {np.mean(np.abs(apart) < EQUAL):.3f} | {np.mean(apart >= EQUAL):.3f} "
        f"| {max(best):.4f} | {min(best):.4f} | {held + lacking} | {lacking} |"
    )


def _rivals(which: IndexArray, ours: FloatArray, theirs: FloatArray) -> tuple[int, int]:
    """How many of scipy's ends near the best of all ours has too, in the same world, or lacks."""
    near = np.flatnonzero(theirs < theirs.min() + RIVAL)
    held = [np.any(ours[which == which[i]] < theirs[i] + 10.0 * EQUAL) for i in near]
    return int(np.sum(held)), int(near.size - np.sum(held))


def run(count: int, seed: int) -> str:
    """The table."""
    lines = [
        "# Descents to the best fits of a spectrum, ours and scipy's",
        "",
        f"{count} simulated spectra of {COARSE_NM.size} readings for each system, noise {NOISE}, "
        f"seed {seed}; every start of every data set. Half squared residuals are in nats.",
        "`python -m benchmarks.descents --write`",
        "",
        "| system | starts | ours ms | scipy ms | ratio | ends equal | ours higher | best, ours "
        "less scipy's: most | least | ends within 12 nats of the best | ours lacks |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    made = problems(count, seed)
    lines += [
        f"| {name} | {compared([p for own, p in made if own == name])}"
        for name in dict.fromkeys(name for name, _ in made)
    ]
    return "\n".join([*lines, ""])


def main() -> None:
    """Print the table, and keep it if asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", action="store_true")
    chosen = parser.parse_args()
    text = run(chosen.count, chosen.seed)
    print(text)
    if chosen.write:
        TABLE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
