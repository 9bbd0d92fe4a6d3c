"""Sums over a grid, and what is summed of logarithms."""

from __future__ import annotations

import numpy as np

from .._typing import FloatArray, RealArray

_LOWEST = {4: -80.0, 8: -700.0}  # of an exponent, by the bytes of its number


def trapezoid(values: FloatArray, places: FloatArray) -> FloatArray:
    """Integral of values (..., P) over places (P,) by straight lines between them, shape (...).

    NumPy has it under two names, of which no one is there in all versions that serve.
    """
    middle = 0.5 * (values[..., 1:] + values[..., :-1])
    total: FloatArray = (middle * np.diff(places)).sum(axis=-1)
    return total


def values_at_middles(middle: FloatArray, variance: FloatArray, mean: FloatArray) -> FloatArray:
    """Values of a smooth curve at the middles of stretches, from its means over them.

    Parameters
    ----------
    middle, variance : ndarray, shape (P,)
        Mean and variance of the places within each stretch, in order.
    mean : ndarray, shape (P,) or (P, C)
        Means of the curve, or of C of them.

    Returns
    -------
    ndarray
        Of the shape of ``mean``: less what the curve's bend adds to a mean, ½ variance × bend,
        with the bend of the neighbours' means. Fewer than three are left as they are, and so is
        an end with a neighbour under half its length, which tells nothing of its bend.
    """
    if len(middle) < 3:
        return mean
    across = (slice(None),) + (None,) * (mean.ndim - 1)
    slope = np.diff(mean, axis=0) / np.diff(middle)[across]
    bend = 2.0 * np.diff(slope, axis=0) / (middle[2:] - middle[:-2])[across]
    half = 0.5 * variance.copy()
    half[[0, -1]] *= variance[[0, -1]] <= 4.0 * variance[[1, -2]]
    found: FloatArray = mean - half[across] * np.concatenate([bend[:1], bend, bend[-1:]])
    return found


def exp_in_place(logarithm: RealArray) -> RealArray:
    """Exponentials to be summed, in the place of their logarithms; those too small to count are as
    large as the floor, for numpy takes nine times as long over numbers that end at zero."""
    floor = logarithm.dtype.type(_LOWEST[logarithm.itemsize])
    np.maximum(logarithm, floor, out=logarithm)
    np.exp(logarithm, out=logarithm)
    return logarithm
