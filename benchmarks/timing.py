"""Times of several ways of doing one thing, taken in turns, and what their ratios are worth.

The clock is the processor's time of this process and of those it waits for, so that what else
the machine does counts as little as it can.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oxhue.optics._typing import FloatArray

AGREEMENT = 1e-9
"""Two ways must give the same numbers to this before either is timed."""
_MOST_ROUNDS = 60


class DisagreementError(Exception):
    """Two ways of computing one thing differ by more than a comparison of their times allows."""


@dataclass(frozen=True)
class Spread:
    """The middle of repeated measurements, and the ends of their middle four fifths."""

    median: float
    low: float
    high: float

    @classmethod
    def of(cls, values: FloatArray) -> Spread:
        """From single values."""
        low, median, high = np.quantile(values, [0.1, 0.5, 0.9])
        return cls(float(median), float(low), float(high))

    def times(self, factor: float) -> Spread:
        """The same in another unit."""
        return Spread(self.median * factor, self.low * factor, self.high * factor)

    def __str__(self) -> str:
        return f"{_digits(self.median)} ({_digits(self.low)} to {_digits(self.high)})"


def _digits(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 100.0 else f"{value:.3g}"


def interleaved(
    contenders: Mapping[str, Callable[[], Any]],
    budget_s: float,
    least: int = 5,
    on_the_wall: bool = False,
) -> dict[str, FloatArray]:
    """FloatArray of each contender, round after round, so that a busy spell strikes all alike.

    Parameters
    ----------
    contenders : mapping of name to function
        Each is called once before the clock runs.
    budget_s : float
        Rounds go on until it is spent, but there are at least ``least`` and at most 60.
    on_the_wall : bool
        Time by the clock on the wall, which tells what threads bring where processors are free.

    Returns
    -------
    dict of ndarray, shape (rounds,)
    """
    clock = time.perf_counter if on_the_wall else processor_s
    for run in contenders.values():
        run()
    taken: dict[str, list[float]] = {name: [] for name in contenders}
    end = time.perf_counter() + budget_s
    for turn in range(_MOST_ROUNDS):
        if turn >= least and time.perf_counter() > end:
            break
        for name, run in contenders.items():
            begin = clock()
            run()
            taken[name].append(clock() - begin)
    return {name: np.array(seconds) for name, seconds in taken.items()}


def processor_s() -> float:
    """Processor time spent so far [s] by this process and by children that have ended."""
    if sys.platform == "win32":
        return time.process_time()
    import resource

    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def ratio(above: FloatArray, below: FloatArray, scale: float = 1.0) -> Spread:
    """How many times longer one takes than the other, from the ratio within each round.

    ``scale`` is how many times more work the lower one did.
    """
    return Spread.of(scale * above / below)


def agree(what: str, one: NDArray[Any], other: NDArray[Any]) -> str:
    """The largest difference in words.

    Raises
    ------
    DisagreementError
        If it is above ``AGREEMENT``.
    """
    worst = float(np.max(np.abs(np.asarray(one) - np.asarray(other)), initial=0.0))
    if not worst <= AGREEMENT:
        raise DisagreementError(f"{what}: they differ by {worst:.1e}, over {AGREEMENT:g}")
    return f"{what}: within {worst:.0e}"


def exponentials(count: int) -> Callable[[], None]:
    """A bare ``numpy.exp`` of that many complex numbers, in place and in blocks kept in cache."""
    block = 8_192
    rng = np.random.default_rng(0)
    phase = 1j * rng.uniform(0.0, 20.0, block) - rng.uniform(0.0, 1.0, block)
    out = np.empty(block, dtype=complex)

    def run() -> None:
        for start in range(0, count, block):
            size = min(block, count - start)
            np.exp(phase[:size], out=out[:size])

    return run
