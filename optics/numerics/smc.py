"""Draws moved from a normal prior to a posterior with several peaks, by tempering."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .._typing import FloatArray, IndexArray

_MOVES, _MOST_STAGES, _ENOUGH = 10, 60, 0.5


def run_smc(
    log_likelihood: Callable[[FloatArray], FloatArray], start: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, float]:
    """Draws from standard normal prior times likelihood.

    Parameters
    ----------
    log_likelihood : callable (N, Z) -> (N,)
        Minus infinity where impossible.
    start : ndarray, shape (N, Z)
        Draws from the prior, all possible.
    rng : numpy.random.Generator

    Returns
    -------
    draws : ndarray, shape (N, Z)
    log_evidence : float
        Logarithm of the mean likelihood under the prior.

    Notes
    -----
    Each stage raises the power of the likelihood until half of the draws count, resamples, and
    moves them (P. Del Moral, A. Doucet and A. Jasra, J. R. Stat. Soc. B 68 (2006) 411).
    """
    z, value = start, log_likelihood(start)
    power, log_evidence = 0.0, 0.0
    for _ in range(_MOST_STAGES):
        step = _choose_step(value, 1.0 - power)
        weight = np.exp(step * (value - value.max()))
        log_evidence += float(np.log(weight.mean()) + step * value.max())
        power += step
        rows = _resample(weight / weight.sum(), rng)
        z, value = _move(log_likelihood, z[rows], value[rows], power, rng)
        if power >= 1.0:
            break
    return z, log_evidence


def _choose_step(value: FloatArray, most: float) -> float:
    """The largest rise of the likelihood's power that leaves half of the draws counting."""

    def counting(step: float) -> float:
        weight = np.exp(step * (value - value.max()))
        return float(weight.sum() ** 2 / (weight**2).sum() / value.size)

    if counting(most) >= _ENOUGH:
        return most
    low, high = 0.0, most
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if counting(middle) > _ENOUGH else (low, middle)
    return max(low, 1e-6)


def _resample(share: FloatArray, rng: np.random.Generator) -> IndexArray:
    """Rows in proportion to their shares, by even steps from a random start."""
    steps = (np.arange(share.size) + rng.random()) / share.size
    return np.minimum(np.searchsorted(np.cumsum(share), steps), share.size - 1)


def _move(
    log_likelihood: Callable[[FloatArray], FloatArray],
    z: FloatArray,
    value: FloatArray,
    power: float,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    """Metropolis moves that leave prior times likelihood to the power as it is."""
    root = square_root(np.cov(z, rowvar=False))
    size = 2.38 / np.sqrt(z.shape[1])
    for i in range(_MOVES):
        if i % 3 == 2:  # steps that keep the prior let hypotheses and orders jump
            turn = rng.choice([0.2, 0.6], size=(len(z), 1))
            new = np.sqrt(1.0 - turn**2) * z + turn * rng.standard_normal(z.shape)
            prior = np.zeros(len(z))
        else:
            length = size * rng.choice([0.3, 1.0], size=(len(z), 1))
            new = z + length * (rng.standard_normal(z.shape) @ root.T)
            prior = 0.5 * (np.sum(z**2, axis=1) - np.sum(new**2, axis=1))
        fresh = log_likelihood(new)
        accept = np.log(rng.random(len(z))) < prior + power * (fresh - value)
        z, value = np.where(accept[:, None], new, z), np.where(accept, fresh, value)
    return z, value


def square_root(covariance: FloatArray) -> FloatArray:
    """A square root of a covariance that may be singular, shape as given."""
    size, axes = np.linalg.eigh(np.atleast_2d(covariance))
    root: FloatArray = axes * np.sqrt(np.maximum(size, 0.0))
    return root
