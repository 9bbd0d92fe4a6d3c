"""A jar that was learnt, as the gauge shows it now: whether a leak opened since the last run.

A step of the leak before the run to come is told by no run yet. So it is drawn afresh, half of the
time, and each draw counts by how likely it makes what the gauge reads.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from .jar_posterior import JarDraws
from .jar_prior import JarPrior, step_doubt
from .run_model import RunModel

_COPIES = 8
_TRIED = 0.5  # share of the draws that are given a step; their weights make up for it


def read_gauge(draws: JarDraws, model: RunModel, *, seed: int = 1) -> JarDraws:
    """The draws as the next run finds the jar, with what the gauge reads before it.

    Parameters
    ----------
    draws : JarDraws
    model : RunModel
        Of the run to come, with its ``ln_base``; without one nothing is learnt.
    seed : int
    """
    if model.ln_base is None:
        return draws
    rng = np.random.default_rng([seed, 43])
    rows = np.repeat(np.arange(len(draws.z)), _COPIES)
    prior, z = _with_rest(draws.prior, draws.z[rows], rng)
    last = draws.prior.at_run(draws.drawn, max(len(draws.runs) - 1, 0))
    step, ln_weight = _draw_step(draws.prior.step_chances[-1], len(rows), rng)
    z[:, 2] = last[rows, 2] + step / prior.leak_doubt
    ln_weight += model.base_log_likelihood(prior.gas(z), prior.rest_of_gauge(z))
    weight = np.exp(ln_weight - ln_weight.max())
    kept = rng.choice(len(rows), size=len(draws.z), p=weight / weight.sum())
    return JarDraws(
        replace(prior, step_chances=()), z[kept], draws.log_evidence, draws.wire_loss[rows[kept]]
    )


def _with_rest(
    prior: JarPrior, z: FloatArray, rng: np.random.Generator
) -> tuple[JarPrior, FloatArray]:
    """Draws with what a gauge shows that no leak makes, which no run told of where none was read.

    Where runs were read, the draws hold it already.
    """
    if prior.gauged:
        return prior, z
    return replace(prior, gauged=True), np.column_stack([z, rng.standard_normal(len(z))])


def _draw_step(
    chance: float, count: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Steps of the logarithm of the leak, more often than they come, and their log weights."""
    taken = rng.random(count) < _TRIED
    step = np.where(taken, step_doubt("leak") * rng.standard_normal(count), 0.0)
    weight = np.where(taken, chance / _TRIED, (1.0 - chance) / (1.0 - _TRIED))
    return step, np.log(weight)
