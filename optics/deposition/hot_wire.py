"""A wire between two cold posts: heat along it, what it gives, when it burns out, how thick it is.

Thermal expansion, the heat of evaporation and cooling by the gas are left out: at the rates and
pressures of a jar they are under 1 % of what the wire radiates.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError
from ..films.materials.catalogue import find_entry
from ..numerics.integrate import trapezoid
from .gases import STEFAN_BOLTZMANN
from .geometry import Coil
from .vapour import KELVIN, evaporation_g_cm2_s, has_vapour_data, vapour_pressure_mbar
from .wire import check_diameter, hottest_solid_C, wire_current_A, wire_properties, wire_span_K

POST_K = 293.15  # the posts stay cool
_LORENZ = 2.44e-8  # W Ω / K², of a free electron gas; ties heat conduction to resistivity
_CELLS = 60  # of half a wire, the narrowest at the post
_CROWDING = 2.0
_NEWTON_STEPS = 60
_CURVE_POINTS = 48
_COLDEST = 0.1  # of the melting current, where a curve begins
_ZOOMS, _ZOOM_POINTS = 4, 10
_DIAMETER_STEPS = 8


@dataclass(frozen=True)
class Wire:
    """A wire between two posts.

    Attributes
    ----------
    metal : str
    diameter_mm, length_mm : float
        Of the wire, unwound [mm].
    coil : Coil or None

    Raises
    ------
    UnknownNameError, OutOfRangeError, InputError
        If the metal is not known, a number is not possible, or the turns would touch.
    """

    metal: str
    diameter_mm: float
    length_mm: float
    coil: Coil | None = None

    def __post_init__(self) -> None:
        wire_span_K(self.metal)
        check_diameter(self.diameter_mm)
        if not 1.0 <= self.length_mm <= 10_000.0:
            raise OutOfRangeError(
                f"the heated length of a wire is {self.length_mm:g} mm; it must be 1 to 10000 mm",
                parameter="wire_length",
            )
        if self.coil is not None and self.coil.pitch_mm <= self.diameter_mm:
            raise InputError(
                f"turns of {self.diameter_mm:g} mm wire {self.coil.pitch_mm:g} mm apart touch and "
                f"short the coil; the pitch must be larger than the wire",
                parameter="coil",
            )

    @property
    def free_share(self) -> float:
        """Share of what leaves the surface that gets away from the wire [-]."""
        return 1.0 if self.coil is None else coil_free_share(self.coil, self.diameter_mm)

    @property
    def hottest_C(self) -> float:
        """Melting point, or where the data end [°C]."""
        return hottest_solid_C(self.metal)


@dataclass(frozen=True, eq=False)
class WireHeat:
    """A wire carrying currents, from a post to its middle.

    Attributes
    ----------
    current_A : ndarray, shape (...)
    x_mm : ndarray, shape (n,)
        Distance from the post [mm], up to half the wire.
    temperature_C : ndarray, shape (..., n)
    supplied_W, radiated_W, conducted_W : ndarray, shape (...)
        Of the whole wire; the last goes into the posts [W].
    """

    current_A: FloatArray
    x_mm: FloatArray
    temperature_C: FloatArray
    supplied_W: FloatArray
    radiated_W: FloatArray
    conducted_W: FloatArray

    @property
    def hottest_C(self) -> FloatArray:
        """Temperature in the middle [°C], shape (...)."""
        return np.asarray(self.temperature_C[..., -1])


@dataclass(frozen=True, eq=False)
class WireCurve:
    """What a wire does from cold up to the current that melts it.

    Attributes
    ----------
    wire : Wire
    melting_A : float
        Current at which its middle melts, or leaves the data [A].
    current_A, hottest_C, power_W : ndarray, shape (n,)
        Rising.
    vapour_g_s : ndarray, shape (n,), or None
        Metal that leaves the whole wire for good [g/s]; None where no vapour pressure is held.
    """

    wire: Wire
    melting_A: float
    current_A: FloatArray
    hottest_C: FloatArray
    power_W: FloatArray
    vapour_g_s: FloatArray | None

    def current_for_C(self, hottest_C: float) -> float:
        """Current that brings the middle to a temperature [A]; nan outside the curve."""
        return _interpolate(hottest_C, self.hottest_C, self.current_A)

    def current_for_vapour(self, g_s: float) -> float:
        """Current at which so much metal leaves [A]; nan outside the curve."""
        if self.vapour_g_s is None or not g_s > 0.0:
            return math.nan
        return _interpolate(math.log(g_s), np.log(self.vapour_g_s), self.current_A)

    def hottest_at(self, current_A: float) -> float:
        """Temperature in the middle [°C]; nan beyond melting."""
        return _interpolate(current_A, self.current_A, self.hottest_C)

    def power_at(self, current_A: float) -> float:
        """Power into the wire [W]; nan beyond melting."""
        return _interpolate(current_A, self.current_A, self.power_W)

    def vapour_at(self, current_A: float) -> float:
        """Metal that leaves the wire [g/s]; nan beyond melting, or where it is not known."""
        if self.vapour_g_s is None:
            return math.nan
        return math.exp(_interpolate(current_A, self.current_A, np.log(self.vapour_g_s)))

    def thinning_s(self, current_A: float, share: float) -> float:
        """Time until the hottest spot, kept at its heat, has lost a share of its diameter [s].

        ``share d ρ / 2 f G(T)``; the current must fall as ``d^(3/2)`` for that.
        """
        hot_C = np.array(self.hottest_at(current_A))
        if self.vapour_g_s is None or not np.isfinite(hot_C):
            return math.inf
        density = find_entry(self.wire.metal).density_g_cm3 or math.nan
        loss = self.wire.free_share * float(_evaporation(self.wire.metal, hot_C))
        return share * 0.1 * self.wire.diameter_mm * density / (2.0 * loss)

    def life_s(self, current_A: float) -> float:
        """Time until a wire at constant current burns out [s]; 0 beyond melting.

        Notes
        -----
        The hottest spot thins by ``dd/dt = -2 f G(T)/ρ``. A spot of diameter d is as hot as the
        new wire of diameter d0 at the current ``I (d0/d)^(3/2)``, and melts where that reaches
        the melting current. Water vapour, which carries tungsten off, and a charge that alloys
        with the wire end it sooner.
        """
        if self.vapour_g_s is None or not current_A > 0.0:
            return math.inf
        if current_A >= self.melting_A:
            return 0.0
        like_A = np.geomspace(max(current_A, self.current_A[0]), self.melting_A, 65)
        hot_C = np.interp(like_A, self.current_A, self.hottest_C)
        d_cm = 0.1 * self.wire.diameter_mm * (current_A / like_A) ** (2.0 / 3.0)
        entry = find_entry(self.wire.metal)
        loss = self.wire.free_share * _evaporation(self.wire.metal, hot_C)
        slowness = (entry.density_g_cm3 or math.nan) / (2.0 * loss)  # s/cm
        return float(trapezoid(slowness, -d_cm))


def coil_free_share(coil: Coil, wire_mm: float) -> float:
    """Share of what a long coil's surface sends out that misses the coil.

    Notes
    -----
    A row of parallel cylinders at ``X = pitch/d``: each sees its two neighbours with
    ``F = (2/π) [√(X²-1) + asin(1/X) - X]`` (crossed strings). Half of the rest leaves outwards;
    the other half enters the coil and leaves through the gaps opposite, a share
    ``1 - (π d/p) (1 - F)/2`` by reciprocity. The open ends are left out.
    """
    X = coil.pitch_mm / wire_mm
    neighbours = 2.0 / math.pi * (math.sqrt(X * X - 1.0) + math.asin(1.0 / X) - X)
    one_side = 0.5 * (1.0 - neighbours)
    gaps = 1.0 - math.pi / X * one_side
    return one_side * (1.0 + gaps)


def heat_wire(wire: Wire, current_A: FloatArray | float) -> WireHeat:
    """Temperature along a wire at one or several currents.

    Parameters
    ----------
    wire : Wire
    current_A : array_like, shape (...)
        Currents above 0 [A]. Beyond the melting point the data are carried on as they end, which
        only tells that the wire melts.

    Raises
    ------
    OutOfRangeError
        If a current is not above 0, or the balance is not found.

    Notes
    -----
    ``d/dx(k A dT/dx) + I² ρ(T)/A - q(T) π d = 0`` with T held at both posts, by finite volumes
    and Newton's method; ``k = L T/ρ`` (Wiedemann and Franz, L of Sommerfeld). Of a coil, grey and
    of one heat over a few turns, only ``q = f ε σ(T⁴ - T0⁴)/(ε + f (1 - ε))`` gets away: what
    meets another turn and is reflected has another chance.
    """
    I = np.atleast_1d(np.asarray(current_A, dtype=float))  # noqa: E741  as in the formula
    if not np.all((I > 0.0) & (I < 1e5)):
        raise OutOfRangeError("the current of a wire must be above 0 A", parameter="current")
    x_m = 5e-4 * wire.length_mm * np.linspace(0.0, 1.0, _CELLS + 1) ** _CROWDING
    excess = _solve_balance(wire, I.ravel(), x_m).reshape(*I.shape, -1)
    T = POST_K + excess
    source, sink, _, _ = _local(wire, I, T[..., 1:])
    width = _widths(x_m)
    to_post = _conduction(wire, POST_K + 0.5 * excess[..., 1])[0] * excess[..., 1] / x_m[1]
    shape = np.shape(current_A)
    return WireHeat(
        I.reshape(shape),
        1e3 * x_m,
        (T - KELVIN).reshape(*shape, -1),
        (2.0 * (source * width).sum(axis=-1)).reshape(shape),
        (2.0 * (sink * width).sum(axis=-1)).reshape(shape),
        (2.0 * to_post).reshape(shape),
    )


def melting_current_A(wire: Wire) -> float:
    """Current at which the middle of a wire melts, or leaves the data held of it [A]."""
    limit = wire.hottest_C
    low = 0.5 * float(wire_current_A(wire.metal, wire.diameter_mm, limit))
    high = 2.2 * low  # at twice, a long wire stands just at the limit
    while float(heat_wire(wire, high).hottest_C) < limit:
        low, high = high, 2.0 * high
    for _ in range(_ZOOMS):
        tried = np.linspace(low, high, _ZOOM_POINTS)
        hot = heat_wire(wire, tried).hottest_C
        above = int(np.searchsorted(hot, limit).clip(1, _ZOOM_POINTS - 1))
        low, high = float(tried[above - 1]), float(tried[above])
    return 0.5 * (low + high)


@cache
def wire_curve(wire: Wire) -> WireCurve:
    """Heat, power and vapour of a wire against current, up to melting."""
    melting = melting_current_A(wire)
    currents = melting * np.linspace(_COLDEST, 1.0, _CURVE_POINTS)
    heat = heat_wire(wire, currents)
    vapour = None
    if has_vapour_data(wire.metal):
        lost = _evaporation(wire.metal, heat.temperature_C[..., 1:])
        around_cm = 0.1 * math.pi * wire.diameter_mm * wire.free_share
        vapour = 2.0 * around_cm * (lost * 100.0 * _widths(1e-3 * heat.x_mm)).sum(axis=-1)
    return WireCurve(wire, melting, currents, heat.hottest_C, heat.supplied_W, vapour)


def diameter_from_melting(wire: Wire, melted_A: float) -> Wire:
    """The wire with the diameter [mm] at which a current just melts it.

    Parameters
    ----------
    wire : Wire
        Of any diameter; its metal, length and coil count.

    Raises
    ------
    OutOfRangeError, InputError
        If no such wire is between 0.005 and 20 mm, or it would fill its coil.

    Notes
    -----
    A long wire melts at a current that goes as ``d^(3/2)``; with cold ends this is iterated.
    """
    if not 1e-3 <= melted_A <= 1e5:
        raise OutOfRangeError(
            f"a wire melted at {melted_A:g} A; it must be 0.001 to 100000 A", parameter="melted_at"
        )
    straight_A = float(wire_current_A(wire.metal, 1.0, wire.hottest_C))
    start_mm = (melted_A / straight_A) ** (2.0 / 3.0)
    if wire.coil is not None:
        start_mm = min(start_mm, 0.9 * wire.coil.pitch_mm)
    wire = replace(wire, diameter_mm=start_mm)
    for _ in range(_DIAMETER_STEPS):
        ratio = melted_A / melting_current_A(wire)
        wire = replace(wire, diameter_mm=wire.diameter_mm * ratio ** (2.0 / 3.0))
        if abs(ratio - 1.0) < 1e-4:
            break
    return wire


def diameter_from_resistance_mm(metal: str, length_mm: float, cold_ohm: float) -> float:
    """Diameter [mm] of a wire from its resistance at room temperature, ``√(4 ρ L / π R)``."""
    if not 0.0 < cold_ohm < 1e6:
        raise OutOfRangeError(
            f"the cold resistance is {cold_ohm:g} ohm; it must be above 0", parameter="cold_ohms"
        )
    start_K = wire_span_K(metal)[0]
    first, second = wire_properties(metal, np.array([start_K, start_K + 1.0]))[0].tolist()
    resistivity = first + (second - first) * (POST_K - start_K)  # the data begin at 300 K
    return 1e3 * math.sqrt(4.0 * resistivity * 1e-3 * length_mm / (math.pi * cold_ohm))


def _solve_balance(wire: Wire, I: FloatArray, x_m: FloatArray) -> FloatArray:  # noqa: E741
    """Temperatures above the post's [K], shape (currents, nodes), from post to middle."""
    limit_K = wire.hottest_C + KELVIN
    long_A = wire_current_A(wire.metal, wire.diameter_mm, limit_K - KELVIN)
    top_K = limit_K * np.minimum(I / long_A, 1.2) ** 0.6  # near enough to start from
    excess = np.maximum(top_K - POST_K, 1.0)[:, None] * np.ones(x_m.size)
    excess[:, 0] = 0.0
    for _ in range(_NEWTON_STEPS):
        residual, slope_left, slope_own, slope_right = _imbalance(wire, I, excess, x_m)
        step = _solve_three_diagonals(slope_left, slope_own, slope_right, -residual)
        # a step never more than a quarter: the fourth power is tame on that scale
        share = np.minimum(1.0, 0.25 / np.max(np.abs(step) / (POST_K + excess[:, 1:]), axis=1))
        excess[:, 1:] += share[:, None] * step
        if np.all(np.abs(step) < 1e-11 * excess[:, -1:]):
            return excess
    raise OutOfRangeError("the heat balance of the wire was not found")


