"""One law with its numbers over a range of temperature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._typing import BoolArray, FloatArray
from .laws import FIXED_EXPONENTS, GAS_CONSTANT_J_MOL_K, ZERO_CELSIUS_K, Law

ONE_RATE = ("ln_thickness_nm", "energy_kJ_mol", "curvature", "ln_shape")
"""Parameters of most laws: logarithm of the thickness grown on bare metal at the reference
temperature in the reference time, activation energy of the rate there, its change as a square in
1000/T, and the logarithm of the law's second number."""
TWO_RATES = ("ln_B", "energy_B_kJ_mol", "ln_B_over_A", "energy_B_over_A_kJ_mol")
"""Parameters of the linear-parabolic law: B [nm²/s] and B/A [nm/s] at the reference temperature."""

_ENERGY_UNIT = GAS_CONSTANT_J_MOL_K  # kJ/mol over this is per 1000/T


@dataclass(frozen=True, eq=False)
class Regime:
    """A law and its parameters from one temperature to another.

    ``range_C`` is where the source holds, the reference the heat at which the thickness parameter
    is stated; ``mean`` (4,) and ``covariance`` (4, 4) are in the order of ``parameters``.
    """

    law: Law
    range_C: tuple[float, float]
    reference_C: float
    reference_s: float
    mean: FloatArray
    covariance: FloatArray

    @property
    def parameters(self) -> tuple[str, ...]:
        """Names of the parameters."""
        return TWO_RATES if self.law.name == "linear-parabolic" else ONE_RATE

    def coefficients(
        self, theta: FloatArray, temperature_C: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Rate (..., Q) and shape (..., 1 or Q) of parameters (..., 4) at temperatures (Q,).

        Notes
        -----
        ``ln k = ln k_ref - (E/R) u + c u²`` with ``u = 1000/T - 1000/T_ref``. Beyond the range the
        line is continued straight, so that a ramp from cold has a rate to start from.
        """
        first, second, third, fourth = (theta[..., i, None] for i in range(4))
        u = self._inverse(temperature_C)
        if self.law.name == "linear-parabolic":
            log_linear = third - fourth / _ENERGY_UNIT * u
            log_parabolic = first - second / _ENERGY_UNIT * u
            return np.exp(log_parabolic), np.exp(log_parabolic - log_linear)
        inside = np.clip(u, *sorted(self._inverse(np.array(self.range_C))))
        slope = -second / _ENERGY_UNIT + 2.0 * third * inside
        log_rate = -second / _ENERGY_UNIT * inside + third * inside**2 + slope * (u - inside)
        shape = self.shape_of(fourth)
        grown = self.law.exposure(np.zeros_like(first), np.exp(first), shape)
        with np.errstate(invalid="ignore"):
            return np.exp(log_rate) * grown / self.reference_s, shape

    def shape_of(self, ln_shape: FloatArray) -> FloatArray:
        """The law's second number; fixed for linear, parabolic and cubic growth."""
        if self.law.name in FIXED_EXPONENTS:
            return np.full_like(ln_shape, FIXED_EXPONENTS[self.law.name])
        return np.exp(ln_shape)

    def are_valid(self, theta: FloatArray) -> BoolArray:
        """Which parameters (..., 4) let the rate rise with temperature over the whole range."""
        u = self._inverse(np.array(self.range_C))
        if self.law.name == "linear-parabolic":
            return np.asarray((theta[..., 1] > 0.0) & (theta[..., 3] > 0.0))
        energy = theta[..., 1, None] / _ENERGY_UNIT - 2.0 * theta[..., 2, None] * u
        rises = np.all(energy > 0.0, axis=-1)
        if self.law.name == "limiting film":
            return np.asarray(rises & (theta[..., 0] < theta[..., 3]))
        return np.asarray(rises)

    def _inverse(self, temperature_C: FloatArray) -> FloatArray:
        kelvin = np.asarray(temperature_C, dtype=float) + ZERO_CELSIUS_K
        return np.asarray(1000.0 / kelvin - 1000.0 / (self.reference_C + ZERO_CELSIUS_K))
