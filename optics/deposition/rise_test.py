"""Leak and outgassing from a rise test: valve shut, pressure read from time to time."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError
from ..units import parse_quantity

READING_DOUBT = 0.05
"""Standard deviation of a reading over the reading (common practice, no source)."""
_BENDS = 48  # time constants of the outgassing that are tried


@dataclass(frozen=True)
class RiseTest:
    """Pressures read while the chamber is shut off from its pump.

    Attributes
    ----------
    time_s, pressure_mbar : tuple of float
        Two readings or more, the first at 0 s.

    Raises
    ------
    InputError
        If there are fewer than two, times do not rise, or the pressure does not.
    """

    time_s: tuple[float, ...]
    pressure_mbar: tuple[float, ...]

    def __post_init__(self) -> None:
        t, p = self.time_s, self.pressure_mbar
        if len(t) != len(p) or not 2 <= len(t) <= 200:
            raise InputError("`rise` must have 2 to 200 readings", parameter="rise")
        if any(later <= earlier for earlier, later in itertools.pairwise(t)):
            raise InputError("`rise` must have times that rise", parameter="rise")
        if any(not 0.0 <= one <= 1100.0 for one in p):
            raise OutOfRangeError("`rise` must have pressures of 0 to 1100 mbar", parameter="rise")
        if not p[-1] > p[0]:
            raise InputError(
                f"`rise` must end above where it began; it goes from {p[0]:g} to {p[-1]:g} mbar",
                parameter="rise",
            )


@dataclass(frozen=True)
class GasInflow:
    """What comes into a chamber by itself.

    Attributes
    ----------
    total_mbar_l_s : float
        Leak and outgassing together, as the test ended [mbar l/s].
    leak_mbar_l_s : float
        The part that stays [mbar l/s]; the sum where two readings cannot tell.
    outgassing_mbar_l_s : float
        The part that dies away, when the test began [mbar l/s].
    leak_interval90 : tuple of float
        Where the leak lies with 90 % [mbar l/s].
    separated : bool
        Whether the readings tell one from the other.
    """

    total_mbar_l_s: float
    leak_mbar_l_s: float
    outgassing_mbar_l_s: float
    leak_interval90: tuple[float, float]
    separated: bool


def parse_rise(text: str | RiseTest) -> RiseTest:
    """A rise test as it is written: ``"5e-3mbar,5e-2mbar,60s"``, or more readings.

    Each pressure after the first is followed by the time since the valve was shut, as in
    ``"5e-3mbar,2e-2mbar,30s,3e-2mbar,60s"``.

    Raises
    ------
    InputError
        If it is written otherwise.
    """
    if isinstance(text, RiseTest):
        return text
    parts = [part.strip() for part in text.split(",")] if isinstance(text, str) else []
    if len(parts) < 3 or len(parts) % 2 == 0:
        raise InputError(
            f"`rise` must be a pressure, then pressure and time of each later reading, such as "
            f"'5e-3mbar,5e-2mbar,60s', not {text!r:.80}",
            parameter="rise",
        )
    first, later = parts[0], parts[1:]
    pressures = [parse_quantity(one, "pressure_mbar", "`rise`") for one in (first, *later[::2])]
    times = [0.0, *(parse_quantity(one, "time_s", "`rise`") for one in later[1::2])]
    return RiseTest(tuple(times), tuple(pressures))


def read_inflow(test: RiseTest, volume_l: float) -> GasInflow:
    """Leak and outgassing of a chamber from its rise test.

    Parameters
    ----------
    test : RiseTest
    volume_l : float
        Of the chamber [l].

    Notes
    -----
    With the valve shut ``V dp/dt = Q``: a leak rises in a straight line, outgassing bends over as
    the walls come into balance, ``p = p0 + Q_l t / V + Q_o τ (1 - exp(-t/τ)) / V``. Two readings
    give ``Q_l + Q_o`` alone. With more, both flows are fitted for each of many τ, none below 0,
    and weighed by how well they fit readings that are good to 5 %.
    """
    t, p = np.array(test.time_s), np.array(test.pressure_mbar)
    if t.size == 2:
        total = volume_l * (p[1] - p[0]) / (t[1] - t[0])
        spread = 1.645 * READING_DOUBT * np.hypot(p[1], p[0]) / (p[1] - p[0])
        interval = (0.0, float(total * (1.0 + spread)))
        return GasInflow(float(total), float(total), 0.0, interval, False)
    taus = np.geomspace(0.25 * np.min(np.diff(t)), 1.5 * t[-1], _BENDS)
    fits = [_fit(t, p, tau) for tau in taus]
    misfit = np.array([one[2] for one in fits])
    weight = np.exp(-0.5 * (misfit - misfit.min()))
    weight /= weight.sum()
    leaks, gassing = (volume_l * np.array([one[i] for one in fits]) for i in (0, 1))
    ends = gassing * np.exp(-t[-1] / taus)
    leak, out, end = (float(np.sum(weight * one)) for one in (leaks, gassing, ends))
    deviation = volume_l * READING_DOUBT * np.hypot(p[-1], p[-2]) / (t[-1] - t[-2])
    spread = float(np.sqrt(np.sum(weight * (leaks - leak) ** 2) + deviation**2))
    low, high = max(leak - 1.645 * spread, 0.0), leak + 1.645 * spread
    return GasInflow(leak + end, leak, out, (low, high), True)


def _fit(t: FloatArray, p: FloatArray, tau: float) -> tuple[float, float, float]:
    """Leak and outgassing over the volume [mbar/s] for one time constant, and the misfit χ²."""
    bend = tau * -np.expm1(-t / tau)
    error = READING_DOUBT * np.maximum(p, 1e-3 * p.max())
    best = (0.0, 0.0, np.inf)
    for columns in ((0, 1, 2), (0, 1), (0, 2)):
        design = np.column_stack([np.ones_like(t), t, bend])[:, columns]
        solution = np.linalg.lstsq(design / error[:, None], p / error, rcond=None)[0]
        flows = dict(zip(columns, solution, strict=True))
        leak, out = float(flows.get(1, 0.0)), float(flows.get(2, 0.0))
        if leak < 0.0 or out < 0.0:
            continue
        misfit = float(np.sum(((design @ solution - p) / error) ** 2))
        if misfit < best[2]:
            best = (leak, out, misfit)
    return best
