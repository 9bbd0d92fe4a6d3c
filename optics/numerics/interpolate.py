"""Between known places: a polynomial through values at nodes, and where a condition changes."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np

from .._typing import FloatArray


def lagrange(nodes: FloatArray, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Weights (at, nodes) of the polynomial through values at the nodes, and their slopes."""
    unit = float(np.abs(nodes).max()) or 1.0
    coefficients = np.linalg.inv(np.vander(nodes / unit, increasing=True))
    x = np.vander(at / unit, nodes.size, increasing=True)
    slope = np.zeros_like(x)
    slope[:, 1:] = x[:, :-1] * (np.arange(1, nodes.size) / unit)
    return x @ coefficients, slope @ coefficients


@lru_cache(maxsize=16)
def refine_even(count: int, every: int, *, around: int) -> FloatArray:
    """Weights (count, nodes) by which values at even places give those ``every`` times as close:
    of the polynomial through so many nodes around each.

    The nodes are places 0, every, 2 every ...; the last may lie past the end.
    """
    nodes = max(-(-(count - 1) // every) + 1, around)
    at: FloatArray = np.arange(count) / every
    first = np.clip(np.floor(at).astype(int) - around // 2 + 1, 0, nodes - around)
    middle, near = 0.5 * (around - 1), np.arange(float(around))
    weights = np.zeros((count, nodes))
    polynomial = lagrange(near - middle, at - first - middle)[0]
    np.put_along_axis(weights, first[:, None] + np.arange(around), polynomial, axis=1)
    weights.flags.writeable = False
    return weights


def bisect(
    holds: Callable[..., Any], low: FloatArray | float, high: FloatArray | float, *, halvings: int
) -> tuple[FloatArray, FloatArray]:
    """Where a condition that holds below some place ends, by halving intervals.

    Parameters
    ----------
    holds : callable
        Of places (...), whether the condition holds at each; it may do so nowhere or everywhere.
    low, high : float or ndarray, shape (...)
        Ends of each interval.

    Returns
    -------
    tuple of ndarray, shape (...)
        The highest place where it was found to hold, and the lowest where it was found not to;
        or the ends as given.
    """
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        below = holds(middle)
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(low), np.asarray(high)
