"""Draws from a posterior over scores and pairs: tempered, moved along Hamiltonian paths.

R. M. Neal, Handbook of Markov Chain Monte Carlo, ch. 5 (2011).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from functools import partial

import numpy as np

from ..._typing import FloatArray, IndexArray
from ...numerics.smc import Particles, move_and_keep, run_smc

Likelihood = Callable[[FloatArray, IndexArray], tuple[FloatArray, FloatArray]]
Jump = Callable[
    [FloatArray, IndexArray, np.random.Generator], tuple[FloatArray, IndexArray, FloatArray]
]

_KEPT = 2  # draws kept of each that is moved, at every step and at the end
_PATHS, _LAST_PATHS = 2, 3  # between two that are kept
_STEPS = 4
_FEWEST = 4  # draws of a group at the end, however unlikely
_GOOD_ACCEPTANCE = 0.75


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
class _SpotParticles(Particles):
    """Draws of scores, each with a pair of data sets and the slope of its likelihood."""

    pair: IndexArray
    slope: FloatArray


def sample_joint(
    likelihood: Likelihood,
    jump: Jump,
    scores: FloatArray,
    *,
    pair: IndexArray,
    group: IndexArray,
    wanted: int,
    rng: np.random.Generator,
) -> JointDraws:
    """Carry draws of scores and pairs from the prior to the posterior.

    The draws given find the way of each group and its evidence. At its end as many as ``wanted``
    come of them by their group's evidence, moved apart.

    Parameters
    ----------
    likelihood : callable
        Log likelihood (N,) and slope (N, q) of scores (N, q) with pairs (N,).
    jump : callable
        Proposes other pairs: new scores, new pairs and the log of the volume ratio (N,).
    scores, pair, group : ndarray
        Draws from the prior of each group: standard normals, and pairs by weight.
    wanted : int
        Draws at the posterior.
    rng : numpy.random.Generator
    """
    value, slope = likelihood(scores, pair)
    kernel = _HamiltonianKernel(likelihood, jump)
    start = _SpotParticles(scores, value, group, pair, slope)
    end, log_evidence, coolings = run_smc(start, kernel, rng, keep=_KEPT)
    end = _spread(end, log_evidence, -(-wanted // _KEPT), rng)
    last = partial(kernel.move, paths=_LAST_PATHS)
    end = move_and_keep(end, last, power=1.0, rng=rng, keep=_KEPT)
    return JointDraws(
        end.z, end.pair, end.group, log_evidence, coolings, float(np.mean(kernel.accepted))
    )


def _spread(
    end: _SpotParticles, log_evidence: FloatArray, wanted: int, rng: np.random.Generator
) -> _SpotParticles:
    """Draws of each group by its evidence, but a few at least; each of its own as often."""
    share = np.exp(log_evidence - log_evidence.max())
    count = np.ceil(wanted * share / share.sum()).astype(int)
    rows = []
    for own in end.members():
        size = max(int(count[end.group[own[0]]]), _FEWEST)
        rows.append(rng.permutation(own)[np.arange(size) % own.size])
    return _SpotParticles(
        **{f.name: getattr(end, f.name)[np.concatenate(rows)] for f in fields(end)}
    )


@dataclass
class _HamiltonianKernel:
    """Hamiltonian paths whose stride learns, each followed by an offer of another pair."""

    likelihood: Likelihood
    jump: Jump
    step: float = 0.6
    accepted: list[float] = field(default_factory=list)

    def __call__(self, particles: _SpotParticles, power: float, rng: np.random.Generator) -> None:
        self.move(particles, power, paths=_PATHS, rng=rng)

    def move(
        self, particles: _SpotParticles, power: float, rng: np.random.Generator, *, paths: int
    ) -> None:
        """Some paths, each with an offer after it, shaped by where the draws are."""
        shape = _curvature_root(particles, power)
        for _ in range(paths):
            self.accepted.append(self._follow_path(particles, power, shape, rng))
            self.step *= float(np.exp(self.accepted[-1] - _GOOD_ACCEPTANCE))
            self._offer_pair(particles, power, rng)

    def _follow_path(
        self,
        particles: _SpotParticles,
        power: float,
        shape: FloatArray,
        rng: np.random.Generator,
    ) -> float:
        """One Hamiltonian path for every particle; the mean chance of taking it is returned."""
        count = particles.z.shape
        momentum = rng.standard_normal(count)
        stride = self.step * rng.uniform(0.7, 1.3, (count[0], 1))
        z, value, slope = particles.z, particles.value, particles.slope
        energy = 0.5 * (momentum**2).sum(axis=1) + 0.5 * (z**2).sum(axis=1) - power * value
        for _ in range(_STEPS):
            momentum = momentum + 0.5 * stride * ((power * slope - z) @ shape)
            z = z + stride * (momentum @ shape.T)
            value, slope = self.likelihood(z, particles.pair)
            momentum = momentum + 0.5 * stride * ((power * slope - z) @ shape)
        after = 0.5 * (momentum**2).sum(axis=1) + 0.5 * (z**2).sum(axis=1) - power * value
        chance = np.exp(np.minimum(energy - after, 0.0))
        chance[~np.isfinite(chance)] = 0.0
        proposal = _SpotParticles(z, value, particles.group, particles.pair, slope)
        particles.put(rng.random(count[0]) < chance, proposal)
        return float(chance.mean())

    def _offer_pair(
        self, particles: _SpotParticles, power: float, rng: np.random.Generator
    ) -> None:
        """Offer every particle another pair of data sets; its own is none."""
        z, pair, log_volume = self.jump(particles.z, particles.pair, rng)
        value, slope = particles.value.copy(), particles.slope.copy()
        new = np.flatnonzero(pair != particles.pair)
        value[new], slope[new] = self.likelihood(z[new], pair[new])
        gain = power * (value - particles.value) + log_volume
        gain += 0.5 * ((particles.z**2).sum(axis=1) - (z**2).sum(axis=1))
        proposal = _SpotParticles(z, value, particles.group, pair, slope)
        particles.put(np.log(rng.random(len(pair))) < gain, proposal)


def _curvature_root(particles: _SpotParticles, power: float) -> FloatArray:
    """A root of the inverse of the mean curvature of the target, drawn towards its diagonal.

    The mean of ``g gᵀ`` over draws of ``exp(-U)``, with ``g = ∇U``, is the mean of the curvature
    ``∇∇U`` (integrated by parts). A covariance is wide where several peaks lie far apart, each of
    them narrow, and strides by it have to be a third as long.
    """
    away = particles.z - power * particles.slope
    curvature = away.T @ away / len(away)
    different = np.unique(particles.value).size
    keep = different / (different + len(curvature))
    curvature = keep * curvature + (1.0 - keep) * np.diag(np.diag(curvature))
    return np.asarray(np.linalg.inv(np.linalg.cholesky(curvature)).T)
