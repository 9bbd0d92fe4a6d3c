"""What heat a piece saw: temperature against time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError
from ..units import as_quantity, format_duration
from .laws import ZERO_CELSIUS_K

MOST_PASSES = 100
HOTTEST_C = 3500.0  # above the melting point of every metal
LONGEST_S = 3.2e9  # a century
LEAST_S, MOST_S = 60.0, 86400.0  # of a heat that a recipe may ask for
_COOL_POINTS, _PULSE_POINTS = 121, 161
_PULSE_REACH = 3.0  # half-widths of a passing hot spot on either side
_NODE_SPAN_C, _FEW_SPAN_C = 25.0, 5.0
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
    notes : tuple of str
        What was taken for granted in reading it.

    Raises
    ------
    InputError
        If there are fewer than two points, times fall, or a temperature is impossible.
    """

    time_s: FloatArray
    temperature_C: FloatArray
    words: str
    notes: tuple[str, ...] = ()

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
        if temperature.min() <= -ZERO_CELSIUS_K:
            raise OutOfRangeError(
                f"{temperature.min():g} °C is at or below absolute zero (-273.15 °C); give the "
                f"furnace temperature"
            )
        if self.peak_C > HOTTEST_C:
            raise OutOfRangeError(
                f"{self.peak_C:g} °C is above {HOTTEST_C:g} °C, where metals melt"
            )

    @property
    def peak_C(self) -> float:
        """Highest temperature [°C]."""
        return float(self.temperature_C.max())

    @property
    def duration_s(self) -> float:
        """From the first point to the last [s]."""
        return float(self.time_s[-1] - self.time_s[0])

    @property
    def is_steady(self) -> bool:
        """Whether it is one temperature throughout."""
        return bool((self.temperature_C == self.temperature_C[0]).all())

    def then(self, later: HeatSchedule) -> HeatSchedule:
        """This heat followed by another, with a jump between where they do not meet."""
        time = np.concatenate([self.time_s, self.time_s[-1] + later.time_s - later.time_s[0]])
        temperature = np.concatenate([self.temperature_C, later.temperature_C])
        return HeatSchedule(
            time, temperature, f"{self.words}, then {later.words}", (*self.notes, *later.notes)
        )

    def shift(self, degrees: float) -> HeatSchedule:
        """The same heat so many degrees hotter."""
        return replace(self, temperature_C=self.temperature_C + degrees)

    def with_peak(self, peak_C: float) -> HeatSchedule:
        """The same heat with another peak: what starts cold starts as cold, and rises less or more.

        A heat of one temperature is moved as a whole.
        """
        cold = float(self.temperature_C.min())
        rise = self.peak_C - cold
        if rise == 0.0:
            return self.shift(peak_C - cold)
        share = (peak_C - cold) / rise
        return replace(self, temperature_C=cold + share * (self.temperature_C - cold))

    def hold_longer(self, time_s: float) -> HeatSchedule:
        """The same heat with so much longer at its peak."""
        peak = int(np.argmax(self.temperature_C))
        time = np.insert(self.time_s, peak + 1, self.time_s[peak])
        time[peak + 1 :] += time_s
        temperature = np.insert(self.temperature_C, peak + 1, self.temperature_C[peak])
        words = f"{self.words}, with {format_duration(time_s)} more at its peak"
        return replace(self, time_s=time, temperature_C=temperature, words=words)

    def stretch(self, factor: float) -> HeatSchedule:
        """The same heat with all times multiplied."""
        return replace(self, time_s=self.time_s * factor)

    @cached_property
    def nodes(self) -> tuple[FloatArray, FloatArray]:
        """Temperatures [°C] and times [s] whose sum integrates any rate over the heat.

        Gauss-Legendre nodes in each piece. Beyond 2000 of them, those within a quarter of a degree
        are joined at their mean inverse temperature, which moves no rate by more than 1e-5.
        """
        step = np.diff(self.time_s)
        keep = step > 0.0
        start, end = self.temperature_C[:-1][keep], self.temperature_C[1:][keep]
        flat, span = start == end, np.abs(end - start)
        temperatures, weights = [start[flat]], [step[keep][flat]]
        cut = np.ceil(span / _NODE_SPAN_C) + 0.5 * (span < _FEW_SPAN_C)
        for alike in sorted(set(cut[~flat].tolist())):
            own = ~flat & (cut == alike)
            where, share = _line_nodes(float(span[own].max()))
            a, rise, dt = start[own, None], (end - start)[own, None], step[keep][own, None]
            temperatures.append((a + rise * where).ravel())
            weights.append((dt * share).ravel())
        return _join_nodes(np.concatenate(temperatures), np.concatenate(weights))


def as_schedule(at: str | float | HeatSchedule, time: str | float | None = None) -> HeatSchedule:
    """A heat from what a caller gave: itself, or a temperature and a time as `hold` takes them.

    Raises
    ------
    InputError
        If it is neither, or a unit is missing.
    """
    if not isinstance(at, HeatSchedule):
        if time is None:
            raise InputError("`time` is missing: give one such as '20min'", parameter="time")
        return _hold(at, time, "at")
    if time is not None:
        raise InputError("`time` goes with a temperature, not with a schedule", parameter="time")
    return at


