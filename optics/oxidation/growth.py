"""Growth of an oxide through any heat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from .._typing import FloatArray
from .handover import Race, split_heat
from .regime import Regime
from .schedule import HeatSchedule

_STEP_C = 4.0  # pieces of a ramp where the law's shape changes with temperature
_MOST_STEPS = 400
_HEATS_AT_ONCE = 500


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
    heat is exact, and of several laws (`Race`) a sum until one hands over to another. Else
    steps with the coefficients of their middle are taken, each exact at its temperature; three step
    sizes remove the error to the fourth order.
    """
    return _growth_through(regimes, theta, heat, ln_pace=ln_pace)(start_nm)


def grow_again(
    regimes: Sequence[Regime],
    theta: FloatArray,
    heat: HeatSchedule,
    *,
    times: int,
    start_nm: FloatArray,
    ln_pace: FloatArray | float = 0.0,
) -> FloatArray:
    """Thickness after each of so many equal heats, one after the other [nm], shape (times, N).

    The rest as of `grow`.
    """
    through = _growth_through(regimes, theta, heat, ln_pace=ln_pace)
    films, film = [], start_nm
    for _ in range(times):
        film = through(film)
        films.append(film)
    return np.array(films)


def grow_each(
    regimes: Sequence[Regime],
    theta: FloatArray,
    heats: Sequence[HeatSchedule],
    *,
    start_nm: FloatArray,
    ln_pace: FloatArray | float = 0.0,
) -> FloatArray:
    """Thickness after each of several heats that start from the same films [nm], shape (heats, N).

    The rest as of `grow`. Steady heats are worked out together.
    """
    found = np.empty((len(heats), len(theta)))
    steady = np.array([one.is_steady for one in heats], dtype=bool)
    for place in np.flatnonzero(~steady).tolist():
        found[place] = grow(regimes, theta, heats[place], start_nm=start_nm, ln_pace=ln_pace)
    places = np.flatnonzero(steady)
    pace = _paces(theta, ln_pace)
    for first in range(0, places.size, _HEATS_AT_ONCE):
        some = places[first : first + _HEATS_AT_ONCE]
        alike = [heats[place] for place in some.tolist()]
        temperature_C = np.array([one.peak_C for one in alike])
        time_s = np.array([one.duration_s for one in alike])[:, None] * pace
        found[some] = _hold_each(regimes, theta, temperature_C, time_s, start_nm)
    return found


def _hold_each(
    regimes: Sequence[Regime],
    theta: FloatArray,
    temperature_C: FloatArray,
    time_s: FloatArray,
    start_nm: FloatArray,
) -> FloatArray:
    """Films (H, N) after times (H, N) [s] at temperatures (H,)."""
    if len(regimes) > 1:
        every = np.broadcast_to(start_nm, time_s.shape).ravel()
        race = Race.over_steady(regimes, theta, temperature_C)
        return race.run(every, pace=time_s.ravel()).reshape(time_s.shape)
    (regime,) = regimes
    rate, shape = regime.coefficients(theta, temperature_C)
    return np.asarray(regime.law.after(start_nm, rate.T * time_s, shape.T))


def _growth_through(
    regimes: Sequence[Regime],
    theta: FloatArray,
    heat: HeatSchedule,
    *,
    ln_pace: FloatArray | float,
) -> Callable[[FloatArray], FloatArray]:
    """What a heat makes of films (N,)."""
    pace = _paces(theta, ln_pace)
    if len(regimes) > 1:
        return partial(Race.over(regimes, theta, heat).run, pace=pace)
    (regime,) = regimes
    if regime.law.name == "linear-parabolic":
        return partial(_grow_in_pieces, regime, theta, heat, pace=pace)
    temperature_C, weight_s = heat.nodes
    rate, shape = regime.coefficients(theta, temperature_C)
    exposure = pace * (rate @ weight_s)
    return lambda film: regime.law.after(film, exposure, shape[..., 0])


def _paces(theta: FloatArray, ln_pace: FloatArray | float) -> FloatArray:
    """How many times as fast as the law each piece (N,) oxidises."""
    return np.asarray(np.exp(np.broadcast_to(np.asarray(ln_pace, dtype=float), theta.shape[:1])))


def _grow_in_pieces(
    regime: Regime, theta: FloatArray, heat: HeatSchedule, film: FloatArray, *, pace: FloatArray
) -> FloatArray:
    for (a, b), dt in split_heat(heat):
        count = min(_MOST_STEPS, max(1, int(np.ceil(abs(b - a) / _STEP_C))))
        ends = []
        for steps in (count, 2 * count, 4 * count) if a != b else (1,):  # a hold is exact at once
            rate, shape = regime.coefficients(theta, a + (b - a) * _middles(steps))
            end = film
            for i in range(steps):
                end = regime.law.after(end, rate[..., i] * dt / steps * pace, shape[..., i])
            ends.append(end)
        film = ends[0] if a == b else np.maximum(_extrapolate(*ends), film)
    return np.asarray(film)


def _middles(steps: int) -> FloatArray:
    return np.asarray((np.arange(steps) + 0.5) / steps)


def _extrapolate(coarse: FloatArray, middle: FloatArray, fine: FloatArray) -> FloatArray:
    """What steps of a half and a quarter tell of ever finer ones.

    A step is the same forwards and backwards, so its error is in even powers of its length.
    """
    once, twice = (4.0 * middle - coarse) / 3.0, (4.0 * fine - middle) / 3.0
    return np.asarray((16.0 * twice - once) / 15.0)
