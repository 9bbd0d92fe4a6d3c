"""What the runs of a jar teach about it: its source, its gas, and how much runs differ.

One set of unknowns holds for all runs of a jar: a factor of the rate of each source, the scale of a
wire's current (emissivity, contacts, a diameter that nobody measured), the share of its heat that a
coil gives off, deviations of leak, outgassing, its decay and sticking, the tooling of each place
where pieces lie, the scatter from run to run, and how often a piece is misread. Leak and rate may
take a step between two runs, and before the next. Each run is judged by what was noticed of its
pieces, at all thicknesses and states at once. Draws go from prior to posterior by the tempering of
:mod:`~oxhue.optics.numerics.smc`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .._typing import FloatArray
from ..numerics.normal_law import normal_cdf
from ..numerics.smc import sample_posterior
from .evidence import PieceEvidence
from .jar_prior import STEP_CHANCE, JarPrior
from .run_model import RunModel

DRAWS = 1600
_MOVES = 20  # a step and what it stands for are found by few of the draws at first
_MELTING_WIDTH = 0.015  # a wire melts at its thinnest place
_LIFE_DOUBT = 0.3  # of the logarithm of a wire's life: the thinnest place decides (judgement)
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
_SHARES = _WEIGHTS / _WEIGHTS.sum()
STRAY_RUN = 0.02  # runs that something else spoilt (judgement)


@dataclass(frozen=True, eq=False)
class RunEvidence:
    """A run and what was noticed of its pieces."""

    model: RunModel
    pieces: tuple[PieceEvidence, ...]


@dataclass(frozen=True, eq=False)
class JarDraws:
    """Draws of a jar's unknowns that agree with its runs.

    Attributes
    ----------
    prior : JarPrior
    drawn : ndarray, shape (N, Z)
        In standard deviations of the prior; see ``JarPrior.unknowns``. Leak and rate as at the
        first run.
    log_evidence : float
    wire_loss : ndarray, shape (N,)
        Logarithm of the diameter of the wire as it is now over that of a new one.
    runs : tuple of int
        Numbers of the runs that were learnt from.
    """

    prior: JarPrior
    drawn: FloatArray
    log_evidence: float
    wire_loss: FloatArray
    runs: tuple[int, ...] = ()

    @cached_property
    def z(self) -> FloatArray:
        """As the next run finds the jar: all steps counted, one before that run too, (N, Z)."""
        return self.prior.at_run(self.drawn, len(self.runs))

    def as_found_by(self, run: int) -> FloatArray:
        """As a run found the jar, or as the next does if that one taught nothing, (N, Z)."""
        place = self.runs.index(run) if run in self.runs else len(self.runs)
        return self.prior.at_run(self.drawn, place)


def learn_jar(
    runs: Sequence[RunEvidence], prior: JarPrior, *, draws: int = DRAWS, seed: int = 1
) -> JarDraws:
    """Draws of the jar's unknowns from its runs, in their order.

    Parameters
    ----------
    runs : sequence of RunEvidence
        None at all gives the prior.
    prior : JarPrior
        Steps have their usual chances where it states none for these runs.
    draws, seed : int
    """
    if len(prior.step_chances) != len(runs):
        prior = replace(prior, step_chances=(STEP_CHANCE,) * len(runs))
    rng = np.random.default_rng([seed, 41])
    start = rng.standard_normal((draws, len(prior.unknowns)))
    if not runs:
        return JarDraws(prior, start, 0.0, np.zeros(draws))
    z, log_evidence = sample_posterior(
        lambda z: log_likelihood(runs, prior, z)[0].sum(axis=0), start, rng, moves=_MOVES
    )
    loss = log_likelihood(runs, prior, z)[1][-1]
    return JarDraws(prior, z, log_evidence, loss, tuple(one.model.run for one in runs))


def log_likelihood(
    runs: Sequence[RunEvidence], prior: JarPrior, z: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Log likelihood of each run, shape (R, N); the wire's loss before each and after the last.

    The draws are as at the first run; the losses have the shape (R + 1, N).
    """
    loss = np.zeros(len(z))
    values, losses = [], []
    for run, now in zip(runs, prior.each_run(z), strict=True):
        if run.model.fresh_wire:
            loss = np.zeros(len(z))
        losses.append(loss)
        made = predict_run(run.model, prior, now, loss=loss)
        values.append(_weigh(run, prior, now, made))
        loss = _thin_wire(run.model, made.ln_mass, loss)
    return np.array(values), np.array([*losses, loss])


