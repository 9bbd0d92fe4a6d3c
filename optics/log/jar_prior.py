"""What is in doubt about a jar before its runs, as standard normal numbers.

Most unknowns hold for all runs of a jar. Leak and rate may take a step between two runs: a seal
gives way, a lid is greased, a contact burns.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._typing import FloatArray
from ..deposition.gases import read_data
from ..numerics.steps import MOST_STEPS, exposures, step_paths, step_times
from .run_model import AS_USUAL, BeforeRun

_STEPS = tuple(
    f"{what} step {k + 1} {part}"
    for what in ("leak", "rate") for part in ("when", "size") for k in range(MOST_STEPS)
)  # fmt: skip
PARAMETERS = (
    "rate", "current", "leak", "outgassing", "sticking", "scatter", "misread", "coil", "decay",
    "flush", *_STEPS,
)  # fmt: skip
"""Of every jar; a rate for each further source and a tooling for each further place follow."""
MOST_PLACES = 12
_RATE_DOUBT = {"wire": 0.5, "sputter": 0.5, "boat": 0.3, "point": 0.3, "plane": 0.3}
"""Deviation of the logarithm of the rate: vapour pressure, yields, geometry (judgement)."""
_CURRENT_DOUBT = 0.06  # an emissivity known to 10 or 15 %, contacts (judgement)
_UNKNOWN_WIRE = 0.6  # diameters differ by half either way, and the current goes as d^(3/2)
_COIL_DOUBT = 0.15  # of the logarithm of the share of heat that gets out of a coil (judgement)
_GASSING_DOUBT = 1.0  # walls differ, and differ with what they went through (judgement)
_DECAY_DOUBT = 0.2  # of the power by which outgassing falls with time, near 1 (judgement)
_STICKING_DOUBT = 0.5  # as for titanium in the data of the gas
_TOOLING_DOUBT = 0.15  # of the logarithm, one place against another by the geometry (judgement)
_SCATTER = 0.18  # of the logarithm of the thickness from run to run, within a factor e^0.5
_MISREAD, _MISREAD_DOUBT = 0.05, 1.1  # pieces mixed up, a wrong side, a wrong light: one in twenty,
# or three times more or fewer, as its odds (judgement)
_FLUSHED = {"held": 0.0, "walls": 2.2}  # log odds of what comes back after a flush: one half of the
# gas of a jar that holds a pressure; nine tenths of what walls give off, which argon hardly sweeps
_FLUSH_DOUBT = 1.1  # within a factor of three of these odds (judgement)
_REST_MBAR, _REST_DOUBT = 1e-4, 2.0  # what a gauge shows that no leak makes: the pump's own limit,
# oil, the gauge's zero; 90 % within 4e-6 and 3e-3 mbar (judgement)
STEP_CHANCE = 0.05  # of a step of the leak, and one of the rate, before a run (judgement)
RENEWED_CHANCE = 0.5  # where the setup was recorded again since the run before (judgement)
_RATE_STEP = 0.7  # another source instead: the difference of two is √2 times their own doubt


@dataclass(frozen=True, eq=False)
class JarPrior:
    """Doubts of a jar before any run.

    Attributes
    ----------
    sources : tuple of str
        Kind and metal of each source, as in ``wire Ti``; the first has the column ``rate``.
    wire_known : bool
        Whether the wire's diameter is stated.
    leak_doubt : float
        Of the logarithm of the gas that comes in; see ``run_gas.leak_doubt``.
    places : tuple of str
        Where pieces lay; tooling is against the first.
    step_chances : tuple of float
        Chance that the leak, and that the rate, took a step before each run after the first, and
        before the next.
    gauged : bool
        Whether readings of a gauge tell of the leak.
    """

    sources: tuple[str, ...]
    wire_known: bool
    leak_doubt: float = 0.7
    places: tuple[str, ...] = ()
    step_chances: tuple[float, ...] = ()
    gauged: bool = False

    @property
    def unknowns(self) -> tuple[str, ...]:
        """Names of the columns of the draws."""
        rest = ("rest of the gauge",) if self.gauged else ()
        return (*PARAMETERS, *self.sources[1:], *self.places[1:], *rest)

    def rate(self, z: FloatArray, source: str) -> FloatArray:
        """Logarithm of the factor of the rate of a source, shape (N,)."""
        return _RATE_DOUBT[source.split()[0]] * z[:, self.rate_column(source)]

    def rate_column(self, source: str) -> int:
        """The column of the rate of a source."""
        return 0 if source == self.sources[0] else self.unknowns.index(source)

    def current(self, z: FloatArray) -> FloatArray:
        """Logarithm of the scale of a wire's current, shape (N,)."""
        return (_CURRENT_DOUBT if self.wire_known else _UNKNOWN_WIRE) * z[:, 1]

    def coil(self, z: FloatArray) -> FloatArray:
        """Logarithm of the share of its heat that a coil gives off, over the computed, (N,)."""
        return _COIL_DOUBT * z[:, 7]

    def gas(self, z: FloatArray, before: BeforeRun = AS_USUAL) -> FloatArray:
        """Logarithms of the factors of leak, outgassing and sticking, shape (N, 3).

        Parameters
        ----------
        z : ndarray, shape (N, Z)
        before : BeforeRun
            What was done before the run.
        """
        found = z[:, 2:5] * [self.leak_doubt, _GASSING_DOUBT, _STICKING_DOUBT]
        found[:, 1] -= _DECAY_DOUBT * z[:, 8] * before.ln_pumped  # t^-(a + δ) over t^-a
        if before.flush_left < 1.0:
            odds = _FLUSHED["held" if before.held else "walls"] + _FLUSH_DOUBT * z[:, 9]
            back = 1.0 / (1.0 + np.exp(-odds))
            found[:, 0 if before.held else 1] += np.log(back + (1.0 - back) * before.flush_left)
        return np.asarray(found)

    def at_run(self, z: FloatArray, place: int) -> FloatArray:
        """Draws with leak and rate as the steps before a run left them, shape (N, Z).

        Parameters
        ----------
        z : ndarray, shape (N, Z)
            As at the first run.
        place : int
            Of the run among those that teach, from 0; their number is the next run.
        """
        return self._moved(z, *(self.steps(z, what)[:, place] for what in ("leak", "rate")))

    def each_run(self, z: FloatArray) -> Iterator[FloatArray]:
        """Draws as :meth:`at_run` gives them, for each run in its order."""
        leak, rate = (self.steps(z, what) for what in ("leak", "rate"))
        for place in range(len(self.step_chances)):
            yield self._moved(z, leak[:, place], rate[:, place])

    def _moved(self, z: FloatArray, leak: FloatArray, rate: FloatArray) -> FloatArray:
        moved = z.copy()
        moved[:, 2] += leak / self.leak_doubt
        for source in self.sources:
            moved[:, self.rate_column(source)] += rate / _RATE_DOUBT[source.split()[0]]
        return moved

    def steps(self, z: FloatArray, what: str) -> FloatArray:
        """Logarithm of leak or rate at each run and the next, over the first, shape (N, R + 1)."""
        _, size = self._step_columns(what)
        return step_paths(self.step_times(z, what), step_doubt(what) * z[:, size], self._exposure)

    def step_times(self, z: FloatArray, what: str) -> FloatArray:
        """When leak or rate took its newest steps; see ``numerics.steps``, shape (N, K)."""
        return step_times(z[:, self._step_columns(what)[0]], self._exposure)

    def _step_columns(self, what: str) -> tuple[slice, slice]:
        first = PARAMETERS.index(f"{what} step 1 when")
        return slice(first, first + MOST_STEPS), slice(first + MOST_STEPS, first + 2 * MOST_STEPS)

    @cached_property
    def _exposure(self) -> FloatArray:
        return exposures(self.step_chances)

    def tooling(self, z: FloatArray, place: str) -> FloatArray:
        """Logarithm of what a place gets over what the geometry gives it, shape (N,)."""
        if place not in self.places[1:]:
            return np.zeros(len(z))
        return _TOOLING_DOUBT * z[:, self.unknowns.index(place)]

    def scatter(self, z: FloatArray) -> FloatArray:
        """Scatter of the logarithm of the thickness from run to run, shape (N,)."""
        return np.asarray(_SCATTER * np.exp(0.5 * z[:, 5]))

    def rest_of_gauge(self, z: FloatArray) -> FloatArray:
        """Logarithm of what the gauge shows that no leak makes [mbar], shape (N,)."""
        column = z[:, -1] if self.gauged else np.zeros(len(z))
        return np.asarray(math.log(_REST_MBAR) + _REST_DOUBT * column)

    def misread(self, z: FloatArray) -> FloatArray:
        """Share of pieces that are misread, shape (N,)."""
        return np.asarray(1.0 / (1.0 + (1.0 / _MISREAD - 1.0) * np.exp(-_MISREAD_DOUBT * z[:, 6])))


def step_doubt(what: str) -> float:
    """Deviation of the logarithm of a step: a seal gave way, or another source is in."""
    if what == "rate":
        return _RATE_STEP
    return float(read_data()["stated"]["unmeasured_leak_doubt"])
