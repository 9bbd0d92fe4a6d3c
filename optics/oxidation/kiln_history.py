"""How a kiln changes from one heat to the next, and how often a piece of it is misread.

Its pace may take a step, an element breaks, a thermocouple slips; it may drift, as both age; and it
may wander, as things are moved about in it. All three are the same thing seen from the bench: the
difference between the temperature that is set and that of the piece. So they are told in kelvins,
and a law turns them into a pace by how steeply its rate rises with temperature.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._typing import FloatArray
from ..numerics.steps import (
    MOST_STEPS,
    drift_paths,
    exposures,
    step_paths,
    step_times,
    walk_modes,
)
from .metals import Metal
from .schedule import HeatSchedule

# Judgements, no source, all of the difference between set and true temperature.
STEP_CHANCE = 0.05  # before any heat
STEP_K = 30.0  # a thermocouple pulled back by a few centimetres, one element of several gone
DRIFT_K = 2.0  # from each heat to the next: an element or a thermocouple that ages
WALK_K, WALK_SPREAD = 2.0, 0.7  # from each heat to the next, to and fro, within a factor e^0.7:
# after fifty of them a kiln is as unlike itself as another one is
MISREAD, MISREAD_DOUBT = 0.02, 1.1  # one piece in fifty, as in a file of test pieces, or three
# times more or fewer
MOST_MODES = 6
"""Of the walk: slow swings are followed, quick ones count as scatter of single heats."""


def pace_per_K(metal: Metal, heats: Sequence[HeatSchedule]) -> float:
    """How much the logarithm of the pace gains for each kelvin, at the middle of some heats."""
    peak_C = float(np.mean([heat.peak_C for heat in heats]))
    own = [i for i, regime in enumerate(metal.regimes) if i == 0 or regime.range_C[0] <= peak_C][-1]
    theta = metal.mean[4 * own : 4 * own + 4]
    rate, _ = metal.regimes[own].coefficients(theta, np.array([peak_C - 0.5, peak_C + 0.5]))
    return float(np.log(rate[1] / rate[0]))


@dataclass(frozen=True, eq=False)
class KilnHistory:
    """What may have happened to one kiln over its heats, as a map from standard normal numbers.

    Attributes
    ----------
    heats : int
        How many heats there were; the next one is counted on top.
    per_K : float
        See :func:`pace_per_K`.
    """

    heats: int
    per_K: float

    @property
    def size(self) -> int:
        """How many numbers it takes: steps, drift, walk, misread pieces."""
        return 2 * MOST_STEPS + 3 + len(self._modes)

    @cached_property
    def _exposure(self) -> FloatArray:
        return exposures([STEP_CHANCE] * self.heats)

    @cached_property
    def _modes(self) -> FloatArray:
        return walk_modes(self.heats + 1, MOST_MODES)

    def steps(self, z: FloatArray) -> FloatArray:
        """What the logarithm of the pace gained by steps, up to each heat and the next, (N, P)."""
        when, size = np.split(z[:, : 2 * MOST_STEPS], 2, axis=1)
        times = step_times(when, self._exposure)
        return step_paths(times, STEP_K * self.per_K * size, self._exposure)

    def drift(self, z: FloatArray) -> FloatArray:
        """What it gains from each heat to the next by ageing, shape (N,)."""
        return np.asarray(DRIFT_K * self.per_K * z[:, 2 * MOST_STEPS])

    def walk(self, z: FloatArray) -> FloatArray:
        """What it gained by wandering, up to each heat and the next, shape (N, P)."""
        first = 2 * MOST_STEPS + 1
        deviation = WALK_K * self.per_K * np.exp(WALK_SPREAD * z[:, first])
        modes = z[:, first + 1 : first + 1 + len(self._modes)]
        return np.asarray(deviation[:, None] * (modes @ self._modes))

    def paths(self, z: FloatArray) -> FloatArray:
        """Logarithm of the pace at each heat and the next, over the first, shape (N, P)."""
        drifted = drift_paths(self.drift(z), self.heats + 1)
        return np.asarray(self.steps(z) + drifted + self.walk(z))

    def misread(self, z: FloatArray) -> FloatArray:
        """Share of pieces that are misread or mixed up, shape (N,)."""
        return np.asarray(
            1.0 / (1.0 + (1.0 / MISREAD - 1.0) * np.exp(-MISREAD_DOUBT * z[:, self.size - 1]))
        )