def _solve_three_diagonals(
    left: FloatArray, own: FloatArray, right: FloatArray, known: FloatArray
) -> FloatArray:
    """Each row's unknowns, tied to their neighbours alone, all of shape (currents, n): Thomas."""
    own, known = own.T.copy(), known.T.copy()
    n = len(own)
    for i in range(1, n):
        share = left[:, i] / own[i - 1]
        own[i] -= share * right[:, i - 1]
        known[i] -= share * known[i - 1]
    found = np.empty_like(known)
    found[-1] = known[-1] / own[-1]
    for i in range(n - 2, -1, -1):
        found[i] = (known[i] - right[:, i] * found[i + 1]) / own[i]
    return found.T


def _imbalance(
    wire: Wire,
    I: FloatArray,  # noqa: E741
    excess: FloatArray,
    x_m: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """What each cell gains [W], and its slopes to the temperatures left, own and right."""
    h, width = np.diff(x_m), _widths(x_m)
    k, dk = _conduction(wire, POST_K + 0.5 * (excess[:, :-1] + excess[:, 1:]))
    fall = np.diff(excess, axis=1) / h
    flow = k * fall  # towards the post, from each cell to the one before
    to_lower, to_upper = 0.5 * dk * fall - k / h, 0.5 * dk * fall + k / h
    source, sink, dsource, dsink = _local(wire, I, POST_K + excess[:, 1:])
    nothing = np.zeros((len(excess), 1))  # beyond the middle all is the same mirrored
    from_right, right_own, right = (
        np.append(one[:, 1:], nothing, axis=1) for one in (flow, to_lower, to_upper)
    )
    gain = from_right - flow + (source - sink) * width
    return gain, -to_lower, right_own - to_upper + (dsource - dsink) * width, right


def _local(
    wire: Wire,
    I: FloatArray,  # noqa: E741
    T: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Heat put in and sent out for each metre [W/m], and both slopes to temperature."""
    d, f = 1e-3 * wire.diameter_mm, wire.free_share
    area = math.pi * d * d / 4.0
    rho, eps, drho, deps = _clamped(wire.metal, T)
    square = (I * I)[..., None] / area
    out = eps * f / (eps + f * (1.0 - eps))
    dout = deps * f * f / (eps + f * (1.0 - eps)) ** 2
    glow = STEFAN_BOLTZMANN * math.pi * d * (T**4 - POST_K**4)
    dglow = STEFAN_BOLTZMANN * math.pi * d * 4.0 * T**3
    return square * rho, out * glow, square * drho, out * dglow + dout * glow


def _conduction(wire: Wire, T: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Conductivity times cross-section [W m/K], and its slope to temperature."""
    area = math.pi * (1e-3 * wire.diameter_mm) ** 2 / 4.0
    rho, _, drho, _ = _clamped(wire.metal, T)
    k = area * _LORENZ * T / rho
    return k, k * (1.0 / T - drho / rho)


def _clamped(metal: str, T: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Resistivity [Ω m], emissivity and their slopes; beyond the data as at their ends."""
    low, high = wire_span_K(metal)
    inside = np.clip(T, low, high)
    rho, eps = wire_properties(metal, inside)
    near = np.clip(inside + 0.5, low, high), np.clip(inside - 0.5, low, high)
    (rho_up, eps_up), (rho_down, eps_down) = (wire_properties(metal, one) for one in near)
    across = np.where((low < T) & (high > T), near[0] - near[1], np.inf)
    return rho, eps, (rho_up - rho_down) / across, (eps_up - eps_down) / across


def _widths(x_m: FloatArray) -> FloatArray:
    """Length of wire that each node but the first stands for, shape (n - 1,)."""
    edges = np.append(0.5 * (x_m[:-1] + x_m[1:]), x_m[-1])
    return np.diff(edges)


def _evaporation(metal: str, temperature_C: FloatArray) -> FloatArray:
    """Mass that leaves the surface [g cm⁻² s⁻¹]; next to none from what is cooler than the data."""
    molar = find_entry(metal).molar_mass_g_mol or math.nan
    warm = np.maximum(temperature_C, 300.0)
    pressure = vapour_pressure_mbar(metal, warm, extrapolate=True)
    return evaporation_g_cm2_s(pressure, warm, molar)


def _interpolate(at: float, x: FloatArray, y: FloatArray) -> float:
    """A straight line between points of a rising curve; nan outside it."""
    return float(np.interp(at, x, y, left=math.nan, right=math.nan))
