"""What heat a piece saw: temperature against time, and temperature along a piece."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError
from ..units import parse_quantity
from .laws import ZERO_CELSIUS_K

HOTTEST_C = 3500.0  # above the melting point of every metal
LONGEST_S = 3.2e9  # a century
_COOL_POINTS, _PULSE_POINTS = 121, 161
_PULSE_REACH = 3.0  # half-widths of a passing hot spot on either side
_NODE_SPAN_C = 25.0
_MOST_NODES = 2000
_BIN_C = 0.25


@dataclass(frozen=True, eq=False)
class HeatSchedule:
    """Temperature against time, straight between points.

    Attributes
    ----------
    time_s, temperature_C : ndarray, shape (n,)
        Time never falls; two points at one time are a jump.
    words : str
        The heat as people say it.

    Raises
    ------
    InputError
        If there are fewer than two points, times fall, or a temperature is impossible.
    """

    time_s: FloatArray
    temperature_C: FloatArray
    words: str

    def __post_init__(self) -> None:
        time, temperature = self.time_s, self.temperature_C
        if time.ndim != 1 or time.shape != temperature.shape or time.size < 2:
            raise InputError("a heat needs two or more pairs of time and temperature")
        if not (np.isfinite(time).all() and np.isfinite(temperature).all()):
            raise InputError("every time and temperature of a heat must be a finite number")
        if np.any(np.diff(time) < 0.0) or time[0] < 0.0:
            raise OutOfRangeError("the times of a heat must start at 0 or later and not fall")
        if time[-1] > LONGEST_S:
            raise OutOfRangeError("a heat of more than a century is out of reach")
        for value in (temperature.min(), temperature.max()):
            check_temperature(float(value))

    @property
    def peak_C(self) -> float:
        """Highest temperature [°C]."""
        return float(self.temperature_C.max())

    @property
    def duration_s(self) -> float:
        """From the first point to the last [s]."""
        return float(self.time_s[-1] - self.time_s[0])

    def then(self, later: HeatSchedule) -> HeatSchedule:
        """This heat followed by another, with a jump between where they do not meet."""
        time = np.concatenate([self.time_s, self.time_s[-1] + later.time_s - later.time_s[0]])
        temperature = np.concatenate([self.temperature_C, later.temperature_C])
        return HeatSchedule(time, temperature, f"{self.words}, then {later.words}")

    def shift(self, degrees: float) -> HeatSchedule:
        """The same heat so many degrees hotter."""
        return HeatSchedule(self.time_s, self.temperature_C + degrees, self.words)

    def with_peak(self, peak_C: float) -> HeatSchedule:
        """The same heat with another peak: what starts cold starts as cold, and rises less or more.

        A heat of one temperature is moved as a whole.
        """
        cold = float(self.temperature_C.min())
        rise = self.peak_C - cold
        if rise == 0.0:
            return self.shift(peak_C - cold)
        share = (peak_C - cold) / rise
        return HeatSchedule(self.time_s, cold + share * (self.temperature_C - cold), self.words)

    def stretch(self, factor: float) -> HeatSchedule:
        """The same heat with all times multiplied."""
        return HeatSchedule(self.time_s * factor, self.temperature_C, self.words)

    @cached_property
    def nodes(self) -> tuple[FloatArray, FloatArray]:
        """Temperatures [°C] and times [s] whose sum integrates any rate over the heat.

        Gauss-Legendre nodes in each piece. Beyond 2000 of them, those within a quarter of a degree
        are joined at their mean inverse temperature, which moves no rate by more than 1e-5.
        """
        step = np.diff(self.time_s)
        keep = step > 0.0
        start, end = self.temperature_C[:-1][keep], self.temperature_C[1:][keep]
        temperatures, weights = [], []
        flat = start == end
        temperatures.append(start[flat])
        weights.append(step[keep][flat])
        for a, b, dt in zip(start[~flat], end[~flat], step[keep][~flat], strict=True):
            where, share = _line_nodes(float(abs(b - a)))
            temperatures.append(a + (b - a) * where)
            weights.append(dt * share)
        return _join_nodes(np.concatenate(temperatures), np.concatenate(weights))


def check_temperature(temperature_C: float) -> None:
    """Refuse a temperature no furnace has.

    Raises
    ------
    OutOfRangeError
    """
    if not temperature_C > -ZERO_CELSIUS_K:
        raise OutOfRangeError(
            f"{temperature_C:g} °C is at or below absolute zero (-273.15 °C); give the furnace "
            f"temperature"
        )
    if temperature_C > HOTTEST_C:
        raise OutOfRangeError(f"{temperature_C:g} °C is above {HOTTEST_C:g} °C, where metals melt")


def hold(temperature_C: float, time_s: float) -> HeatSchedule:
    """A steady heat; getting there and cooling are taken as short."""
    _check_duration(time_s)
    words = f"{temperature_C:g} °C for {format_time(time_s)}"
    return HeatSchedule(np.array([0.0, time_s]), np.full(2, float(temperature_C)), words)


def as_schedule(at: str | HeatSchedule, time: str | None = None) -> HeatSchedule:
    """A heat from what a caller gave: itself, or a temperature and a time in words.

    Raises
    ------
    InputError
        If it is neither, or a unit is missing.
    """
    if isinstance(at, HeatSchedule):
        if time is not None:
            raise InputError(
                "`time` goes with a temperature, not with a schedule", parameter="time"
            )
        return at
    if not isinstance(at, str) or not isinstance(time, str):
        raise InputError(
            f"a heat is a HeatSchedule, or a temperature and a time such as '450C', '20min', "
            f"not {at!r:.40}, {time!r:.40}",
            parameter="at" if not isinstance(at, str) else "time",
        )
    return hold(
        parse_quantity(at, "temperature_C", "`at`"), parse_quantity(time, "time_s", "`time`")
    )


def ramp(from_C: float, to_C: float, time_s: float) -> HeatSchedule:
    """An even rise or fall of temperature."""
    _check_duration(time_s)
    words = f"from {from_C:g} to {to_C:g} °C in {format_time(time_s)}"
    return HeatSchedule(np.array([0.0, time_s]), np.array([from_C, to_C], dtype=float), words)


def cool(from_C: float, to_C: float, half_time_s: float) -> HeatSchedule:
    """Cooling by Newton's law: the distance from the surroundings halves every half time.

    Followed for ten half times, in straight pieces.
    """
    _check_duration(half_time_s)
    halves = np.linspace(0.0, 10.0, _COOL_POINTS)
    temperature = to_C + (from_C - to_C) * 0.5**halves
    words = f"cooling from {from_C:g} °C, half of it in {format_time(half_time_s)}"
    return HeatSchedule(halves * half_time_s, temperature, words)


def pass_spot(peak_C: float, ambient_C: float, passing_s: float) -> HeatSchedule:
    """What a point sees as a flame or torch spot moves over it: a bell-shaped rise and fall.

    Parameters
    ----------
    peak_C, ambient_C : float
        Metal temperature under the middle of the spot, and away from it.
    passing_s : float
        Time during which the point is above half of the rise: the spot's width over its speed.
    """
    _check_duration(passing_s)
    halves = np.linspace(-_PULSE_REACH, _PULSE_REACH, _PULSE_POINTS)
    temperature = ambient_C + (peak_C - ambient_C) * 0.5 ** (halves**2)
    words = f"a hot spot of {peak_C:g} °C passing in {format_time(passing_s)}"
    return HeatSchedule(0.5 * passing_s * (halves + _PULSE_REACH), temperature, words)


def plate_temperatures(hot_C: float, cold_C: float, positions: int) -> FloatArray:
    """Temperatures [°C] at even steps along a plate held hot at one end: an even gradient."""
    if positions < 2:
        raise OutOfRangeError("a plate is followed at two positions or more")
    steps: FloatArray = np.linspace(cold_C, hot_C, positions)
    return steps


def spot_peaks(peak_C: float, ambient_C: float, distance: ArrayLike) -> FloatArray:
    """Peak temperatures [°C] beside the path of a spot; distance in half-widths from its middle."""
    rise = 0.5 ** (np.asarray(distance, dtype=float) ** 2)
    temperatures: FloatArray = ambient_C + (peak_C - ambient_C) * rise
    return temperatures


def format_time(time_s: float) -> str:
    """A time as people say it."""
    if time_s < 90.0:
        return f"{time_s:.3g} s"
    return f"{time_s / 60.0:.3g} min" if time_s < 7200.0 else f"{time_s / 3600.0:.3g} h"


def _check_duration(time_s: float) -> None:
    if not 0.0 <= time_s <= LONGEST_S:
        raise OutOfRangeError(
            f"a time of {format_time(time_s)} is not from 0 to a century; give one such as 20min"
        )


def _line_nodes(span_C: float) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights on 0..1 for a straight piece over so many degrees."""
    pieces = max(1, int(np.ceil(span_C / _NODE_SPAN_C)))
    x, w = np.polynomial.legendre.leggauss(4 if span_C < 5.0 else 10)
    start = np.arange(pieces)[:, None]
    return ((start + (x + 1.0) / 2.0) / pieces).ravel(), np.tile(w / (2.0 * pieces), pieces)


def _join_nodes(temperature_C: FloatArray, weight_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    if temperature_C.size <= _MOST_NODES:
        return temperature_C, weight_s
    _, place = np.unique(np.floor(temperature_C / _BIN_C), return_inverse=True)
    weight: FloatArray = np.bincount(place, weights=weight_s).astype(float)
    inverse = np.bincount(place, weights=weight_s / (temperature_C + ZERO_CELSIUS_K)) / weight
    return 1.0 / inverse - ZERO_CELSIUS_K, weight
