"""Laws of oxide growth: thickness after an exposure, its inverse, and the rate.

Each law has a state that grows evenly with the exposure ``s = ∫ k(T) dt``, so that a history of
any temperatures adds up exactly as long as the law's shape stays the same. The exposure has the
unit of the state: nm for a linear law, nm² for a parabolic one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray
from ..numerics.interpolate import bisect

GAS_CONSTANT_J_MOL_K = 8.31446261815324  # exact in the SI of 2019
ZERO_CELSIUS_K = 273.15

_BISECTIONS, _NEWTON_STEPS = 60, 4


@dataclass(frozen=True)
class Law:
    """One law of growth.

    Attributes
    ----------
    name, equation, holds, source : str
        The rate in words of a formula, where it holds, and who says so.
    shape : str
        What the second number of the law is, empty where there is none.
    after : callable (start_nm, exposure, shape) -> thickness_nm
    exposure : callable (start_nm, end_nm, shape) -> exposure
        Infinite where the end is never reached.
    rate : callable (thickness_nm, shape) -> dx/ds
    """

    name: str
    equation: str
    holds: str
    source: str
    shape: str
    after: Callable[[FloatArray, FloatArray, FloatArray], FloatArray]
    exposure: Callable[[FloatArray, FloatArray, FloatArray], FloatArray]
    rate: Callable[[FloatArray, FloatArray], FloatArray]


def power(start_nm: FloatArray, exposure: FloatArray, shape: FloatArray) -> FloatArray:
    """Thickness under ``x^m = x0^m + s``; m is 1 for linear, 2 parabolic, 3 cubic growth."""
    return np.asarray((start_nm**shape + exposure) ** (1.0 / shape))


def power_exposure(start_nm: FloatArray, end_nm: FloatArray, shape: FloatArray) -> FloatArray:
    """Exposure that takes a film from one thickness to another under a power law."""
    return np.asarray(end_nm**shape - start_nm**shape)


def power_rate(thickness_nm: FloatArray, shape: FloatArray) -> FloatArray:
    """``dx/ds = x^(1-m) / m``."""
    return np.asarray(thickness_nm ** (1.0 - shape) / shape)


def linear_parabolic(start_nm: FloatArray, exposure: FloatArray, shape: FloatArray) -> FloatArray:
    """Thickness under ``x² + A x = x0² + A x0 + s``, with ``s = ∫ B dt`` and the shape A [nm]."""
    state = start_nm**2 + shape * start_nm + exposure
    half = 0.5 * shape
    return np.asarray(state / (half + np.sqrt(half**2 + state)))


def linear_parabolic_exposure(
    start_nm: FloatArray, end_nm: FloatArray, shape: FloatArray
) -> FloatArray:
    """Exposure between two thicknesses under the linear-parabolic law."""
    return np.asarray((end_nm - start_nm) * (end_nm + start_nm + shape))


def linear_parabolic_rate(thickness_nm: FloatArray, shape: FloatArray) -> FloatArray:
    """``dx/ds = 1 / (2 x + A)``."""
    return np.asarray(1.0 / (2.0 * thickness_nm + shape))


def logarithmic(start_nm: FloatArray, exposure: FloatArray, shape: FloatArray) -> FloatArray:
    """Thickness under ``dx/ds = exp(-x/L)``: ``x = x0 + L ln(1 + s exp(-x0/L) / L)``."""
    return np.asarray(start_nm + shape * np.log1p(exposure * np.exp(-start_nm / shape) / shape))


def logarithmic_exposure(start_nm: FloatArray, end_nm: FloatArray, shape: FloatArray) -> FloatArray:
    """Exposure between two thicknesses under the logarithmic law."""
    return np.asarray(shape * np.exp(start_nm / shape) * np.expm1((end_nm - start_nm) / shape))


def logarithmic_rate(thickness_nm: FloatArray, shape: FloatArray) -> FloatArray:
    """``dx/ds = exp(-x/L)``."""
    return np.asarray(np.exp(-thickness_nm / shape))


def _inverse_log_state(thickness_nm: FloatArray, shape: FloatArray) -> FloatArray:
    """``∫ exp(-x1/x) dx = x E2(x1/x)``, zero without film."""
    from scipy.special import expn

    safe = np.maximum(thickness_nm, 1e-300)
    state: FloatArray = np.where(thickness_nm > 0.0, safe * expn(2, shape / safe), 0.0)
    return state


def inverse_logarithmic(
    start_nm: FloatArray, exposure: FloatArray, shape: FloatArray
) -> FloatArray:
    """Thickness under ``dx/ds = exp(x1/x)``, found from its state by bisection and Newton steps.

    Well before x1 this is the familiar ``1/x = a - b ln t``.
    """
    start, shape = np.asarray(start_nm, dtype=float), np.asarray(shape, dtype=float)
    target = _inverse_log_state(start, shape) + exposure
    low = np.broadcast_to(start, target.shape).copy()
    high = low + shape + exposure
    while np.any(short := _inverse_log_state(high, shape) < target):
        high = np.where(short, 2.0 * high, high)
    low, high = bisect(
        lambda x: _inverse_log_state(x, shape) < target, low, high, halvings=_BISECTIONS
    )
    thickness = high
    for _ in range(_NEWTON_STEPS):
        slope = np.exp(-shape / np.maximum(thickness, 1e-300))
        gap = target - _inverse_log_state(thickness, shape)
        step = np.divide(gap, slope, out=np.zeros_like(gap), where=slope > 0.0)
        thickness = np.clip(thickness + step, low, high)
    return np.asarray(thickness)


def inverse_logarithmic_exposure(
    start_nm: FloatArray, end_nm: FloatArray, shape: FloatArray
) -> FloatArray:
    """Exposure between two thicknesses under the inverse logarithmic law."""
    return _inverse_log_state(end_nm, shape) - _inverse_log_state(start_nm, shape)


def inverse_logarithmic_rate(thickness_nm: FloatArray, shape: FloatArray) -> FloatArray:
    """``dx/ds = exp(x1/x)``."""
    return np.asarray(np.exp(shape / thickness_nm))


def limiting(start_nm: FloatArray, exposure: FloatArray, shape: FloatArray) -> FloatArray:
    """Thickness that nears a limit: ``dx/ds = 1 - x/x_lim``, and no growth beyond it."""
    gap = np.maximum(shape - start_nm, 0.0)
    return np.asarray(start_nm - gap * np.expm1(-exposure / shape))


def limiting_exposure(start_nm: FloatArray, end_nm: FloatArray, shape: FloatArray) -> FloatArray:
    """Exposure between two thicknesses; infinite at and beyond the limit."""
    left = np.maximum(shape - end_nm, 0.0) / np.maximum(shape - start_nm, 1e-300)
    with np.errstate(divide="ignore"):
        return np.asarray(-shape * np.log(np.minimum(left, 1.0)))


def limiting_rate(thickness_nm: FloatArray, shape: FloatArray) -> FloatArray:
    """``dx/ds = 1 - x/x_lim``, not below 0."""
    return np.asarray(np.maximum(1.0 - thickness_nm / shape, 0.0))


_POWER = (power, power_exposure, power_rate)
_LAWS = (
    Law("linear", "dx/dt = k", "oxide that does not protect; a reaction at its surface",
        "N. B. Pilling and R. E. Bedworth, J. Inst. Met. 29 (1923) 529", "", *_POWER),
    Law("parabolic", "x² = x0² + k t", "diffusion through the oxide sets the pace, some 10 nm on",
        "G. Tammann, Z. anorg. Chem. 111 (1920) 78; C. Wagner, Z. phys. Chem. B 21 (1933) 25",
        "", *_POWER),
    Law("cubic", "x³ = x0³ + k t", "thin to medium films on titanium, zirconium and copper",
        "P. Kofstad, High-Temperature Oxidation of Metals (1966); N. Cabrera and N. F. Mott, "
        "Rep. Prog. Phys. 12 (1949) 163", "", *_POWER),
    Law("power", "x^m = x0^m + k t", "within the data it was fitted to, between two true laws",
        "an empirical form; P. Kofstad, High-Temperature Oxidation of Metals (1966)",
        "exponent m", *_POWER),
    Law("linear-parabolic", "x² + A x = x0² + A x0 + B t", "silicon, 700 to 1300 °C, 30 nm to 2 µm",
        "B. E. Deal and A. S. Grove, J. Appl. Phys. 36 (1965) 3770, doi:10.1063/1.1713945",
        "A [nm]", linear_parabolic, linear_parabolic_exposure, linear_parabolic_rate),
    Law("logarithmic", "dx/dt = k exp(-x/L)", "films of a few nanometres at low temperature",
        "G. Tammann and W. Köster, Z. anorg. Chem. 123 (1922) 196", "length L [nm]",
        logarithmic, logarithmic_exposure, logarithmic_rate),
    Law("inverse logarithmic", "dx/dt = u exp(x1/x)", "films far thinner than x1, a field drives "
        "the ions", "N. Cabrera and N. F. Mott, Rep. Prog. Phys. 12 (1949) 163, "
        "doi:10.1088/0034-4885/12/1/308", "length x1 [nm]",
        inverse_logarithmic, inverse_logarithmic_exposure, inverse_logarithmic_rate),
    Law("limiting film", "dx/dt = k (1 - x/x_lim)", "amorphous films that stop, as on aluminium "
        "below 300 °C", "L. P. H. Jeurgens et al., J. Appl. Phys. 92 (2002) 1649, "
        "doi:10.1063/1.1491591", "limit [nm]", limiting, limiting_exposure, limiting_rate),
)  # fmt: skip

LAWS: dict[str, Law] = {law.name: law for law in _LAWS}
"""Every law by its name."""

FIXED_EXPONENTS = {"linear": 1.0, "parabolic": 2.0, "cubic": 3.0}
"""The exponent of those power laws whose name says it."""