def run_log_likelihood(
    run: RunEvidence, prior: JarPrior, z: FloatArray, *, loss: FloatArray
) -> FloatArray:
    """Log likelihood of one run at draws of the jar, shape (N,)."""
    return _weigh(run, prior, z, predict_run(run.model, prior, z, loss=loss))


def _weigh(run: RunEvidence, prior: JarPrior, z: FloatArray, made: PredictedRun) -> FloatArray:
    if not run.pieces:
        return made.settings
    return np.asarray(made.settings + np.log(looks_likelihood(run, prior, z, made=made)[0]))


@dataclass(frozen=True, eq=False)
class PredictedRun:
    """What a run gives at draws of the jar, without scatter.

    Attributes
    ----------
    ln_nm : dict
        For each piece, the logarithm of the thickness that its metal would have [nm], (N,).
    ln_middle : ndarray, shape (N,)
        The mean of these.
    ln_mass : ndarray, shape (N,)
        Logarithm of the mass that leaves the source [g].
    states : ndarray, shape (3, N)
        Probability of metal, grey and oxide.
    settings : ndarray, shape (N,)
        Log likelihood of what the run told without its pieces, by wire and gauge.
    """

    ln_nm: dict[str, FloatArray]
    ln_middle: FloatArray
    ln_mass: FloatArray
    states: FloatArray
    settings: FloatArray


def predict_run(
    model: RunModel, prior: JarPrior, z: FloatArray, *, loss: FloatArray
) -> PredictedRun:
    """What a run gives at draws of the jar, all that its likelihood asks for."""
    ln_scale = _current_scale(model, prior, z, loss)
    mass, used = model.leaving(ln_scale, prior.rate(z, model.key))
    ln_nm = _on_pieces(model, prior, z, mass)
    middle = np.mean(list(ln_nm.values()), axis=0)
    factors = prior.gas(z, model.before)
    settings = model.reading_log_likelihood(middle, factors, prior.rest_of_gauge(z))
    if model.melted is not None:
        chance = _melting(model, ln_scale, used)
        told = chance if model.melted else 1.0 - chance
        settings = settings + np.log(np.clip(told, 1e-6, 1.0))
    return PredictedRun(ln_nm, middle, mass, model.state_chances(middle, factors), settings)


def looks_likelihood(
    run: RunEvidence, prior: JarPrior, z: FloatArray, *, made: PredictedRun
) -> tuple[FloatArray, FloatArray]:
    """Likelihood of what was noticed of the pieces, and the part of it that is not the jar's.

    Each piece may be misread, with the jar's own chance of that; then what was noticed of it is
    what is noticed of any piece. A run may also be spoilt as a whole.

    Returns
    -------
    all, astray : ndarray, shape (N,)
        The second where every piece is misread, or the run is spoilt.
    """
    misread = prior.misread(z)
    read = _mean_over_scatter(run.pieces, prior, z, made=made, misread=misread)
    mean = np.einsum("sn,ns->n", made.states, read)
    typical = typical_likelihood(run.pieces)
    spoilt = STRAY_RUN * typical
    all_misread = (1.0 - STRAY_RUN) * typical * misread ** len(run.pieces)
    return spoilt + (1.0 - STRAY_RUN) * mean, spoilt + all_misread


def seen_states(
    run: RunEvidence, prior: JarPrior, z: FloatArray, *, made: PredictedRun
) -> FloatArray:
    """Probability of metal, grey and oxide in this very run, by its own looks too, (3, N).

    As far as something else than the jar made it come out so, its looks alone say what it is.
    """
    if not run.pieces:
        return made.states
    misread = prior.misread(z)
    read = _mean_over_scatter(run.pieces, prior, z, made=made, misread=misread).T
    together = made.states * (read - misread ** len(run.pieces) * typical_likelihood(run.pieces))
    whole, astray = looks_likelihood(run, prior, z, made=made)
    looks = np.prod([piece.alone for piece in run.pieces], axis=0).sum(axis=1)
    by_looks = (looks / looks.sum())[:, None]
    share = np.clip(astray / whole, 0.0, 1.0)
    return np.asarray(
        (1.0 - share) * together / np.maximum(together.sum(axis=0), 1e-300) + share * by_looks
    )


