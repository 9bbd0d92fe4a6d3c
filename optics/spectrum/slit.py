"""What an instrument's bandwidth does to a spectrum: each reading is a mean over a slit.

A mean over a narrow slit of variance v is the curve plus what its bends add,
``f + (v/2) f'' + (v²/8) f''''``, so that one number moves all readings and has an exact slope. The
derivatives are those of polynomials through the seven nearest readings (five at the ends).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._typing import FloatArray

# Two equal slits pass a triangle, whose variance is its width at half height squared over six.
_TRIANGLE = 6.0
_NEIGHBOURS, _AT_THE_ENDS = 7, 5

# Colour meters read as wide as they step (10 or 20 nm), which is what colour sums assume
# (E. I. Stearns and R. E. Stearns, Color Res. Appl. 13, 257 (1988), from memory). Finer steps say
# nothing of the slit: laboratory instruments have 1 to 2 nm, pocket ones up to 15 (common practice,
# no source).
_COLOUR_METER_STEP_NM, _ORDINARY_NM = 8.0, 2.0


@dataclass(frozen=True, eq=False)
class Slit:
    """The bandwidth of an instrument that reads at some wavelengths.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (W,)
    fwhm_nm : float
        Full width at half height [nm]: what is known, or what the steps make likely.
    is_known : bool
    """

    wavelength_nm: FloatArray
    fwhm_nm: float
    is_known: bool

    @classmethod
    def of(cls, wavelength_nm: FloatArray, fwhm_nm: float | None) -> Slit:
        """A known width, or what the steps between the readings make likely."""
        if fwhm_nm is not None:
            return cls(wavelength_nm, fwhm_nm, True)
        step = float(np.median(np.diff(wavelength_nm)))
        likely = step if step >= _COLOUR_METER_STEP_NM else _ORDINARY_NM
        return cls(wavelength_nm, likely, False)

    @cached_property
    def bends(self) -> FloatArray:
        """Half the second and an eighth of the fourth derivative, shape (W, 2 W), from the right
        of a curve."""
        second, fourth = _derivatives(self.wavelength_nm)
        return np.concatenate([second.T / 2.0, fourth.T / 8.0], axis=1)

    @cached_property
    def known_blur(self) -> FloatArray:
        """What a slit of its own width does to a curve, from the right, shape (W, W)."""
        half, eighth = np.split(self.bends, 2, axis=1)
        v = self.fwhm_nm**2 / _TRIANGLE
        return np.asarray(np.eye(len(half)) + v * half + v**2 * eighth)

    def blur(self, curve: FloatArray, fwhm_nm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Curves (N, W) seen through slits (N,), and their derivatives to the width."""
        half, eighth = self._bent(curve)
        v = fwhm_nm[:, None] ** 2 / _TRIANGLE
        to_v = half + 2.0 * v * eighth
        return curve + v * half + v**2 * eighth, to_v * 2.0 * fwhm_nm[:, None] / _TRIANGLE

    def blur_slopes(self, slopes: FloatArray, fwhm_nm: FloatArray) -> FloatArray:
        """Derivatives (F, N, W) of curves, seen through slits (N,)."""
        half, eighth = self._bent(slopes)
        v = fwhm_nm[:, None] ** 2 / _TRIANGLE
        return np.asarray(slopes + v * half + v**2 * eighth)

    def _bent(self, curve: FloatArray) -> tuple[FloatArray, FloatArray]:
        rows = curve.reshape(-1, curve.shape[-1]) @ self.bends
        half, eighth = np.split(rows, 2, axis=1)
        return half.reshape(curve.shape), eighth.reshape(curve.shape)


def _derivatives(x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Matrices (W, W) that make second and fourth derivatives of readings at x."""
    second, fourth = np.zeros((2, x.size, x.size))
    for i in range(x.size):
        central = min(i, x.size - 1 - i) >= _NEIGHBOURS // 2
        count = min(_NEIGHBOURS if central else _AT_THE_ENDS, x.size)
        first = min(max(i - count // 2, 0), x.size - count)
        own = slice(first, first + count)
        scale = float(np.ptp(x[own]))
        powers = ((x[own] - x[i]) / scale) ** np.arange(count)[:, None]
        rules = np.linalg.inv(powers)  # column j: j! times it is the j-th derivative's weights
        second[i, own] = 2.0 * rules[:, 2] / scale**2
        if central:  # at the ends it would be more noise than bend
            fourth[i, own] = 24.0 * rules[:, 4] / scale**4
    return second, fourth
