"""How wavelengths are weighed when a goal asks for one figure: the eye, the sun, and warmth."""

from __future__ import annotations

from functools import cache

import numpy as np

from .._typing import FloatArray

LUMINOUS_BAND_NM = (380.0, 780.0)
"""EN 410 and ISO 9050: D65 times V(λ), summed over 380 to 780 nm."""

SOLAR_BAND_NM = (310.0, 2500.0)
"""ISO 9050 sums over 300 to 2500 nm; the glass tables start at 310, before which lie 0.02 % of
the sunlight (computed from the table of ASTM G173, global on a tilted surface)."""

EMITTANCE_BAND_NM = (5000.0, 25_000.0)
"""Holds 82 % of the radiation of a black body at 300 K (computed); where data end sooner, the band
ends there, but never inside the window 8 to 13 um."""

NEEDED_EMITTANCE_NM = (8000.0, 13_000.0)
BODY_K = 300.0

# 2018 CODATA hc/k: the second radiation constant [nm K].
_SECOND_RADIATION_NM_K = 1.438776877e7


def luminous_weights(wavelength_nm: FloatArray) -> FloatArray:
    """Shares of D65 times V(λ), shape (W,), that sum to 1 over 380 to 780 nm."""
    from ..colour.illuminants import tristimulus_weights

    share: FloatArray = tristimulus_weights(wavelength_nm, "D65", 2)[:, 1] / 100.0
    return share


def solar_weights(wavelength_nm: FloatArray) -> FloatArray:
    """Shares of sunlight, shape (W,), that sum to 1 over the wavelengths given.

    References
    ----------
    ASTM G173-03, global irradiance on a surface tilted by 37°, from colour-science.
    """
    nodes_nm, power = _sunlight()
    fine_nm = np.arange(wavelength_nm[0], wavelength_nm[-1] + 0.5, 1.0)
    return _distribute(wavelength_nm, fine_nm, np.interp(fine_nm, nodes_nm, power))


def emittance_weights(wavelength_nm: FloatArray) -> FloatArray:
    """Shares of the radiation of a black body at 300 K, shape (W,), that sum to 1."""
    fine_nm = np.linspace(wavelength_nm[0], wavelength_nm[-1], 2001)
    return _distribute(wavelength_nm, fine_nm, planck(fine_nm, BODY_K))


def planck(wavelength_nm: FloatArray, temperature_K: float) -> FloatArray:
    """Planck's law per wavelength, shape (W,), in arbitrary units."""
    ratio = _SECOND_RADIATION_NM_K / (wavelength_nm * temperature_K)
    power: FloatArray = wavelength_nm**-5.0 / np.expm1(ratio)
    return power


def _distribute(nodes_nm: FloatArray, fine_nm: FloatArray, power: FloatArray) -> FloatArray:
    """Power on a fine grid shared between the nodes on either side by linear interpolation."""
    right = np.clip(np.searchsorted(nodes_nm, fine_nm), 1, nodes_nm.size - 1)
    gap = nodes_nm[right] - nodes_nm[right - 1]
    share = np.clip((fine_nm - nodes_nm[right - 1]) / gap, 0.0, 1.0)
    weight = np.bincount(right, share * power, nodes_nm.size)
    weight += np.bincount(right - 1, (1.0 - share) * power, nodes_nm.size)
    normed: FloatArray = weight / weight.sum()
    return normed


@cache
def _sunlight() -> tuple[FloatArray, FloatArray]:
    from colour.plotting.datasets.astm_g_173 import DATA_ASTMG173_GLOBAL_TILT

    table = sorted(DATA_ASTMG173_GLOBAL_TILT.items())
    return np.array([nm for nm, _ in table]), np.array([power for _, power in table])
