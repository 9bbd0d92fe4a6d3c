"""A cubic through points that never overshoots them, without the cost of importing SciPy's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray


@dataclass(frozen=True, eq=False)
class MonotoneCubic:
    """Piecewise cubic through points, with the slopes of Fritsch and Butland.

    Attributes
    ----------
    x : ndarray, shape (n,)
        Rising; at least two.
    y, slope : ndarray, shape (n, m)

    References
    ----------
    F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5, 300 (1984), doi:10.1137/0905021.
    """

    x: FloatArray
    y: FloatArray
    slope: FloatArray

    @classmethod
    def through(cls, x: FloatArray, y: FloatArray) -> MonotoneCubic:
        """The curve through the columns of ``y``."""
        h = np.diff(x)[:, None]
        rise = np.diff(y, axis=0) / h
        if len(x) == 2:
            return cls(x, y, np.repeat(rise, 2, axis=0))
        w1, w2 = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
        left, right = rise[:-1], rise[1:]
        same = np.sign(left) * np.sign(right) > 0.0
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            mean = (w1 + w2) / (w1 / left + w2 / right)  # harmonic; 0 at an extreme
        inner = np.where(same, mean, 0.0)
        first = _end_slope(h[0], h[1], rise[0], rise[1])
        last = _end_slope(h[-1], h[-2], rise[-1], rise[-2])
        return cls(x, y, np.concatenate([first[None], inner, last[None]]))

    def __call__(self, x: FloatArray) -> FloatArray:
        """Values at places within the points, shape (..., m)."""
        i = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, len(self.x) - 2)
        h = self.x[i + 1] - self.x[i]
        t = ((x - self.x[i]) / h)[..., None]
        h = h[..., None]
        rise = self.y[i + 1] - self.y[i]
        # Hermite's cubic, written from the left point up
        bend = 3.0 * rise - h * (2.0 * self.slope[i] + self.slope[i + 1])
        twist = h * (self.slope[i] + self.slope[i + 1]) - 2.0 * rise
        value: FloatArray = self.y[i] + t * (h * self.slope[i] + t * (bend + t * twist))
        return value


def _end_slope(h0: FloatArray, h1: FloatArray, near: FloatArray, far: FloatArray) -> FloatArray:
    """Slope at an end from three points, held so that the curve keeps its direction."""
    slope = ((2.0 * h0 + h1) * near - h0 * far) / (h0 + h1)
    slope = np.where(np.sign(slope) != np.sign(near), 0.0, slope)
    turns = (np.sign(near) != np.sign(far)) & (np.abs(slope) > 3.0 * np.abs(near))
    held: FloatArray = np.where(turns, 3.0 * near, slope)
    return held
