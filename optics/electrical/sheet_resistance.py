"""From what an ohmmeter shows to ohms per square: strips, and four points in a row."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import OutOfRangeError

INFINITE_SHEET = math.pi / math.log(2.0)
"""Ohms per square over volts per ampere of four points in a row on a wide sheet, 4.5324."""

_CLOSEST = 1e-6  # of the piece: points nearer than that see it as endless, and the sums no more
_MIRRORS = 60  # reflections in the short edges that are summed; later ones cancel to 1e-12


def squares(length_mm: ArrayLike, width_mm: ArrayLike) -> FloatArray:
    """Squares in a strip between contacts across its whole width: length over width.

    Raises
    ------
    OutOfRangeError
        If a side is not positive and finite.
    """
    length, width = np.asarray(length_mm, dtype=float), np.asarray(width_mm, dtype=float)
    sides = np.concatenate([length.ravel(), width.ravel()])
    if not np.all((sides > 0.0) & (sides < np.inf)):
        raise OutOfRangeError("length and width of a strip must be positive")
    count: FloatArray = length / width
    return count


def round_piece_factor(diameter_over_spacing: ArrayLike) -> FloatArray:
    """Factor from volts per ampere to ohms per square at the middle of a round piece.

    Parameters
    ----------
    diameter_over_spacing : array_like, shape (...)
        Diameter of the piece over the spacing of the four points [-], above 3.

    Notes
    -----
    ``π / (ln 2 + ln[(δ² + 3)/(δ² - 3)])``, the points in a row through the middle.

    References
    ----------
    F. M. Smits, Bell Syst. Tech. J. 37, 711 (1958).
    """
    delta = np.asarray(diameter_over_spacing, dtype=float)
    if not np.all(delta > 3.0):
        raise OutOfRangeError("the piece must be wider than three spacings of the points")
    edge = (delta**2 + 3.0) / (delta**2 - 3.0)
    factor: FloatArray = np.pi / (math.log(2.0) + np.log(edge))
    return factor


def rectangle_factor(length_mm: float, width_mm: float, spacing_mm: float) -> float:
    """Factor from volts per ampere to ohms per square at the middle of a rectangular piece.

    Parameters
    ----------
    length_mm, width_mm : float
        Sides along and across the row of points [mm].
    spacing_mm : float
        Between neighbouring points [mm]; three spacings are shorter than the length.

    Returns
    -------
    float

    Raises
    ------
    OutOfRangeError
        If the points do not fit on the piece, or lie closer than a millionth of it.

    Notes
    -----
    Edges that no current crosses mirror the outer points. Mirrored across the width, a point is
    a row of sources with the potential ``-ln|2 sinh(π x / w)|/2π`` on the middle line, and these
    are summed over the mirrors in the two ends.

    References
    ----------
    F. M. Smits, Bell Syst. Tech. J. 37, 711 (1958), whose table it gives.
    """
    near_enough = spacing_mm >= _CLOSEST * max(width_mm, length_mm)
    if not (near_enough and 0.0 < width_mm < np.inf and length_mm > 3.0 * spacing_mm):
        raise OutOfRangeError(
            f"four points {spacing_mm:g} mm apart do not fit on a piece {length_mm:g} by "
            f"{width_mm:g} mm"
        )
    near, far = 0.5 * spacing_mm, 1.5 * spacing_mm
    k = np.arange(-_MIRRORS, _MIRRORS + 1)
    places = {
        sign: np.concatenate(
            [2.0 * k * length_mm + sign * far, (2.0 * k + 1.0) * length_mm - sign * far]
        )
        for sign in (1.0, -1.0)
    }

    def potential(x: float) -> float:
        """Of the source at +far and the sink at -far."""
        source, sink = (_log_sinh(np.pi * (x - places[s]) / width_mm) for s in (1.0, -1.0))
        return float((sink - source).sum()) / (2.0 * math.pi)

    return 1.0 / (potential(near) - potential(-near))


def _log_sinh(x: FloatArray) -> FloatArray:
    """``ln|2 sinh x|`` without overflow."""
    size = np.abs(x)
    value: FloatArray = size + np.log(-np.expm1(-2.0 * size))
    return value
