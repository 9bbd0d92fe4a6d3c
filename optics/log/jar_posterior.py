"""What the runs of a jar teach about it: its source, its gas, and how much runs differ.

One set of unknowns holds for all runs of a jar: a factor of the rate of each source, the scale of a
wire's current (emissivity, contacts, a diameter that nobody measured), the share of its heat that a
coil gives off, deviations of leak, outgassing, its decay and sticking, the tooling of each place
where pieces lie, the scatter from run to run, and how often a piece is misread. Each run is judged
by what was noticed of its pieces, at all thicknesses and states at once. Draws go from prior to
posterior by the tempering of :mod:`~oxhue.optics.numerics.smc`.
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
PARAMETERS = (
    "rate", "current", "leak", "outgassing", "sticking", "scatter", "misread", "coil", "decay",
)  # fmt: skip
"""Of every jar; a rate for each further source and a tooling for each further place follow."""
MOST_PLACES = 12
_RATE_DOUBT = {"wire": 0.5, "sputter": 0.5, "boat": 0.3, "point": 0.3, "plane": 0.3}
"""Deviation of the logarithm of the rate: vapour pressure, yields, geometry (judgement)."""
_CURRENT_DOUBT = 0.06  # an emissivity known to 10 or 15 %, contacts (judgement)
_UNKNOWN_WIRE = 0.6  # diameters differ by half either way, and the current goes as d^(3/2)
_COIL_DOUBT = 0.15  # of the logarithm of the share of heat that gets out of a coil (judgement)
_GASSING_DOUBT = 1.0  # walls differ, and differ with what they went through (judgement)
_DECAY_DOUBT = 0.2  # of the power by which outgassing falls with time, near 1 (judgement)
_STICKING_DOUBT = 0.5  # as for titanium in the data of the gas
_TOOLING_DOUBT = 0.15  # of the logarithm, one place against another by the geometry (judgement)
_SCATTER = 0.18  # of the logarithm of the thickness from run to run, within a factor e^0.5
_MISREAD, _MISREAD_DOUBT = 0.05, 1.1  # pieces mixed up, a wrong side, a wrong light: one in twenty,
# or three times more or fewer, as its odds (judgement)
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
class JarPrior:
    """Doubts of a jar before any run.

    Attributes
    ----------
    sources : tuple of str
        Kind and metal of each source, as in ``wire Ti``; the first has the column ``rate``.
    wire_known : bool
        Whether the wire's diameter is stated.
    leak_doubt : float
        Of the logarithm of leak or held pressure; see :func:`leak_doubt`.
    places : tuple of str
        Where pieces lay; tooling is against the first.
    """

    sources: tuple[str, ...]
    wire_known: bool
    leak_doubt: float = 0.7
    places: tuple[str, ...] = ()

    @property
    def unknowns(self) -> tuple[str, ...]:
        """Names of the columns of the draws."""
        return (*PARAMETERS, *self.sources[1:], *self.places[1:])

    def rate(self, z: FloatArray, source: str) -> FloatArray:
        """Logarithm of the factor of the rate of a source, shape (N,)."""
        return _RATE_DOUBT[source.split()[0]] * z[:, self.rate_column(source)]

    def rate_column(self, source: str) -> int:
        """The column of the rate of a source."""
        return 0 if source == self.sources[0] else self.unknowns.index(source)

    def current(self, z: FloatArray) -> FloatArray:
        """Logarithm of the scale of a wire's current, shape (N,)."""
        return (_CURRENT_DOUBT if self.wire_known else _UNKNOWN_WIRE) * z[:, 1]

    def coil(self, z: FloatArray) -> FloatArray:
        """Logarithm of the share of its heat that a coil gives off, over the computed, (N,)."""
        return _COIL_DOUBT * z[:, 7]

    def gas(self, z: FloatArray, ln_pumped: float = 0.0) -> FloatArray:
        """Logarithms of the factors of leak, outgassing and sticking, shape (N, 3).

        Parameters
        ----------
        z : ndarray, shape (N, Z)
        ln_pumped : float
            Logarithm of the time since the pump was started over the usual one.
        """
        found = z[:, 2:5] * [self.leak_doubt, _GASSING_DOUBT, _STICKING_DOUBT]
        found[:, 1] -= _DECAY_DOUBT * z[:, 8] * ln_pumped  # t^-(a + δ) over t^-a
        return np.asarray(found)

    def tooling(self, z: FloatArray, place: str) -> FloatArray:
        """Logarithm of what a place gets over what the geometry gives it, shape (N,)."""
        if place not in self.places[1:]:
            return np.zeros(len(z))
        return _TOOLING_DOUBT * z[:, self.unknowns.index(place)]

    def scatter(self, z: FloatArray) -> FloatArray:
        """Scatter of the logarithm of the thickness from run to run, shape (N,)."""
        return np.asarray(_SCATTER * np.exp(0.5 * z[:, 5]))

    def misread(self, z: FloatArray) -> FloatArray:
        """Share of pieces that are misread, shape (N,)."""
        return np.asarray(1.0 / (1.0 + (1.0 / _MISREAD - 1.0) * np.exp(-_MISREAD_DOUBT * z[:, 6])))


@dataclass(frozen=True, eq=False)
class JarDraws:
    """Draws of a jar's unknowns that agree with its runs.

    Attributes
    ----------
    prior : JarPrior
    z : ndarray, shape (N, Z)
        In standard deviations of the prior; see ``JarPrior.unknowns``.
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
    start = rng.standard_normal((draws, len(prior.unknowns)))
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
        made = predict_run(run.model, prior, z, loss=loss)
        values.append(_weigh(run, prior, z, made))
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
    factors = prior.gas(z, model.ln_pumped)
    settings = model.reading_log_likelihood(middle, factors)
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
    misread = prior.misread(z)[:, None]
    shift = prior.scatter(z)[:, None] * _NODES  # (N, nodes): scatter of the run, all pieces alike
    product = np.ones((3, *shift.shape))
    for piece in run.pieces:
        any_piece = float(piece.likelihood.mean())
        read = piece.at(made.ln_nm[piece.name][:, None] + shift)
        product *= (1.0 - misread) * read + misread * any_piece
    mean = np.einsum("sn,snk,k->n", made.states, product, _SHARES)
    typical = typical_likelihood(run.pieces)
    spoilt = STRAY_RUN * typical
    all_misread = (1.0 - STRAY_RUN) * typical * misread[:, 0] ** len(run.pieces)
    return spoilt + (1.0 - STRAY_RUN) * mean, spoilt + all_misread


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
