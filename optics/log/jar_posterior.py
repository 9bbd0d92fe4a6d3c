"""What the runs of a jar teach about it: its source, its gas, and how much runs differ.

One set of unknowns holds for all runs of a jar: a factor of the rate, the scale of a wire's
current (emissivity, contacts, a diameter that nobody measured), deviations of leak, outgassing and
sticking, and the scatter from run to run. Each run is judged by what was noticed of its pieces, at
all thicknesses and states at once. Draws go from prior to posterior by the tempering of
:mod:`~oxhue.optics.numerics.smc`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray
from ..deposition.gases import read_data
from ..deposition.jar import Jar
from ..numerics.normal_law import normal_cdf
from ..numerics.smc import sample_posterior
from .evidence import PieceEvidence
from .run_model import RunModel

DRAWS = 800
PARAMETERS = ("rate", "current", "leak", "outgassing", "sticking", "scatter")
_RATE_DOUBT = {"wire": 0.5, "sputter": 0.5, "boat": 0.3, "point": 0.3, "plane": 0.3}
"""Deviation of the logarithm of the rate: vapour pressure, yields, geometry (judgement)."""
_CURRENT_DOUBT = 0.06  # an emissivity known to 10 or 15 %, contacts (judgement)
_UNKNOWN_WIRE = 0.6  # diameters differ by half either way, and the current goes as d^(3/2)
_GASSING_DOUBT = 1.0  # walls differ, and differ with what they went through (judgement)
_STICKING_DOUBT = 0.5  # as for titanium in the data of the gas
_SCATTER = 0.18  # of the logarithm of the thickness from run to run, within a factor e^0.5
_MELTING_WIDTH = 0.015  # a wire melts at its thinnest place
_LIFE_DOUBT = 0.3  # of the logarithm of a wire's life: the thinnest place decides (judgement)
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
STRAY_RUN = 0.02  # runs that something else spoilt (judgement)


@dataclass(frozen=True, eq=False)
class RunEvidence:
    """A run and what was noticed of its pieces."""

    model: RunModel
    pieces: tuple[PieceEvidence, ...]


@dataclass(frozen=True, eq=False)
class JarPrior:
    """Doubts of a jar before any run.

    Attributes
    ----------
    source : str
    wire_known : bool
        Whether the wire's diameter is stated.
    leak_doubt : float
        Of the logarithm of leak or held pressure; see :func:`leak_doubt`.
    """

    source: str
    wire_known: bool
    leak_doubt: float = 0.7

    def rate(self, z: FloatArray) -> FloatArray:
        """Logarithm of the factor of the rate, shape (N,)."""
        return _RATE_DOUBT[self.source] * z[:, 0]

    def current(self, z: FloatArray) -> FloatArray:
        """Logarithm of the scale of a wire's current, shape (N,)."""
        return (_CURRENT_DOUBT if self.wire_known else _UNKNOWN_WIRE) * z[:, 1]

    def gas(self, z: FloatArray) -> FloatArray:
        """Logarithms of the factors of leak, outgassing and sticking, shape (N, 3)."""
        return np.asarray(z[:, 2:5] * [self.leak_doubt, _GASSING_DOUBT, _STICKING_DOUBT])

    def scatter(self, z: FloatArray) -> FloatArray:
        """Scatter of the logarithm of the thickness from run to run, shape (N,)."""
        return np.asarray(_SCATTER * np.exp(0.5 * z[:, 5]))


@dataclass(frozen=True, eq=False)
class JarDraws:
    """Draws of a jar's unknowns that agree with its runs.

    Attributes
    ----------
    prior : JarPrior
    z : ndarray, shape (N, 6)
        In standard deviations of the prior; see ``PARAMETERS``.
    log_evidence : float
    wire_loss : ndarray, shape (N,)
        Logarithm of the diameter of the wire as it is now over that of a new one.
    """

    prior: JarPrior
    z: FloatArray
    log_evidence: float
    wire_loss: FloatArray


def leak_doubt(jar: Jar) -> float:
    """Doubt of the logarithm of a jar's leak from run to run of the log: seals age, lids differ."""
    if jar.rise is not None or jar.leak_mbar_l_s is not None:
        return 0.7  # measured once (judgement)
    if jar.base_mbar is not None:
        return float(read_data()["stated"]["pressure_doubt"]) + 0.3
    return float(read_data()["stated"]["unmeasured_leak_doubt"])


def learn_jar(
    runs: Sequence[RunEvidence], prior: JarPrior, *, draws: int = DRAWS, seed: int = 1
) -> JarDraws:
    """Draws of the jar's unknowns from its runs, in their order.

    Parameters
    ----------
    runs : sequence of RunEvidence
        None at all gives the prior.
    prior : JarPrior
    draws, seed : int
    """
    rng = np.random.default_rng([seed, 41])
    start = rng.standard_normal((draws, len(PARAMETERS)))
    if not runs:
        return JarDraws(prior, start, 0.0, np.zeros(draws))
    z, log_evidence = sample_posterior(
        lambda z: log_likelihood(runs, prior, z)[0].sum(axis=0), start, rng
    )
    return JarDraws(prior, z, log_evidence, log_likelihood(runs, prior, z)[1][-1])


