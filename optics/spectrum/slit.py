"""What an instrument's bandwidth does to a spectrum: each reading is a mean over a slit.

A mean over a bell of variance v leaves ``exp(-v κ²/2)`` of a wave of wave number κ. So a curve is
taken apart into the straight line between its ends, which no slit changes, and waves that vanish
at both, each of which fades by itself. One number moves all readings, with an exact slope, and
the readings may lie anywhere between the places where a curve is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._typing import FloatArray

# Two equal slits pass a triangle, whose variance is its width at half height squared over six.
_TRIANGLE = 6.0

# Colour meters read as wide as they step (10 or 20 nm), which is what colour sums assume
# (E. I. Stearns and R. E. Stearns, Color Res. Appl. 13, 257 (1988), from memory). Finer steps say
# nothing of the slit: laboratory instruments have 1 to 2 nm, pocket ones up to 15 (common practice,
# no source).
_COLOUR_METER_STEP_NM, _ORDINARY_NM = 8.0, 2.0


@dataclass(frozen=True, eq=False)
class Slit:
    """The bandwidth of an instrument, for curves that are known at even steps.

    Attributes
    ----------
    seen_nm : ndarray, shape (V,)
        Where curves are known, in even steps.
    read_nm : ndarray, shape (W,)
        Where they are read, between the first and the last of these.
    fwhm_nm : float
        Full width at half height [nm]: what is known, or what the steps make likely.
    is_known : bool
    """

    seen_nm: FloatArray
    read_nm: FloatArray
    fwhm_nm: float
    is_known: bool

    @classmethod
    def of(cls, seen_nm: FloatArray, read_nm: FloatArray, fwhm_nm: float | None) -> Slit:
        """A known width, or what the steps between the readings make likely."""
        if fwhm_nm is not None:
            return cls(seen_nm, read_nm, fwhm_nm, True)
        step = float(np.median(np.diff(read_nm)))
        likely = step if step >= _COLOUR_METER_STEP_NM else _ORDINARY_NM
        return cls(seen_nm, read_nm, likely, False)

    @cached_property
    def _half_squares(self) -> FloatArray:
        """Of the line and of each wave number, ``κ²/2``, shape (V,) [1/nm²]."""
        length = self.seen_nm[-1] - self.seen_nm[0]
        own = 0.5 * (np.pi * np.arange(1, self.seen_nm.size - 1) / length) ** 2
        return np.concatenate([np.zeros(2), own])

    @cached_property
    def _to_waves(self) -> FloatArray:
        """Ends and waves of curves, from the right, shape (V, V)."""
        count = self.seen_nm.size
        ends = np.zeros((count, 2))
        ends[0, 0] = ends[-1, 1] = 1.0
        line, waves = np.split(self._shapes(self.seen_nm), [2])
        own = (np.eye(count) - ends @ line) @ waves.T * (2.0 / (count - 1))
        return np.concatenate([ends, own], axis=1)

    @cached_property
    def _to_readings(self) -> FloatArray:
        """What ends and waves are at the readings, from the right, shape (V, W)."""
        return self._shapes(self.read_nm)

    def _shapes(self, wavelength_nm: FloatArray) -> FloatArray:
        """Lines that are 1 at one end and 0 at the other, and waves, at some wavelengths."""
        u = (wavelength_nm - self.seen_nm[0]) / (self.seen_nm[-1] - self.seen_nm[0])
        waves = np.sin(np.pi * np.arange(1, self.seen_nm.size - 1)[:, None] * u)
        return np.concatenate([[1.0 - u, u], waves])

    @cached_property
    def known_blur(self) -> FloatArray:
        """What a slit of its own width does to a curve, from the right, shape (V, W)."""
        return self.blur_of(self.fwhm_nm)

    def blur_of(self, fwhm_nm: float) -> FloatArray:
        """What a slit of some width does to a curve, from the right, shape (V, W)."""
        left = self._left_by(np.array([fwhm_nm]))
        return np.asarray((self._to_waves * left) @ self._to_readings)

    def blur(self, curve: FloatArray, fwhm_nm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Curves (N, V) seen through slits (N,), and their derivatives to the width, (N, W)."""
        waves = (curve @ self._to_waves) * self._left_by(fwhm_nm)
        to_v = -(waves * self._half_squares) @ self._to_readings
        return waves @ self._to_readings, to_v * 2.0 * fwhm_nm[:, None] / _TRIANGLE

    def blur_slopes(self, slopes: FloatArray, fwhm_nm: FloatArray) -> FloatArray:
        """Derivatives (F, N, V) of curves, seen through slits (N,), shape (F, N, W)."""
        return ((slopes @ self._to_waves) * self._left_by(fwhm_nm)) @ self._to_readings

    def _left_by(self, fwhm_nm: FloatArray) -> FloatArray:
        """Of each wave, what slits (N,) leave, shape (N, V)."""
        return np.exp(-(fwhm_nm[:, None] ** 2) / _TRIANGLE * self._half_squares)
