"""Numbers that keep their value from run to run but for rare steps, a slow drift and a walk.

A seal gives way, a contact burns: steps come by chance, before each run with a probability of its
own. The newest ones are held by name, as standard normal numbers that a sampler can move; what is
older than these counts as the beginning. What ages, an element or a thermocouple, drifts by as much
from each run to the next. What is moved about a little each time walks at random.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray
from .normal_law import normal_log_cdf

MOST_STEPS = 2
"""How many of the newest steps of a number are followed, each by itself."""
LEAST_STEP = math.log(1.5)
"""Of what is told as a change."""


def exposures(chances: Sequence[float]) -> FloatArray:
    """How much a number was exposed to steps, up to each run, shape (P,); 0 at the first.

    Parameters
    ----------
    chances : sequence of float
        Chance of a step before each run after the first, and before the next one.
    """
    if not chances:
        return np.zeros(1)
    return np.concatenate([[0.0], np.cumsum(-np.log1p(-np.asarray(chances, dtype=float)))])


def step_times(when: FloatArray, exposure: FloatArray) -> FloatArray:
    """When the newest steps came, in exposure, newest first, shape (N, K); below 0 for none.

    Parameters
    ----------
    when : ndarray, shape (N, K)
        Standard normal numbers.
    exposure : ndarray, shape (P,)
        See :func:`exposures`.
    """
    # steps of a Poisson process, one for each unit of exposure: gaps fall off as exp(-gap)
    return np.asarray(exposure[-1] + np.cumsum(normal_log_cdf(-when), axis=1))


def step_paths(times: FloatArray, sizes: FloatArray, exposure: FloatArray) -> FloatArray:
    """What the steps before each run add up to, shape (N, P).

    Parameters
    ----------
    times, sizes : ndarray, shape (N, K)
        When each came, see :func:`step_times`, and by how much.
    exposure : ndarray, shape (P,)
    """
    took = np.where(times >= 0.0, sizes, 0.0)
    rows = zip(np.ascontiguousarray(took.T), np.ascontiguousarray(times.T), strict=True)
    each = [size * (time < exposure[:, None]) for size, time in rows]  # draws last, which is fast
    return np.asarray(sum(each[1:], each[0]).T)


def drift_paths(drift: FloatArray, runs: int) -> FloatArray:
    """What a drift adds up to at each of so many runs, over the first, shape (N, P).

    Parameters
    ----------
    drift : ndarray, shape (N,)
        From each run to the next.
    runs : int
    """
    return np.asarray(drift[:, None] * np.arange(runs))


def walk_modes(runs: int, most: int) -> FloatArray:
    """A random walk from run to run by its slowest swings, shape (M, P).

    Standard normal numbers (N, M) times these are walks that start at 0 and whose steps have about
    a deviation of one; exactly one where there are no more runs than modes.

    Parameters
    ----------
    runs, most : int
        How many runs P, and at most so many modes.
    """
    after = np.arange(1, runs)
    share, swings = np.linalg.eigh(np.minimum.outer(after, after).astype(float))
    slow = np.argsort(share)[::-1][:most]
    modes = np.sqrt(share[slow])[:, None] * swings[:, slow].T
    return np.pad(modes, ((0, 0), (1, 0)))


@dataclass(frozen=True)
class LikelyStep:
    """A step that most draws took.

    Attributes
    ----------
    place : int
        The first run after it.
    odds : float
        That there was one near there, of half as much again or more.
    ln_factor : float
        Its logarithm, the median.
    """

    place: int
    odds: float
    ln_factor: float


def likely_step(paths: FloatArray) -> LikelyStep | None:
    """The likeliest step, where it is likelier than none.

    Parameters
    ----------
    paths : ndarray, shape (N, P)
        Draws of the logarithm of a number at each run.
    """
    step = np.diff(paths, axis=1)  # (N, P - 1): before each run after the first
    # which of neighbouring runs came first after it is often left open
    near = step + np.pad(step[:, :-1], ((0, 0), (1, 0))) + np.pad(step[:, 1:], ((0, 0), (0, 1)))
    shares = np.mean(np.abs(near) > LEAST_STEP, axis=0)
    if not shares.size or shares.max() <= 0.5:
        return None
    # of places as likely, the one where most draws step
    each = np.mean(np.abs(step) > LEAST_STEP, axis=0)
    place = int(np.argmax(np.where(shares > 0.98 * shares.max(), each, 0.0)))
    share = float(shares[place])
    taken = near[np.abs(near[:, place]) > LEAST_STEP, place]
    odds = share / max(1.0 - share, 1.0 / len(paths))
    return LikelyStep(place + 1, odds, float(np.median(taken)))
