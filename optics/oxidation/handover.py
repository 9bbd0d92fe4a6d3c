"""Growth by whichever of several laws is the fastest, and where one hands over to another.

What a metal does at the top of a cooler regime it also does in a hotter one, or a film might come
out thinner just beyond the border than just below it. Where ranges overlap, both act at the
temperature there is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise, permutations

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from .laws import Law, power
from .regime import Regime
from .schedule import HeatSchedule

_ALONE_C, _SHARED_C = 25.0, 10.0  # longest spans where one law acts, and where several do
_LOBATTO = np.array([-1.0, -np.sqrt(3.0 / 7.0), 0.0, np.sqrt(3.0 / 7.0), 1.0])
_WEIGHTS = np.array([0.05, 49.0 / 180.0, 16.0 / 45.0, 49.0 / 180.0, 0.05])
"""Nodes on -1..1 with both ends, and their share of the mean: exact to the seventh order."""
_TURNS = 16  # parts of a piece in which laws may take turns
_SPANS_AT_ONCE = 1000
_THINNEST_NM = 1e-12
_ALL = slice(None)
_MOST_ROUNDS, _CLOSE, _FAR = 60, 1e-6, 50.0  # of the search for a handover, in ln speed

Span = tuple[float, float]


def split_heat(heat: HeatSchedule, borders_C: Sequence[float] = ()) -> list[tuple[Span, float]]:
    """Straight pieces of a heat and their times [s], cut where they cross a border."""
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


@dataclass(frozen=True, eq=False)
class _Runner:
    """One law over the different spans (U) of a heat, in each world (N,).

    ``mean`` is its mean rate (U, N), ``ends`` the logarithm of it at the lower and the upper end
    (U, 2, N); 0 and minus infinity where it does not act.
    """

    law: Law
    shape: FloatArray
    mean: FloatArray
    ends: FloatArray

    @classmethod
    def of(cls, regime: Regime, theta: FloatArray, span_C: FloatArray, acts: BoolArray) -> _Runner:
        """The law over spans (U, 2), where it acts (U,)."""
        mean, ends = [], []
        for first in range(0, max(1, len(span_C)), _SPANS_AT_ONCE):
            low, high = span_C[first : first + _SPANS_AT_ONCE].T
            at = 0.5 * (low + high)[:, None] + 0.5 * (high - low)[:, None] * _LOBATTO
            rate = regime.coefficients(theta, at.ravel())[0].reshape(len(theta), *at.shape)
            mean.append((rate @ _WEIGHTS).T)
            ends.append(np.moveaxis(rate[..., [0, -1]], 0, -1))
        with np.errstate(divide="ignore"):
            ln_ends = np.log(np.where(acts[:, None, None], np.concatenate(ends), 0.0))
        mean_rate = np.where(acts[:, None], np.concatenate(mean), 0.0)
        return cls(regime.law, regime.shape_of(theta[..., 3]), mean_rate, ln_ends)

    def side_by_side(self) -> _Runner:
        """The law with all its spans as one, whose worlds (U N,) follow one another."""
        spans = len(self.mean)
        ends = np.moveaxis(self.ends, 1, 0).reshape(1, 2, -1)
        return _Runner(self.law, np.tile(self.shape, spans), self.mean.reshape(1, -1), ends)

    def leg(self, span: int, rises: bool, rows: IndexArray) -> _Leg:
        """This law over one span in some worlds."""
        ends = self.ends[span][:, rows]
        start, stop = ends if rises else ends[::-1]
        return _Leg(self, rows, start, stop, self.mean[span, rows])

    def after(
        self, ln_film: FloatArray, exposure: FloatArray, rows: IndexArray | slice
    ) -> FloatArray:
        """Logarithm of the thickness after an exposure, in some worlds."""
        shape = self.shape[rows]
        if self.law.after is power:
            return np.asarray(np.log(np.exp(shape * ln_film) + exposure) / shape)
        return np.asarray(np.log(self.law.after(np.exp(ln_film), exposure, shape)))

    def ln_speed(self, ln_film: FloatArray, rows: IndexArray | slice) -> FloatArray:
        """Logarithm of ``dx/ds``."""
        if self.law.after is power:  # x^(1-m) / m
            return np.asarray(self.less[rows] * ln_film - self.ln_shape[rows])
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(self.law.rate(np.exp(ln_film), self.shape[rows])))

    @cached_property
    def less(self) -> FloatArray:
        """One less the shape."""
        return np.asarray(1.0 - self.shape)

    @cached_property
    def ln_shape(self) -> FloatArray:
        """Its logarithm."""
        return np.asarray(np.log(self.shape))


@dataclass(frozen=True, eq=False)
class _Stretch:
    """Spans in which one law acts, by their place (P,) and time (P,), or one span of several."""

    spans: IndexArray
    time_s: FloatArray
    rises: bool
    shared: bool


@dataclass(frozen=True, eq=False)
class Race:
    """Several laws over a heat."""

    runners: tuple[_Runner, ...]
    steps: tuple[_Stretch, ...]

    @classmethod
    def over(cls, regimes: Sequence[Regime], theta: FloatArray, heat: HeatSchedule) -> Race:
        """The race of regimes by rising temperature, with parameters (N, 4 R)."""
        borders_C = {one.range_C[0] for one in regimes[1:]} | {x.range_C[1] for x in regimes[:-1]}
        joins_C = _joins_C(regimes)
        pieces = split_heat(heat, list(borders_C))
        start_C, end_C, time_s = _cut_pieces(pieces, joins_C, least=_least_turns(regimes))
        sorted_C = np.sort(np.column_stack([start_C, end_C]), axis=1)
        span_C, place = np.unique(sorted_C, axis=0, return_inverse=True)
        acting = span_C.mean(axis=1) >= joins_C[:, None]
        shared = acting.sum(axis=0)[place.ravel()] > 1
        steps = _join_alone(place.ravel(), time_s, end_C >= start_C, shared)
        return cls(_runners(regimes, theta, span_C, acting), tuple(steps))

    @classmethod
    def over_steady(
        cls, regimes: Sequence[Regime], theta: FloatArray, temperature_C: FloatArray
    ) -> Race:
        """The race at each of several steady temperatures (H,), for a time of 1 s.

        Its worlds (H N,) are those of the first temperature, then of the second, and so on.
        """
        span_C = np.column_stack([temperature_C, temperature_C])
        acting = temperature_C >= _joins_C(regimes)[:, None]
        runners = [one.side_by_side() for one in _runners(regimes, theta, span_C, acting)]
        turns = _least_turns(regimes)
        turn = _Stretch(np.zeros(1, dtype=np.intp), np.array([1.0 / turns]), True, shared=True)
        return cls(tuple(runners), (turn,) * turns)

    def run(self, start_nm: FloatArray, pace: FloatArray) -> FloatArray:
        """Thickness (N,) at the end [nm]; ``pace`` (N,) multiplies all times."""
        film = np.log(np.maximum(start_nm, _THINNEST_NM))
        for step in self.steps:
            if step.shared:
                film = self._step_shared(step, film, pace)
            else:
                first = self.runners[0]
                film = first.after(film, step.time_s @ first.mean[step.spans] * pace, _ALL)
        return np.asarray(np.exp(film))

    def _step_shared(self, step: _Stretch, film: FloatArray, pace: FloatArray) -> FloatArray:
        """Logarithm of the films after a span in which several laws act.

        Each film grows by the law that leads at its start; where another one leads at its end, that
        one took over on the way.
        """
        (k,), (dt,) = step.spans, step.time_s
        start, stop = (0, 1) if step.rises else (1, 0)
        lead = np.argmax([x.ends[k, start] + x.ln_speed(film, _ALL) for x in self.runners], axis=0)
        if lead.min() == lead.max():
            one = self.runners[lead[0]]
            end = one.after(film, one.mean[k] * dt * pace, _ALL)
        else:
            grown = [one.after(film, one.mean[k] * dt * pace, _ALL) for one in self.runners]
            end = np.choose(lead, grown)
        won = np.argmax([x.ends[k, stop] + x.ln_speed(end, _ALL) for x in self.runners], axis=0)
        for i, j in permutations(range(len(self.runners)), 2) if np.any(won != lead) else ():
            rows = np.flatnonzero((lead == i) & (won == j))
            if rows.size:
                pair = _Pair(*(self.runners[n].leg(k, step.rises, rows) for n in (i, j)))
                end[rows] = pair.after(film[rows], dt * pace[rows])
        return np.asarray(end)


@dataclass(frozen=True, eq=False)
class _Leg:
    """A law over one span in some worlds (M,): logarithm of its rate at both ends, and the mean."""

    runner: _Runner
    rows: IndexArray
    start: FloatArray
    stop: FloatArray
    mean: FloatArray

    def ln_rate(self, share: FloatArray) -> FloatArray:
        """After a share of the span's time."""
        return self.start + share * (self.stop - self.start)

    def passed(self, share: FloatArray) -> FloatArray:
        """The share of its exposure by then: of a rate that changes evenly."""
        change = np.tanh(0.5 * (self.stop - self.start))  # over the sum of both rates
        return np.asarray(share + change * share * (share - 1.0))