def _mean_over_scatter(
    pieces: Sequence[PieceEvidence],
    prior: JarPrior,
    z: FloatArray,
    *,
    made: PredictedRun,
    misread: FloatArray,
) -> FloatArray:
    """Likelihood in each state, over the scatter that all pieces of a run share, (N, 3)."""
    scatter, misread = prior.scatter(z), misread[:, None]
    if len(pieces) == 1:  # a sum over the scatter that is kept, many times faster
        (piece,) = pieces
        read = piece.mean_near(made.ln_nm[piece.name], scatter)
        return np.asarray((1.0 - misread) * read + misread * piece.likelihood.mean())
    shift = scatter[:, None] * _NODES  # (N, nodes)
    product = np.ones((*shift.shape, 3))
    for piece in pieces:
        read = piece.at(made.ln_nm[piece.name][:, None] + shift)
        product *= (1.0 - misread)[:, None] * read + (misread * piece.likelihood.mean())[:, None]
    return np.asarray(_SHARES @ product)


def predict_ln_nm(
    model: RunModel, prior: JarPrior, z: FloatArray, *, loss: FloatArray
) -> dict[str, FloatArray]:
    """Logarithm of the thickness that each piece's metal would have [nm], without scatter."""
    ln_scale = _current_scale(model, prior, z, loss)
    mass, _ = model.leaving(ln_scale, prior.rate(z, model.key))
    return _on_pieces(model, prior, z, mass)


def _on_pieces(
    model: RunModel, prior: JarPrior, z: FloatArray, ln_mass: FloatArray
) -> dict[str, FloatArray]:
    return {
        name: ln_mass + length + prior.tooling(z, model.places[name])
        for name, length in model.ln_nm_per_g.items()
    }


def melting_chance(
    model: RunModel, prior: JarPrior, z: FloatArray, *, loss: FloatArray
) -> FloatArray:
    """Probability that the wire melts at once or burns out within the run, shape (N,)."""
    ln_scale = _current_scale(model, prior, z, loss)
    _, used = model.leaving(ln_scale, prior.rate(z, model.key))
    return _melting(model, ln_scale, used)


def _melting(model: RunModel, ln_scale: FloatArray, used: FloatArray) -> FloatArray:
    if not math.isfinite(model.ln_melting):
        return np.zeros(len(ln_scale))
    at_once = normal_cdf((ln_scale - model.ln_melting) / _MELTING_WIDTH)
    burns_out = normal_cdf(np.log(np.maximum(used, 1e-12)) / _LIFE_DOUBT)
    return np.asarray(1.0 - (1.0 - at_once) * (1.0 - burns_out))


def _current_scale(model: RunModel, prior: JarPrior, z: FloatArray, loss: FloatArray) -> FloatArray:
    """Logarithm of the current that a new wire of usual emissivity would need to be as hot.

    A long wire of diameter d is as hot at ``I ~ d^(3/2)``, a coil that gives off a share f of its
    heat at ``I ~ f^(1/2)``.
    """
    scale = prior.current(z) - 1.5 * loss
    return np.asarray(scale - 0.5 * prior.coil(z) if model.coiled else scale)


def _thin_wire(model: RunModel, ln_mass: FloatArray, loss: FloatArray) -> FloatArray:
    """Logarithm of the wire's diameter after a run, over that of a new one."""
    if model.thinning_per_g == 0.0:
        return loss
    if model.melted:
        return np.zeros(len(loss))
    return loss + np.log1p(-np.minimum(model.thinning_per_g * np.exp(ln_mass), 0.5))


def typical_likelihood(pieces: Sequence[PieceEvidence]) -> float:
    """Likelihood of what was noticed in a run that went astray."""
    return float(np.prod([piece.likelihood.mean() for piece in pieces]))
