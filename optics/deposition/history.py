"""Pressures over time: pump-down, puffs of argon, working gas, and the run itself."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError
from ..units import parse_quantity
from .film_pump import solve_film, take_draws
from .gas_balance import MetalFlow, make_film
from .gas_supply import Chance, GasSupply, find_inflow, find_supply, working_shares
from .gases import GASES, mixture_shares, uptake_of
from .jar import Jar

ATMOSPHERE_MBAR = 1013.25
_RUN_POINTS = 16
_EARLIEST_S = 60.0  # before that outgassing is taken as at that time
_LONGEST_PUFF_S = 1800.0
_MOST_STEPS = 400


@dataclass(frozen=True)
class Flush:
    """Puffs of working gas that sweep out what was there.

    Attributes
    ----------
    puffs : int
    high_mbar : float
        Pressure that each puff is let in to [mbar].
    low_mbar : float or None
        Pressure that is pumped to before each [mbar]; by default what the pump holds.
    """

    puffs: int
    high_mbar: float
    low_mbar: float | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.puffs <= 100:
            raise OutOfRangeError(
                f"`flush` has {self.puffs} puffs; it must be 1 to 100", parameter="flush"
            )
        if not 1e-4 <= self.high_mbar <= 1100.0:
            raise OutOfRangeError(
                f"`flush` goes to {self.high_mbar:g} mbar; it must be 0.0001 to 1100 mbar",
                parameter="flush",
            )
        if self.low_mbar is not None and not 0.0 < self.low_mbar < self.high_mbar:
            raise InputError(
                f"`flush` goes from {self.low_mbar:g} to {self.high_mbar:g} mbar; the first must "
                f"be above 0 and below the second",
                parameter="flush",
            )

    def share_left(self, low_mbar: float) -> float:
        """What is left of the gas that was there, ``(p_low / p_high)ⁿ`` [-]; a leak adds to it."""
        return min(low_mbar / self.high_mbar, 1.0) ** self.puffs


def parse_flush(text: str | Flush | None) -> Flush | None:
    """Puffs as they are written: ``"3,5mbar"``, or ``"3,5mbar,1e-2mbar"``.

    How many, the pressure each is let in to, and the pressure that is pumped to before.

    Raises
    ------
    InputError
        If they are written otherwise.
    """
    if text is None or isinstance(text, Flush):
        return text
    parts = [part.strip() for part in text.split(",")] if isinstance(text, str) else []
    if len(parts) not in (2, 3) or not (parts[0].isascii() and parts[0].isdigit()):
        raise InputError(
            f"`flush` must be how many puffs, and to which pressure, such as '3,5mbar', not "
            f"{text!r:.80}",
            parameter="flush",
        )
    pressures = [parse_quantity(part, "pressure_mbar", "`flush`") for part in parts[1:]]
    return Flush(int(parts[0][:4]), *pressures)  # pressure of each puff, then that before it


@dataclass(frozen=True, eq=False)
class History:
    """Pressures in the middle of what is in doubt.

    Attributes
    ----------
    time_s : ndarray, shape (t,)
        From the start of the pump [s]; twice the same where gas is let in.
    partial_mbar : dict of ndarray, shape (t,)
        Pressure of each gas [mbar].
    phases : dict
        When each begins [s]: ``pump``, ``flush``, ``working gas``, ``metal``.
    """

    time_s: FloatArray
    partial_mbar: dict[str, FloatArray]
    phases: dict[str, float]


def follow_pressures(
    jar: Jar,
    flow: MetalFlow | None = None,
    flush: Flush | None = None,
    *,
    working_gas: str | None = None,
    working_pressure_mbar: float | None = None,
    duration_s: float = 600.0,
    pumped_s: float = 1800.0,
) -> History:
    """Pressures from one atmosphere of air to the end of a run.

    Parameters
    ----------
    jar : Jar
        With a pump.
    flow : MetalFlow, optional
        Metal of the run.
    flush : Flush, optional
        Puffs once the pump has run for ``pumped_s``.
    working_gas, working_pressure_mbar, duration_s, pumped_s
        As for :func:`~oxhue.optics.deposition.gas_balance.gas_balance`.

    Raises
    ------
    InputError
        If the pump's speed is not known.

    Notes
    -----
    Without metal, ``V dp/dt = Q - S p`` for each gas, step by step with its closed form and S of
    the pressure at the step's start. With metal the balance settles within seconds, and each time
    of the run is a steady state with the outgassing of that time.
    """
    if jar.pump is None:
        raise InputError("pressures over time need a pumping speed", parameter="pumping")
    working = None
    if working_gas is not None and working_pressure_mbar is not None:
        working = (working_gas, working_pressure_mbar)
    course = _Course(jar, working)
    course.pump_for(pumped_s, "pump")
    if flush is not None:
        low = flush.low_mbar or 1.1 * course.total_mbar
        for _ in range(flush.puffs):
            course.pump_for(_LONGEST_PUFF_S, "flush", down_to_mbar=low)
            course.let_in(flush.high_mbar, working_gas or "Ar", "flush")
        course.pump_for(_LONGEST_PUFF_S, "flush", down_to_mbar=low)
    if working is not None:
        course.let_in(working[1], working[0], "working gas")
    course.deposit(flow, duration_s)
    by_gas = dict(zip(GASES, np.transpose(course.pressures), strict=True))
    return History(np.array(course.times), by_gas, course.phases)


class _Course:
    """Time and pressures as they go on."""

    def __init__(self, jar: Jar, working: tuple[str, float] | None) -> None:
        self.jar, self.working = jar, working
        self.chance = Chance(0, None)  # the middle alone
        self.times = [0.0]
        self.pressures = [ATMOSPHERE_MBAR * mixture_shares("leak")]
        self.phases: dict[str, float] = {}

    @property
    def total_mbar(self) -> float:
        return float(self.pressures[-1].sum())

    def begin(self, phase: str) -> None:
        self.phases.setdefault(phase, self.times[-1])

    def let_in(self, to_mbar: float, gas: str, phase: str) -> None:
        """Gas let in at once, up to a pressure."""
        self.begin(phase)
        rise = max(to_mbar - self.total_mbar, 0.0)
        self.times.append(self.times[-1])
        self.pressures.append(self.pressures[-1] + rise * working_shares(gas))

    def pump_for(self, time_s: float, phase: str, down_to_mbar: float = 0.0) -> None:
        """The pump alone, for a time or down to a pressure."""
        assert self.jar.pump is not None  # checked at the door
        self.begin(phase)
        begun = self.times[-1]
        for _ in range(_MOST_STEPS):
            now, p = self.times[-1], self.pressures[-1]
            left = begun + time_s - now
            if left <= 0.0 or self.total_mbar <= down_to_mbar:
                return
            S = np.maximum(self.jar.pump.speed_at_l_s(self.total_mbar), 1e-12)
            Q = find_inflow(self.jar, max(now, _EARLIEST_S), self.chance)[0]
            step = min(max(0.5 * self.jar.volume_l / float(S.max()), 0.1 * (now - begun)), left)
            # p = Q/S + (p0 - Q/S) exp(-S t / V)
            self.pressures.append(Q / S + (p - Q / S) * np.exp(-S * step / self.jar.volume_l))
            self.times.append(now + step)

    def deposit(self, flow: MetalFlow | None, duration_s: float) -> None:
        """The run: steady states one after the other."""
        self.begin("metal" if flow is not None else "hold")
        begun = self.times[-1]
        at = begun + duration_s * np.linspace(0.0, 1.0, _RUN_POINTS) ** 2
        supplies = [
            find_supply(
                self.jar,
                max(t, _EARLIEST_S),
                self.chance,
                working=self.working,
                warm=flow is not None,
            )
            for t in at
        ]
        stacked = replace(
            supplies[0],
            alone_mbar=np.array([one.alone_mbar[0] for one in supplies]),
            per_speed_s_l=np.array([one.per_speed_s_l[0] for one in supplies]),
        )
        for t, p in zip(at, self._with_film(flow, stacked), strict=True):
            self.times.append(float(t))
            self.pressures.append(p)

    def _with_film(self, flow: MetalFlow | None, supply: GasSupply) -> FloatArray:
        if flow is None:
            return supply.alone_mbar
        rows = [0] * len(supply.alone_mbar)
        one = GasSupply(supply.alone_mbar[:2], supply.per_speed_s_l[:2], None, np.zeros(len(GASES)))
        film = take_draws(
            make_film(self.jar, flow, uptake_of(flow.metal), supply=one, chance=self.chance), rows
        )
        film = replace(film, alone_mbar=supply.alone_mbar, per_speed_s_l=supply.per_speed_s_l)
        partial = solve_film(film).partial_mbar
        if self.working is not None and self.working[0] == "Ar":
            short = np.maximum(self.working[1] - partial.sum(axis=1), 0.0)
            partial = partial + short[:, None] * working_shares("Ar")
        return partial
