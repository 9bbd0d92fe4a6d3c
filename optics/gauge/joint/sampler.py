"""Draws from a posterior over scores and pairs, by cooling from the prior down to it.

A tempered sequential Monte Carlo: particles start in the prior, the likelihood is let in by
powers rising from 0 to 1, each step weighing, choosing afresh and moving the particles along
Hamiltonian paths (P. Del Moral, A. Doucet and A. Jasra, J. R. Stat. Soc. B 68, 411 (2006);
R. M. Neal, Handbook of Markov Chain Monte Carlo, ch. 5 (2011)).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..._typing import BoolArray, FloatArray, IndexArray

Likelihood = Callable[[FloatArray, IndexArray], tuple[FloatArray, FloatArray]]
Jump = Callable[
    [FloatArray, IndexArray, np.random.Generator], tuple[FloatArray, IndexArray, FloatArray]
]

_KEEP = 0.5  # effective share of the particles left by each step of cooling
_PATHS, _LAST_PATHS = 4, 10
_STEPS = 5
_GOOD_ACCEPTANCE = 0.75
_MOST_COOLINGS = 80
_HOPELESS = 10.0  # a group whose log evidence is so far behind is given up


@dataclass(frozen=True, eq=False)
class JointDraws:
    """Particles at the posterior, of equal weight within their group.

    Attributes
    ----------
    scores : ndarray, shape (N, q)
    pair, group : ndarray of int, shape (N,)
    log_evidence : ndarray, shape (G,)
        Of each group; minus infinity for those given up on the way.
    coolings : int
        Steps from the prior to the posterior.
    acceptance : float
        Mean share of paths taken.
    """

    scores: FloatArray
    pair: IndexArray
    group: IndexArray
    log_evidence: FloatArray
    coolings: int
    acceptance: float


@dataclass
class _Particles:
    scores: FloatArray
    pair: IndexArray
    group: IndexArray
    value: FloatArray
    slope: FloatArray

    def take(self, chosen: IndexArray) -> _Particles:
        return _Particles(
            self.scores[chosen],
            self.pair[chosen],
            self.group[chosen],
            self.value[chosen],
            self.slope[chosen],
        )

    def replace(self, taken: BoolArray, other: _Particles) -> None:
        for name in ("scores", "pair", "value", "slope"):
            getattr(self, name)[taken] = getattr(other, name)[taken]

    def members(self) -> list[IndexArray]:
        return [np.flatnonzero(self.group == g) for g in np.unique(self.group)]


def sample_joint(
    likelihood: Likelihood,
    jump: Jump,
    scores: FloatArray,
    pair: IndexArray,
    group: IndexArray,
    rng: np.random.Generator,
) -> JointDraws:
    """Carry draws from the prior to the posterior, each group by itself but in step.

    Parameters
    ----------
    likelihood : callable
        Log likelihood (N,) and slope (N, q) of scores (N, q) with pairs (N,).
    jump : callable
        Proposes other pairs: new scores, new pairs and the log of the volume ratio (N,).
    scores, pair, group : ndarray
        Draws from the prior of each group: standard normals, and pairs by weight. Groups keep
        apart what would seldom mix, and runs that are to be compared.
    rng : numpy.random.Generator
    """
    particles = _Particles(scores, pair, group, *likelihood(scores, pair))
    log_evidence = np.zeros(int(group.max()) + 1)
    power, step, coolings, accepted = 0.0, 0.3, 0, []
    while power < 1.0 and coolings < _MOST_COOLINGS:
        coolings += 1
        rise = _choose_rise(particles, 1.0 - power)
        power = 1.0 if power + rise >= 1.0 - 1e-12 else power + rise
        particles = _reweigh(particles, rise, log_evidence, rng)
        shape = _covariance_root(particles)
        for _ in range(_PATHS if power < 1.0 else _LAST_PATHS):
            accepted.append(_move(likelihood, particles, power, step, shape, rng))
            step *= float(np.exp(0.5 * (accepted[-1] - _GOOD_ACCEPTANCE)))
            _change_pairs(likelihood, jump, particles, power, rng)
    return JointDraws(
        particles.scores,
        particles.pair,
        particles.group,
        log_evidence,
        coolings,
        float(np.mean(accepted)),
    )


def _reweigh(
    particles: _Particles, rise: float, log_evidence: FloatArray, rng: np.random.Generator
) -> _Particles:
    """Choose afresh in each group for a rise of the power; adds to the log evidences in place."""
    kept = []
    for members in particles.members():
        value = particles.value[members]
        weight = np.exp(rise * (value - value.max()))
        log_evidence[particles.group[members[0]]] += rise * value.max() + np.log(weight.mean())
        kept.append(members[_choose_rows(weight, rng)])
    log_evidence[log_evidence < log_evidence.max() - _HOPELESS] = -np.inf
    alive = [members for members in kept if log_evidence[particles.group[members[0]]] > -np.inf]
    return particles.take(np.concatenate(alive))


def _choose_rise(particles: _Particles, room: float) -> float:
    """The largest rise of the power that leaves the effective share wanted."""
    values = [particles.value[members] for members in particles.members()]

    def share(rise: float) -> float:
        weights = [np.exp(rise * (value - value.max())) for value in values]
        return float(np.mean([w.sum() ** 2 / (w @ w) / w.size for w in weights]))

    if share(room) >= _KEEP:
        return room
    low, high = 0.0, room
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if share(middle) >= _KEEP else (low, middle)
    return max(low, 1e-9)


def _choose_rows(weight: FloatArray, rng: np.random.Generator) -> IndexArray:
    """Systematic choice in proportion to weight."""
    edges = np.cumsum(weight) / weight.sum()
    at = (np.arange(weight.size) + rng.random()) / weight.size
    return np.minimum(np.searchsorted(edges, at), weight.size - 1)


def _covariance_root(particles: _Particles) -> FloatArray:
    """Cholesky factor of the covariance within groups, drawn towards its diagonal."""
    inside = particles.scores.copy()
    for members in particles.members():
        inside[members] -= inside[members].mean(axis=0)
    covariance = inside.T @ inside / len(inside)
    different = np.unique(particles.value).size
    keep = different / (different + inside.shape[1])
    covariance = keep * covariance + (1.0 - keep) * np.diag(np.diag(covariance))
    return np.linalg.cholesky(covariance + 1e-9 * np.eye(inside.shape[1]))


def _move(
    likelihood: Likelihood,
    particles: _Particles,
    power: float,
    step: float,
    shape: FloatArray,
    rng: np.random.Generator,
) -> float:
    """One Hamiltonian path for every particle; the mean chance of taking it is returned."""
    count = particles.scores.shape
    momentum = rng.standard_normal(count)
    stride = step * rng.uniform(0.7, 1.3, (count[0], 1))
    z, value, slope = particles.scores, particles.value, particles.slope
    energy = 0.5 * (momentum**2).sum(axis=1) + 0.5 * (z**2).sum(axis=1) - power * value
    for _ in range(_STEPS):
        momentum = momentum + 0.5 * stride * ((power * slope - z) @ shape)
        z = z + stride * (momentum @ shape.T)
        value, slope = likelihood(z, particles.pair)
        momentum = momentum + 0.5 * stride * ((power * slope - z) @ shape)
    after = 0.5 * (momentum**2).sum(axis=1) + 0.5 * (z**2).sum(axis=1) - power * value
    chance = np.exp(np.minimum(energy - after, 0.0))
    chance[~np.isfinite(chance)] = 0.0
    proposal = _Particles(z, particles.pair, particles.group, value, slope)
    particles.replace(rng.random(count[0]) < chance, proposal)
    return float(chance.mean())


def _change_pairs(
    likelihood: Likelihood,
    jump: Jump,
    particles: _Particles,
    power: float,
    rng: np.random.Generator,
) -> None:
    """Offer every particle another pair of data sets."""
    scores, pair, log_volume = jump(particles.scores, particles.pair, rng)
    value, slope = likelihood(scores, pair)
    gain = power * (value - particles.value) + log_volume
    gain += 0.5 * ((particles.scores**2).sum(axis=1) - (scores**2).sum(axis=1))
    proposal = _Particles(scores, pair, particles.group, value, slope)
    particles.replace(np.log(rng.random(len(pair))) < gain, proposal)
