"""Log densities of many normal distributions at many colours, as one matrix product.

``-½ (y - m)ᵀ S⁻¹ (y - m)`` is linear in ten products of the components of y; a table of
distributions is a matrix of ten coefficients for each, in 32 bits.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray, RealArray, SingleArray

Matrix = TypeVar("Matrix", FloatArray, SingleArray, RealArray)

FEATURES = 10  # of a colour: one, L, a, b and their products
_FIRST, _SECOND = np.array([[0, 1, 2, 3, 1, 2, 3, 1, 1, 2], [0, 0, 0, 0, 1, 2, 3, 2, 3, 3]])
_CENTRE = np.array([50.0, 0.0, 0.0])  # Lab is taken from here to keep squares small in 32 bits
_LOWEST = np.float32(-80.0)  # of a log density from its peak: less ends in slow denormal numbers
PRODUCT_ELEMENTS = 16_000  # of one product: beyond, linear algebra calls threads in, and waits
_LOG_2PI_CUBED = 3.0 * np.log(2.0 * np.pi)


def features(lab: ArrayLike) -> SingleArray:
    """The ten products a log density is linear in, shape (N, 10), of colours (N, 3)."""
    colours = np.asarray(lab, dtype=float)
    y = np.ones((len(colours), 4))
    y[:, 1:] = colours - _CENTRE
    return (y[:, _FIRST] * y[:, _SECOND]).astype(np.float32)


def multiply(left: Matrix, right: Matrix) -> Matrix:
    """The matrix product (n, k) @ (k, m), so many columns at a time as one thread does."""
    found = np.empty((len(left), right.shape[1]), dtype=left.dtype)
    step = max(1, PRODUCT_ELEMENTS * FEATURES // max(left.size, 1))
    for start in range(0, found.shape[1], step):
        columns = slice(start, start + step)
        np.matmul(left, right[:, columns], out=found[:, columns])
    return found


def log_mean(log_density: SingleArray, weight: FloatArray) -> SingleArray:
    """Log of the weighted mean over the first axis (K, ...), each from its own peak; overwrites.

    Floors are whole arrays: numpy is three times as fast with them.
    """
    peak: SingleArray = log_density[0] if len(log_density) == 1 else log_density.max(axis=0)
    if len(log_density) == 1:
        return peak
    log_density -= peak
    np.maximum(log_density, np.full_like(peak, _LOWEST), out=log_density)
    each = np.exp(log_density, out=log_density).reshape(len(log_density), -1)
    mean = (weight.astype(np.float32) @ each).reshape(peak.shape)
    peak += np.log(mean, out=mean)
    return peak


def coefficients_along(
    mean: FloatArray, variances: FloatArray, *, direction: FloatArray, size: float
) -> SingleArray:
    """Coefficients (10, rows) for covariances ``diag(variances) + size² v vᵀ``.

    Parameters
    ----------
    mean, direction : ndarray, shape (rows, 3)
        CIELAB, and v.
    variances : ndarray, shape (3,)
    size : float

    Notes
    -----
    Inverse and determinant are rank-one updates (Sherman and Morrison, 1950).
    """
    inverse = 1.0 / variances
    m = mean - _CENTRE
    u = direction * inverse
    stretch = 1.0 + size**2 * (direction * u).sum(axis=-1)
    w = u * (size / np.sqrt(stretch))[:, None]
    along = (w * m).sum(axis=-1)
    normal = np.log(stretch) + np.log(variances).sum() + _LOG_2PI_CUBED
    square = (inverse * m * m).sum(axis=-1) - along**2
    linear = inverse * m - w * along[:, None]
    own = [inverse[i] - w[:, i] ** 2 for i in range(3)]
    crossed = [-w[:, i] * w[:, j] for i, j in ((0, 1), (0, 2), (1, 2))]
    return _stack_coefficients(normal + square, linear, own, crossed)


def coefficients_of(mean: FloatArray, covariance: FloatArray, log_weight: ArrayLike) -> SingleArray:
    """Coefficients (10, rows) for any covariances (rows, 3, 3), a log weight (rows,) added."""
    m = mean - _CENTRE
    # The inverse by its cofactors: row by row, linear algebra takes ten times as long.
    (a, d, e), (_, b, f), (_, _, c) = np.moveaxis(covariance.astype(float), 0, -1)
    own = [b * c - f * f, a * c - e * e, a * b - d * d]
    crossed = [e * f - d * c, d * f - e * b, d * e - a * f]
    size = a * own[0] + d * crossed[0] + e * crossed[1]
    own, crossed = [part / size for part in own], [part / size for part in crossed]
    (xx, yy, zz), (xy, xz, yz), (x, y, z) = own, crossed, m.T
    linear = np.stack(
        [xx * x + xy * y + xz * z, xy * x + yy * y + yz * z, xz * x + yz * y + zz * z], axis=-1
    )
    normal = np.log(size) + _LOG_2PI_CUBED - 2.0 * np.asarray(log_weight)
    return _stack_coefficients(normal + (linear * m).sum(axis=-1), linear, own, crossed)


def _stack_coefficients(
    constant: FloatArray, linear: FloatArray, own: list[FloatArray], crossed: list[FloatArray]
) -> SingleArray:
    parts = [-0.5 * constant, *linear.T, *(-0.5 * one for one in own), *(-one for one in crossed)]
    return np.stack([np.broadcast_to(part, constant.shape) for part in parts]).astype(np.float32)