def hold(temperature: str | float, time: str | float) -> HeatSchedule:
    """A steady heat; getting there and cooling are taken as short.

    Parameters
    ----------
    temperature, time : str or float
        Text with a unit (``"450C"``, ``"20min"``), or a number of °C and of seconds.

    Raises
    ------
    InputError
        If one is of another kind, or no furnace can do it.
    """
    return _hold(temperature, time, "temperature")


def _hold(temperature: str | float, time: str | float, name: str) -> HeatSchedule:
    degrees, time_s = _as_degrees(temperature, name), _as_time(time, "time")
    words = f"{degrees:g} °C for {format_duration(time_s)}"
    return HeatSchedule(np.array([0.0, time_s]), np.full(2, degrees), words)


def ramp(from_: str | float, to: str | float, time: str | float) -> HeatSchedule:
    """An even rise or fall of temperature; parameters and errors as in `hold`."""
    from_C, to_C = _as_degrees(from_, "from_"), _as_degrees(to, "to")
    time_s = _as_time(time, "time")
    words = f"from {from_C:g} to {to_C:g} °C in {format_duration(time_s)}"
    return HeatSchedule(np.array([0.0, time_s]), np.array([from_C, to_C]), words)


def cool(from_: str | float, to: str | float, half_time: str | float) -> HeatSchedule:
    """Cooling by Newton's law: the distance from the surroundings halves every half time.

    Followed for ten half times, in straight pieces; parameters and errors as in `hold`.
    """
    from_C, to_C = _as_degrees(from_, "from_"), _as_degrees(to, "to")
    half_s = _as_time(half_time, "half_time")
    halves = np.linspace(0.0, 10.0, _COOL_POINTS)
    temperature_C = to_C + (from_C - to_C) * 0.5**halves
    words = f"cooling from {from_C:g} °C, half of it in {format_duration(half_s)}"
    return HeatSchedule(halves * half_s, temperature_C, words)


def pass_spot(
    peak: str | float, ambient: str | float, passing: str | float, *, passes: int = 1
) -> HeatSchedule:
    """What a point sees as a flame or torch spot moves over it: a bell-shaped rise and fall.

    Parameters
    ----------
    peak, ambient : str or float
        Metal temperature under the middle of the spot, and away from it, as in `hold`.
    passing : str or float
        Time during which the point is above half of the rise: the spot's width over its speed.
    passes : int
        How often the spot passes; between passes the point cools to its surroundings.
    """
    if isinstance(passes, bool) or not isinstance(passes, int) or not 1 <= passes <= MOST_PASSES:
        raise OutOfRangeError(
            f"`passes` must be a whole number from 1 to {MOST_PASSES}, not {passes!r:.40}",
            parameter="passes",
        )
    peak_C, ambient_C = _as_degrees(peak, "peak"), _as_degrees(ambient, "ambient")
    passing_s = _as_time(passing, "passing")
    halves = np.linspace(-_PULSE_REACH, _PULSE_REACH, _PULSE_POINTS)
    temperature_C = ambient_C + (peak_C - ambient_C) * 0.5 ** (halves**2)
    words = f"a hot spot of {peak_C:g} °C passing in {format_duration(passing_s)}"
    if passes > 1:
        words = f"{passes} passes of a hot spot of {peak_C:g} °C, {format_duration(passing_s)} each"
    once_s = 0.5 * passing_s * (halves + _PULSE_REACH)
    time_s = (once_s + np.arange(passes)[:, None] * once_s[-1]).ravel()
    return HeatSchedule(time_s, np.tile(temperature_C, passes), words)


def _as_degrees(temperature: str | float, name: str) -> float:
    return as_quantity(temperature, "temperature_C", name)


def _as_time(time: str | float, name: str) -> float:
    time_s = as_quantity(time, "time_s", name)
    if not 0.0 <= time_s <= LONGEST_S:
        raise OutOfRangeError(
            f"`{name}` must be from 0 to a century, such as 20min, not {time!r:.40}",
            parameter=name,
        )
    return time_s


def _line_nodes(span_C: float) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights on 0..1 for a straight piece over so many degrees."""
    pieces = max(1, int(np.ceil(span_C / _NODE_SPAN_C)))
    x, w = _gauss_nodes(4 if span_C < _FEW_SPAN_C else 10)
    start = np.arange(pieces)[:, None]
    return ((start + (x + 1.0) / 2.0) / pieces).ravel(), np.tile(w / (2.0 * pieces), pieces)


@cache
def _gauss_nodes(count: int) -> tuple[FloatArray, FloatArray]:
    x, w = np.polynomial.legendre.leggauss(count)
    return x, w


def _join_nodes(temperature_C: FloatArray, weight_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    if temperature_C.size <= _MOST_NODES:
        return temperature_C, weight_s
    _, place = np.unique(np.floor(temperature_C / _BIN_C), return_inverse=True)
    weight: FloatArray = np.bincount(place, weights=weight_s).astype(float)
    inverse = np.bincount(place, weights=weight_s / (temperature_C + ZERO_CELSIUS_K)) / weight
    return 1.0 / inverse - ZERO_CELSIUS_K, weight
