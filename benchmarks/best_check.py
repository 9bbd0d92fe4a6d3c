"""How many of the readings that do not hold could a check of the colour flag at best?

Run as ``python -m benchmarks.best_check``; ``--draws`` sets the readings of each world of
``benchmarks.worlds``, read as one file, and ``--write`` renews ``best_check.md``. No check of a
colour finds more at the same share of false alarms than the ratio of two densities (J. Neyman and
E. S. Pearson, Phil. Trans. R. Soc. A 231, 289 (1933), from memory): of readings of the first world,
and of those that did not hold in the others. Both are taken from the simulated readings themselves,
as sums of normal kernels; half of the misses make the density that the other half is judged by.
This knows the worlds, so that no check made without them can be expected to do better.

It is an estimate and no strict bound: densities of few readings are crude, and a comparison by them
finds less than it could. Of 200 readings a world it finds .34 of a colour meter's where ``plain_p``
finds .52; ask for thousands.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from benchmarks.worlds import FALSE_ALARMS, WAYS, WORLDS, draw, gauge_world, holds
from oxhue.optics._typing import FloatArray
from oxhue.optics.inference.uncertainty import DEFAULTS

TABLE = Path(__file__).with_suffix(".md")
_PLAIN = 10  # times as many readings of the first world make its density
_OF_NOISE = 0.8  # width of their kernel, of the noise of a reading
_MISS_DE = 4.0  # width of the kernel of the misses, which are few, in each axis
_AT_A_TIME = 500


def log_density(at: FloatArray, sample: FloatArray, width_de: float) -> FloatArray:
    """Log density (N,) at colours (N, 3) of a normal kernel about each of a sample (M, 3)."""
    found = np.empty(len(at))
    sample = sample / width_de
    square = 0.5 * (sample**2).sum(axis=1)
    for start in range(0, len(at), _AT_A_TIME):
        own = at[start : start + _AT_A_TIME] / width_de
        exponent = own @ sample.T - square
        peak = exponent.max(axis=1)
        total = np.log(np.exp(exponent - peak[:, None]).sum(axis=1))
        found[start : start + _AT_A_TIME] = total + peak - 0.5 * (own**2).sum(axis=1)
    return found - np.log(len(sample)) - 3.0 * np.log(width_de)


def read_worlds(how: str, count: int, seed: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Colours of readings that do not hold (M, 3) with their plain p (M,), and the plain p of
    readings of the first world (count,)."""
    lab, missed_p, plain_p = [], [], np.empty(0)
    for world in (one for one in WORLDS if how in one.ways):
        truth, rows = gauge_world(world, how, count, seed=seed, batch=count)
        p = np.array([row.plain_p for row in rows])
        if world is WORLDS[0]:
            plain_p = p
            continue
        missed = np.array([not holds(row, nm) for row, nm in zip(rows, truth, strict=True)])
        lab.append(draw(world, how, count, seed=seed)[1][missed])
        missed_p.append(p[missed])
    return np.concatenate(lab), np.concatenate(missed_p), plain_p


def power(plain: FloatArray, missed: FloatArray) -> float:
    """Share of the missed below what the false alarms allow."""
    return float(np.mean(missed <= np.quantile(plain, FALSE_ALARMS)))


def compare(how: str, count: int, seed: int) -> str:
    """One row of the table."""
    missed, missed_p, plain_p = read_worlds(how, count, seed)
    width_de = _OF_NOISE * DEFAULTS[how].noise_de
    known = draw(WORLDS[0], how, _PLAIN * count, seed=seed + 1)[1]
    fresh = draw(WORLDS[0], how, 2 * count, seed=seed + 2)[1]
    of_fresh, of_missed = (log_density(one, known, width_de) for one in (fresh, missed))
    order = np.random.default_rng(seed).permutation(len(missed))
    halves, shares = (order[::2], order[1::2]), []
    for own, other in (halves, halves[::-1]):
        against = [log_density(one, missed[own], _MISS_DE) for one in (fresh, missed[other])]
        shares.append(power(of_fresh - against[0], of_missed[other] - against[1]))
    return f"| {how} | {len(missed)} | {power(plain_p, missed_p):.2f} | {np.mean(shares):.2f} |"


HEADER = [
    "# What a check of the colour can find",
    "",
    "Of readings that do not hold in the worlds of `worlds.md`, the share flagged at 2 % false "
    "alarms by `plain_p`, and by the best check there can be, which knows the worlds. "
    "`python -m benchmarks.best_check --write`",
    "",
    "| reading | readings that do not hold | flagged | by the best check |",
    "|---|---|---|---|",
]


def main() -> None:
    """Print the table, or write it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    print("\n".join(HEADER), flush=True)
    lines = []
    for how in WAYS:
        lines.append(compare(how, asked.draws, asked.seed))
        print(lines[-1], flush=True)
    if asked.write:
        TABLE.write_text("\n".join([*HEADER, *lines]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