def log_likelihood(
    runs: Sequence[RunEvidence], prior: JarPrior, z: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Log likelihood of each run, shape (R, N); the wire's loss before each and after the last.

    The losses have the shape (R + 1, N).
    """
    loss = np.zeros(len(z))
    values, losses = [], []
    for run in runs:
        if run.model.fresh_wire:
            loss = np.zeros(len(z))
        losses.append(loss)
        values.append(run_log_likelihood(run, prior, z, loss=loss))
        loss = _thin_wire(run.model, prior, z, loss)
    return np.array(values), np.array([*losses, loss])


def run_log_likelihood(
    run: RunEvidence, prior: JarPrior, z: FloatArray, *, loss: FloatArray
) -> FloatArray:
    """Log likelihood of one run at draws of the jar, shape (N,)."""
    model = run.model
    total = settings_log_likelihood(run, prior, z, loss=loss)
    ln_nm = predict_ln_nm(model, prior, z, loss=loss)
    middle = np.mean(list(ln_nm.values()), axis=0)
    if not run.pieces:
        return total
    chances = model.state_chances(middle, prior.gas(z))  # (3, N)
    shift = prior.scatter(z)[:, None] * _NODES  # (N, nodes): scatter of the run, all pieces alike
    product = np.ones((3, *shift.shape))
    for piece in run.pieces:
        product *= piece.at(ln_nm[piece.name][:, None] + shift)
    mean = np.einsum("sn,snk,k->n", chances, product, _WEIGHTS / _WEIGHTS.sum())
    astray = STRAY_RUN * typical_likelihood(run.pieces)
    return np.asarray(total + np.log(astray + (1.0 - STRAY_RUN) * mean))


def settings_log_likelihood(
    run: RunEvidence, prior: JarPrior, z: FloatArray, *, loss: FloatArray
) -> FloatArray:
    """Log likelihood of what a run told without its pieces, wire and gauge, shape (N,)."""
    model = run.model
    middle = np.mean(list(predict_ln_nm(model, prior, z, loss=loss).values()), axis=0)
    total = model.reading_log_likelihood(middle, prior.gas(z))
    if model.melted is not None:
        chance = melting_chance(model, prior, z, loss=loss)
        total = total + np.log(np.clip(chance if model.melted else 1.0 - chance, 1e-6, 1.0))
    return np.asarray(total)


def predict_ln_nm(
    model: RunModel, prior: JarPrior, z: FloatArray, *, loss: FloatArray
) -> dict[str, FloatArray]:
    """Logarithm of the thickness that each piece's metal would have [nm], without scatter."""
    mass, _ = model.leaving(_current_scale(prior, z, loss), prior.rate(z))
    return {name: mass + length for name, length in model.ln_nm_per_g.items()}


def melting_chance(
    model: RunModel, prior: JarPrior, z: FloatArray, *, loss: FloatArray
) -> FloatArray:
    """Probability that the wire melts at once or burns out within the run, shape (N,)."""
    if not math.isfinite(model.ln_melting):
        return np.zeros(len(z))
    ln_scale = _current_scale(prior, z, loss)
    at_once = normal_cdf((ln_scale - model.ln_melting) / _MELTING_WIDTH)
    _, used = model.leaving(ln_scale, prior.rate(z))
    burns_out = normal_cdf(np.log(np.maximum(used, 1e-12)) / _LIFE_DOUBT)
    return np.asarray(1.0 - (1.0 - at_once) * (1.0 - burns_out))


def _current_scale(prior: JarPrior, z: FloatArray, loss: FloatArray) -> FloatArray:
    """Logarithm of the current that a new wire of usual emissivity would need to be as hot.

    A long wire of diameter d is as hot at ``I ~ d^(3/2)``.
    """
    return np.asarray(prior.current(z) - 1.5 * loss)


def _thin_wire(model: RunModel, prior: JarPrior, z: FloatArray, loss: FloatArray) -> FloatArray:
    """Logarithm of the wire's diameter after a run, over that of a new one."""
    if model.thinning_per_g == 0.0:
        return loss
    if model.melted:
        return np.zeros(len(z))
    ln_mass, _ = model.leaving(_current_scale(prior, z, loss), prior.rate(z))
    return loss + np.log1p(-np.minimum(model.thinning_per_g * np.exp(ln_mass), 0.5))


def typical_likelihood(pieces: Sequence[PieceEvidence]) -> float:
    """Likelihood of what was noticed in a run that went astray."""
    return float(np.prod([piece.likelihood.mean() for piece in pieces]))