@dataclass(frozen=True, eq=False)
class _Pair:
    """A law that leads at the start of a span, and the one that leads at its end."""

    first: _Leg
    second: _Leg

    def after(self, film: FloatArray, time_s: FloatArray) -> FloatArray:
        """Logarithm of the films (M,) after the span's times."""
        share = find_root(lambda share: self._lead(film, time_s, share), film.shape)
        between = self._before(film, time_s, share)
        left = self.second.mean * time_s * (1.0 - self.second.passed(share))
        return self.second.runner.after(between, left, self.second.rows)

    def _before(self, film: FloatArray, time_s: FloatArray, share: FloatArray) -> FloatArray:
        """The films after a share of the span by its first law."""
        spent = self.first.mean * time_s * self.first.passed(share)
        return self.first.runner.after(film, spent, self.first.rows)

    def _lead(self, film: FloatArray, time_s: FloatArray, share: FloatArray) -> FloatArray:
        """How much faster the first law still is by then, as a logarithm."""
        now = self._before(film, time_s, share)
        first, second = (
            one.ln_rate(share) + one.runner.ln_speed(now, one.rows)
            for one in (self.first, self.second)
        )
        return np.asarray(np.clip(first - second, -_FAR, _FAR))


def find_root(function: Callable[[FloatArray], FloatArray], shape: tuple[int, ...]) -> FloatArray:
    """Where a function of places (...) on 0..1 that falls from positive to negative is zero.

    By false position; the value at an end that stays is halved (the Illinois rule), so that both
    ends close in.
    """
    low, high = np.zeros(shape), np.ones(shape)
    at_low, at_high = np.maximum(function(low), 0.0), np.minimum(function(high), 0.0)
    kept = np.zeros(shape)  # 1 where the lower end has just moved, -1 where the upper has
    for _ in range(_MOST_ROUNDS):
        fall = np.maximum(at_low - at_high, 1e-300)
        place = low + (high - low) * at_low / fall
        value = function(place)
        if np.abs(value).max() < _CLOSE:
            break
        up = value > 0.0
        at_high = np.where(up, np.where(kept > 0.0, 0.5 * at_high, at_high), value)
        at_low = np.where(up, value, np.where(kept < 0.0, 0.5 * at_low, at_low))
        low, high = np.where(up, place, low), np.where(up, high, place)
        kept = np.where(up, 1.0, -1.0)
    return np.asarray(place)


