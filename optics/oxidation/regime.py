"""One law with its numbers over a range of temperature, and growth through any heat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from ..numerics.interpolate import bisect
from .laws import FIXED_EXPONENTS, GAS_CONSTANT_J_MOL_K, ZERO_CELSIUS_K, Law, power
from .schedule import HeatSchedule

ONE_RATE = ("ln_thickness_nm", "energy_kJ_mol", "curvature", "ln_shape")
"""Parameters of most laws: logarithm of the thickness grown on bare metal at the reference
temperature in the reference time, activation energy of the rate there, its change as a square in
1000/T, and the logarithm of the law's second number."""
TWO_RATES = ("ln_B", "energy_B_kJ_mol", "ln_B_over_A", "energy_B_over_A_kJ_mol")
"""Parameters of the linear-parabolic law: B [nm²/s] and B/A [nm/s] at the reference temperature."""

_STEP_C = 4.0  # pieces of a ramp where the law's shape changes with temperature
_MOST_STEPS = 400
_SHARED_STEPS = 16  # where one law hands over to another on the way
_HALVINGS = 60  # of the films between which it does
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


Acting = tuple[Regime, FloatArray, tuple[float, float]]
"""A regime, its parameters (..., 4), and the temperatures from which to which it acts [°C]."""


def grow(
    regimes: Sequence[Regime],
    theta: FloatArray,
    heat: HeatSchedule,
    *,
    start_nm: FloatArray,
    ln_pace: FloatArray | float = 0.0,
) -> FloatArray:
    """Thickness (N,) after a heat [nm].

    Parameters
    ----------
    regimes : sequence of Regime
        One, or several by rising temperature; the outer ones reach on.
    theta : ndarray, shape (N, 4 R)
        Parameters of all regimes, one set in each row.
    heat : HeatSchedule
    start_nm : ndarray, shape (N,)
        Film at the start [nm].
    ln_pace : float or ndarray, shape (N,)
        Logarithm of how much faster than the law this piece oxidises: it multiplies all times.

    Notes
    -----
    Where the law's shape is the same at all temperatures its state adds up, so one sum over the
    heat is exact. Else steps with the coefficients of their middle are taken, each exact at its
    temperature; three step sizes remove the error to the fourth order.

    What a metal does at the top of a cooler regime it also does in a hotter one: the faster of them
    counts, or a film might come out thinner just beyond the border than just below it. Where ranges
    overlap, both act at the temperature there is.
    """
    pace = np.exp(np.broadcast_to(np.asarray(ln_pace, dtype=float), start_nm.shape))
    if len(regimes) == 1 and regimes[0].law.name != "linear-parabolic":
        temperature_C, weight_s = heat.nodes
        rate, shape = regimes[0].coefficients(theta, temperature_C)
        return regimes[0].law.after(start_nm, pace * (rate @ weight_s), shape[..., 0])
    film = np.asarray(start_nm, dtype=float)
    borders_C = {one.range_C[0] for one in regimes[1:]} | {one.range_C[1] for one in regimes[:-1]}
    for (a, b), dt in _split_heat(heat, list(borders_C)):
        which = sum(0.5 * (a + b) >= one.range_C[0] for one in regimes[1:])
        cooler = [
            (one, (min(a, one.range_C[1]), min(b, one.range_C[1]))) for one in regimes[:which]
        ]
        acting = [
            (one, theta[..., 4 * i : 4 * i + 4], span_C)
            for i, (one, span_C) in enumerate([*cooler, (regimes[which], (a, b))])
        ]
        share = dt / (heat.time_s[-1] - heat.time_s[0])
        film = _grow_through(acting, film, dt * pace, share=share)
    return film


def _split_heat(
    heat: HeatSchedule, borders_C: list[float]
) -> list[tuple[tuple[float, float], float]]:
    """Straight pieces of a heat, cut where they cross a border between regimes."""
    found = []
    points = zip(heat.time_s.tolist(), heat.temperature_C.tolist(), strict=True)
    for (t0, a), (t1, b) in pairwise(points):
        inside = sorted((c for c in borders_C if min(a, b) < c < max(a, b)), reverse=b < a)
        ends = [a, *inside, b]
        for low, high in pairwise(ends):
            share = 1.0 if a == b else (high - low) / (b - a)
            if t1 > t0:
                found.append(((low, high), (t1 - t0) * share))
    return found


