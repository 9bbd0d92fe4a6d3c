"""The points of a range of thicknesses."""

from __future__ import annotations

import math

import numpy as np

from .._typing import FloatArray

_MOST_INTERVALS = 1e15  # beyond any limit, yet a whole number


def range_size(low: float, high: float, step: float) -> int:
    """Points of a range; the last is kept when rounding alone has pushed it past the end."""
    intervals = min((high - low) / step, _MOST_INTERVALS)
    return math.floor(intervals * (1.0 + 1e-12) + 1e-9) + 1


def range_points(low: float, high: float, step: float) -> FloatArray:
    """Points from ``low`` to ``high``, ``step`` apart, none beyond the end."""
    points: FloatArray = low + step * np.arange(range_size(low, high, step), dtype=float)
    return np.minimum(points, high)