def _joins_C(regimes: Sequence[Regime]) -> FloatArray:
    """From where each law acts [°C]."""
    return np.array([-np.inf, *(one.range_C[0] for one in regimes[1:])])


def _least_turns(regimes: Sequence[Regime]) -> int:
    """Into how many parts a piece in which several laws act is cut at least.

    Of two power laws the one with the smaller exponent wins once; others may win in turns.
    """
    return 1 if all(one.law.after is power for one in regimes) else _TURNS


def _runners(
    regimes: Sequence[Regime], theta: FloatArray, span_C: FloatArray, acting: BoolArray
) -> tuple[_Runner, ...]:
    """Each law over spans (U, 2), where it acts (R, U)."""
    found = []
    for i, (regime, acts) in enumerate(zip(regimes, acting, strict=True)):
        top_C = np.inf if i == len(regimes) - 1 else regime.range_C[1]
        own = theta[..., 4 * i : 4 * i + 4]
        found.append(_Runner.of(regime, own, np.minimum(span_C, top_C), acts))
    return tuple(found)


def _cut_pieces(
    pieces: Sequence[tuple[Span, float]], joins_C: FloatArray, *, least: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Starts [°C], ends [°C] and times [s] of pieces cut short enough.

    ``least`` is into how many at least where several laws act.
    """
    span_C, time_s = np.array([one for one, _ in pieces]), np.array([dt for _, dt in pieces])
    span_C = span_C.reshape(-1, 2)
    alone = np.sum(span_C.mean(axis=1)[:, None] >= joins_C, axis=1) < 2
    longest_C = np.where(alone, _ALONE_C, _SHARED_C)
    rise_C = span_C[:, 1] - span_C[:, 0]
    counts = np.maximum(np.ceil(np.abs(rise_C) / longest_C), np.where(alone, 1, least)).astype(int)
    each = np.repeat(np.arange(len(span_C)), counts)
    nth = np.arange(each.size) - np.repeat(np.cumsum(counts) - counts, counts)
    start_C = span_C[each, 0] + rise_C[each] * nth / counts[each]
    end_C = span_C[each, 0] + rise_C[each] * (nth + 1) / counts[each]
    return start_C, end_C, (time_s / counts)[each]


def _join_alone(
    spans: IndexArray, time_s: FloatArray, rises: BoolArray, shared: BoolArray
) -> Iterator[_Stretch]:
    """A step for each span that laws share, and for each run of those where one acts alone."""
    cuts = np.flatnonzero(shared[1:] | shared[:-1]) + 1
    for first, last in pairwise([0, *cuts.tolist(), spans.size]):
        if last > first:
            yield _Stretch(
                spans[first:last], time_s[first:last], bool(rises[first]), bool(shared[first])
            )