def _grow_through(
    acting: Sequence[Acting], film: FloatArray, time_s: FloatArray, *, share: float
) -> FloatArray:
    """Films after a straight piece of a heat that takes this share of its time."""
    *cooler, (regime, theta, (a, b)) = acting
    count = min(_MOST_STEPS, max(1, int(np.ceil(abs(b - a) / _STEP_C))))
    if not cooler and regime.law.name != "linear-parabolic":
        # The law's state adds up, as in `grow`.
        rates = [
            regime.coefficients(theta, a + (b - a) * _middles(n * count))[0].mean(axis=-1)
            for n in (1, 2, 4)
        ]
        return regime.law.after(film, _extrapolate(*rates) * time_s, regime.shape_of(theta[..., 3]))
    if cooler:  # a law may lead for a while only, and hand over on the way
        pair = _are_two_powers([one.law for one, *_ in acting])
        count = max(count, int(np.ceil(_SHARED_STEPS * (share if pair else 1.0))))
    if a == b:  # each step is exact
        return _grow_in_steps(acting, film, time_s, count)
    ends = [_grow_in_steps(acting, film, time_s, n * count) for n in (1, 2, 4)]
    return np.asarray(np.maximum(_extrapolate(*ends), film))


def _middles(steps: int) -> FloatArray:
    return np.asarray((np.arange(steps) + 0.5) / steps)


def _extrapolate(coarse: FloatArray, middle: FloatArray, fine: FloatArray) -> FloatArray:
    """What steps of a half and a quarter tell of ever finer ones.

    A step is the same forwards and backwards, so its error is in even powers of its length.
    """
    once, twice = (4.0 * middle - coarse) / 3.0, (4.0 * fine - middle) / 3.0
    return np.asarray((16.0 * twice - once) / 15.0)


def _are_two_powers(laws: Sequence[Law]) -> bool:
    return len(laws) == 2 and all(one.after is power for one in laws)


def _grow_in_steps(
    acting: Sequence[Acting], film: FloatArray, time_s: FloatArray, steps: int
) -> FloatArray:
    laws = []
    for regime, theta, (a, b) in acting:
        rate, shape = regime.coefficients(theta, a + (b - a) * _middles(steps))
        laws.append((regime.law, rate, np.broadcast_to(shape, rate.shape)))
    for i in range(steps):
        steady = [_SteadyLaw(law, rate[..., i], shape[..., i]) for law, rate, shape in laws]
        film = _grow_by_fastest(steady, film, time_s / steps)
    return film


@dataclass(frozen=True, eq=False)
class _SteadyLaw:
    """A law at one temperature: rate and shape (N,)."""

    law: Law
    rate: FloatArray
    shape: FloatArray

    def grow(self, film: FloatArray, time_s: FloatArray) -> FloatArray:
        return self.law.after(film, self.rate * time_s, self.shape)

    def time_s(self, film: FloatArray, end: FloatArray) -> FloatArray:
        return self.law.exposure(film, end, self.shape) / self.rate

    def speed(self, film: FloatArray) -> FloatArray:
        return self.rate * self.law.rate(film, self.shape)


def _grow_by_fastest(
    laws: Sequence[_SteadyLaw], film: FloatArray, time_s: FloatArray
) -> FloatArray:
    """Films (N,) after a time (N,) by whichever law is the fastest at each thickness."""
    if len(laws) == 1:
        return laws[0].grow(film, time_s)
    if _are_two_powers([one.law for one in laws]):
        return _grow_by_two_powers(laws[0], laws[1], film=film, time_s=time_s)
    left = np.broadcast_to(time_s, film.shape)
    for _ in laws:
        lead = _find_leader(laws, film)
        end = np.choose(lead, [one.grow(film, left) for one in laws])
        overtaken = _find_leader(laws, end) != lead
        if not overtaken.any():
            return end
        _, high = bisect(
            lambda x, lead=lead: _find_leader(laws, x) == lead, film, end, halvings=_HALVINGS
        )
        spent = np.choose(lead, [one.time_s(film, high) for one in laws])
        left = np.where(overtaken, np.maximum(left - spent, 0.0), 0.0)
        film = np.where(overtaken, high, end)
    return np.asarray(np.maximum.reduce([one.grow(film, left) for one in laws]))


def _grow_by_two_powers(
    one: _SteadyLaw, other: _SteadyLaw, *, film: FloatArray, time_s: FloatArray
) -> FloatArray:
    """The same for two power laws: the one with the greater exponent leads up to a thickness.

    ``k1 x^(1-m1)/m1 = k2 x^(1-m2)/m2`` at ``x = (k1 m2 / (k2 m1))^(1/(m1 - m2))``.
    """
    first = one.shape >= other.shape
    m1, m2 = np.where(first, (one.shape, other.shape), (other.shape, one.shape))
    k1, k2 = np.where(first, (one.rate, other.rate), (other.rate, one.rate))
    with np.errstate(over="ignore", divide="ignore"):
        border = np.exp(np.log(k1 * m2 / (k2 * m1)) / np.maximum(m1 - m2, 1e-12))
        border = np.maximum(border, film)
        spent = np.minimum((border**m1 - film**m1) / k1, time_s)
    end = power(film, k1 * spent, m1)
    return np.where(spent < time_s, power(end, k2 * (time_s - spent), m2), end)


def _find_leader(laws: Sequence[_SteadyLaw], film: FloatArray) -> IndexArray:
    return np.asarray(np.argmax([one.speed(film) for one in laws], axis=0))
