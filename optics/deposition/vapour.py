"""How fast a hot surface evaporates: vapour pressure and the Hertz-Knudsen rate."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError, UnknownNameError
from ..numerics.interpolate import bisect
from .gases import GAS_CONSTANT

KELVIN = 273.15
MBAR_PER_TORR = 1013.25 / 760.0
USEFUL_MBAR = 1e-4 * MBAR_PER_TORR
"""Vapour pressure at which a hot wire begins to coat at a useful rate (common practice)."""
HOTTEST_K = 4000.0  # nothing we deposit is hotter, and no formula is carried further
_LOG_ATM_MBAR = float(np.log10(1013.25))
_HALVINGS = 60


@dataclass(frozen=True)
class _Span:
    """One formula ``log10(p/atm) = a + b/T + c log10 T + d T/1000`` and where it holds [K]."""

    a: float
    b: float
    c: float
    d: float
    low_K: float
    high_K: float
    tag: str

    def log_mbar(self, temperature_K: ArrayLike) -> FloatArray:
        T = np.asarray(temperature_K, dtype=float)
        log: FloatArray = self.a + self.b / T + self.c * np.log10(T) + self.d * T / 1000.0
        return log + _LOG_ATM_MBAR


@dataclass(frozen=True)
class SourceTemperature:
    """How hot a source must be.

    Attributes
    ----------
    temperature_C : float
    pressure_mbar : float
        Vapour pressure there [mbar].
    extrapolated : bool
        Whether the formula is carried past the span of its data.
    tag : str
        Where the formula comes from.
    """

    temperature_C: float
    pressure_mbar: float
    extrapolated: bool
    tag: str


def has_vapour_data(material: str) -> bool:
    """Whether a vapour pressure is held for a material of that name."""
    return material in _laws()


def vapour_pressure_mbar(
    material: str, temperature_C: ArrayLike, extrapolate: bool = False
) -> FloatArray:
    """Equilibrium vapour pressure.

    Parameters
    ----------
    material : str
        A name such as ``Ti``.
    temperature_C : array_like, shape (...)
        Temperature [°C].
    extrapolate : bool
        Carry the last formula beyond its data, up to 4000 K.

    Returns
    -------
    ndarray, shape (...)
        Pressure [mbar].

    Raises
    ------
    UnknownNameError
        If no vapour pressure is held for the material.
    OutOfRangeError
        If a temperature is NaN or outside the span of the data.

    References
    ----------
    C. B. Alcock, V. P. Itkin and M. K. Horrigan, Can. Metall. Q. 23, 309 (1984),
    doi:10.1179/cmq.1984.23.3.309; see the data file for what is from memory.
    """
    spans = _law(material)
    T = np.asarray(temperature_C, dtype=float) + KELVIN
    low, high = spans[0].low_K, HOTTEST_K if extrapolate else spans[-1].high_K
    bad = ~((low - 1e-6 <= T) & (high + 1e-6 >= T))  # NaN counts as bad
    if bad.any():
        raise OutOfRangeError(
            f"the vapour pressure of {material} is held from {low - KELVIN:.0f} to "
            f"{high - KELVIN:.0f} °C; {float(T[bad].flat[0]) - KELVIN:g} °C is outside"
        )
    log = spans[0].log_mbar(T)
    for span in spans[1:]:
        log = np.where(span.low_K < T, span.log_mbar(T), log)
    pressure: FloatArray = 10.0**log
    return pressure


def evaporation_g_cm2_s(
    pressure_mbar: ArrayLike, temperature_C: ArrayLike, molar_mass: float, *, alpha: float = 1.0
) -> FloatArray:
    """Mass leaving a surface into vacuum, per area and time.

    Parameters
    ----------
    pressure_mbar, temperature_C : array_like, shape (...)
        Vapour pressure [mbar] and temperature [°C] of the surface.
    molar_mass : float
        Of the vapour [g/mol].
    alpha : float
        Evaporation coefficient, 0 to 1; 1 for clean metals.

    Returns
    -------
    ndarray, shape (...)
        ``alpha p sqrt(M / 2πRT)`` [g cm⁻² s⁻¹] (Hertz 1882, Knudsen 1915).
    """
    pascal = 100.0 * np.asarray(pressure_mbar, dtype=float)
    T = np.asarray(temperature_C, dtype=float) + KELVIN
    per_m2 = pascal * np.sqrt(molar_mass * 1e-3 / (2.0 * np.pi * GAS_CONSTANT * T))  # kg/m²s
    flux: FloatArray = alpha * 0.1 * per_m2
    return flux


def temperature_for_pressure(material: str, pressure_mbar: float) -> SourceTemperature:
    """Temperature at which a material has a vapour pressure [mbar].

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If no data are held, or the pressure is not reached below 4000 K.
    """
    return _solve(material, pressure_mbar, lambda span, T: span.log_mbar(T), "mbar")


def temperature_for_rate(
    material: str, flux_g_cm2_s: float, molar_mass: float
) -> SourceTemperature:
    """Temperature at which a surface loses a given mass per area and time [g cm⁻² s⁻¹].

    The Hertz-Knudsen rate with an evaporation coefficient of 1 is inverted.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If no data are held, or the rate is not reached below 4000 K.
    """

    def log_flux(span: _Span, T: FloatArray) -> FloatArray:
        flux: FloatArray = np.log10(
            evaporation_g_cm2_s(10.0 ** span.log_mbar(T), T - KELVIN, molar_mass)
        )
        return flux

    return _solve(material, flux_g_cm2_s, log_flux, "g/cm²s")


def _solve(
    material: str, target: float, curve: Callable[[_Span, FloatArray], FloatArray], unit: str
) -> SourceTemperature:
    """The lowest temperature at which a rising curve of log10 values reaches a target."""
    if not 0.0 < target < np.inf:
        raise InputError(f"the target for {material} is {target:g} {unit}; it must be above 0")
    spans, wanted = _law(material), float(np.log10(target))
    for span in spans:
        last = span is spans[-1]
        top = HOTTEST_K if last else span.high_K
        if curve(span, np.asarray(top)) < wanted:
            continue
        low, high = span.low_K, top
        if curve(span, np.asarray(low)) > wanted and span is spans[0]:
            break
        high = float(
            bisect(lambda K, span=span: curve(span, K) <= wanted, low, high, halvings=_HALVINGS)[1]
        )
        pressure = float(10.0 ** span.log_mbar(high))
        return SourceTemperature(high - KELVIN, pressure, high > span.high_K, span.tag)
    raise OutOfRangeError(
        f"{material} reaches {target:.3g} {unit} at no temperature between "
        f"{spans[0].low_K - KELVIN:.0f} and {HOTTEST_K - KELVIN:.0f} °C"
    )


def _law(material: str) -> tuple[_Span, ...]:
    if material not in _laws():
        raise UnknownNameError(
            f"no vapour pressure is held for {material!r}; it is held for {', '.join(_laws())}"
        )
    return _laws()[material]


@cache
def _laws() -> dict[str, tuple[_Span, ...]]:
    text = files(__package__).joinpath("vapour_pressure.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    laws: dict[str, tuple[_Span, ...]] = {}
    for row in csv.DictReader(lines):
        a, b, c, d, low, high = (float(row[key]) for key in ("a", "b", "c", "d", "low_K", "high_K"))
        span = _Span(a, b, c, d, low, high, row["tag"])
        laws[row["material"]] = (*laws.get(row["material"], ()), span)
    return laws
