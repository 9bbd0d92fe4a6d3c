"""Is the learner of a kiln as sure of each of its numbers as it may be?

    python -m benchmarks.kiln_ranks [--kilns 100] [--first 0]

A kiln is drawn in the learner's own numbers, standard normal before any piece; five pieces of it
are made and photographed as in `runlog_kilns`, and learnt from. If the draws are those of the
posterior, the truth ranks anywhere among them, of every number and of the likelihood itself, and
over many kilns what no piece tells of keeps the second moment of its prior, 1. Printed are the
share of the next heat's outcomes within the stated 90 %, that moment, and of each rank its mean
(0.5), its deviation over that of an even spread (1) and how often the truth is outside the middle
90 % (0.1).
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np

from benchmarks.runlog_kilns import _METAL, _MINUTES, _SHARE, _photograph
from oxhue.optics._typing import FloatArray
from oxhue.optics.numerics.smc import sample_posterior
from oxhue.optics.oxidation.calibration import (
    _MOVES_IN_ORDER,
    Coupon,
    _draw_valid_start,
    _LawPrior,
    _log_likelihood,
    _SmoothedLikelihood,
)
from oxhue.optics.oxidation.kiln_history import KilnHistory, pace_per_K
from oxhue.optics.oxidation.schedule import hold

_PIECES, _DRAWS, _AGAIN = 5, 800, 400
_FREE = (4, 6, 8)  # oxide before a heat, index, spread between kilns: of these and of what happened
_HAPPENED = slice(10, -1)  # to the kiln since, but for the share misread, a photo tells little


@dataclass(frozen=True)
class KilnRanks:
    """Of one kiln: share of outcomes held, moment of what is free, ranks of all numbers."""

    held: float
    moment: float
    ranks: FloatArray


def rank_kiln(number: int) -> KilnRanks:
    """One kiln drawn, learnt from its pieces, and set against its draws."""
    rng = np.random.default_rng([number, 4242])
    heats = [
        hold(10.0 * float(rng.integers(34, 57)), 60.0 * float(rng.choice(_MINUTES)))
        for _ in range(_PIECES + 1)
    ]
    history = KilnHistory(_PIECES, pace_per_K(_METAL, heats[:-1]))
    prior = _LawPrior(_METAL, _METAL.spread, 1, _SHARE, history)
    true = _draw_valid_start(prior, 1, rng)
    kiln, paths = prior.draws(true), prior.paths(true)
    pieces: list[Coupon] = []
    for place, heat in enumerate(heats[:-1]):
        now = replace(kiln, pace=kiln.pace + paths[:, place : place + 1])
        nm = float(now.thickness_nm(_METAL, heat, rng)[0])
        if rng.random() < float(prior.misread(true)[0]):
            nm = float(rng.uniform(1.0, _METAL.most_nm))
        pieces.append(replace(_photograph(heat, nm, kiln, how="photo", rng=rng), place=place))
    tables = [_SmoothedLikelihood.of(one) for one in pieces]
    start = _draw_valid_start(prior, _DRAWS, rng)
    z, _ = sample_posterior(
        lambda new: _log_likelihood(prior, tables, new), start, rng, moves=_MOVES_IN_ORDER
    )
    draws = prior.draws(z)
    found = replace(draws, pace=draws.pace + prior.paths(z)[:, -1:])
    ends = np.quantile(np.log(found.thickness_nm(_METAL, heats[-1], rng)), (0.05, 0.95))
    then = replace(kiln, pace=kiln.pace + paths[:, -1:]).take(np.zeros(_AGAIN, dtype=np.intp))
    made = np.log(then.thickness_nm(_METAL, heats[-1], rng))
    likely = _log_likelihood(prior, tables, np.concatenate([true, z]))
    free = np.concatenate([z[:, _FREE], z[:, _HAPPENED]], axis=1)
    return KilnRanks(
        float(np.mean((ends[0] <= made) & (made <= ends[1]))), float(np.mean(free**2)),
        np.append(np.mean(z < true, axis=0), np.mean(likely[1:] < likely[0])),
    )  # fmt: skip


def main() -> None:
    """Rank as many kilns as asked, and print what they add up to."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kilns", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    options = parser.parse_args()
    found = [rank_kiln(options.first + number) for number in range(options.kilns)]
    for name in ("held", "moment"):
        each = np.array([getattr(one, name) for one in found])
        print(f"{name} {each.mean():.4f} ± {each.std() / np.sqrt(len(each)):.4f}")
    ranks = np.array([one.ranks for one in found])
    for i, own in enumerate(ranks.T):
        name = "likelihood" if i == ranks.shape[1] - 1 else f"number {i}"
        outside = np.mean((own < 0.05) | (own > 0.95))
        print(f"{name}: mean {own.mean():.3f}, width {own.std() * 12**0.5:.3f}, out {outside:.3f}")


if __name__ == "__main__":
    main()
