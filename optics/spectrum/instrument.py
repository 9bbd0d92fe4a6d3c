"""How far scale and zero of a spectrometer may be off, in order and with stray light."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._typing import FloatArray

# Standard deviations of the scale [relative] of an instrument whose reference is fresh, and of the
# zero [of all light] where the dark was read and subtracted (common practice, no source).
_SCALE, _ZERO = 0.01, 0.002
# Where it was not, a share of the light that is read is not what the piece sends back at this
# wavelength: other wavelengths in a small grating, the room, the optics of the probe. Its root mean
# square, of a normal law folded at zero, for it is never negative (common practice, no source).
_STRAY = 0.03
# What the room, the dark and the probe's own faces add is in the reading of the reference too, so
# that it counts as light of a perfect white, g = 1: (R I + A)/(I + A) = (1 - s) R + s. What a
# grating scatters has met the piece, at other wavelengths: g is anywhere from 0 to 1. Half of all
# instruments are held to see the one, half the other (a judgement).
_ROOM = 0.5
# Half of all instruments are held to be in order, their dark read and subtracted (a judgement).
_IN_ORDER = 0.5
_FOLDED_MEAN = np.sqrt(2.0 / np.pi)
_DARKEST_FEW = 3


@dataclass(frozen=True, eq=False)
class InstrumentState:
    """One of the states an instrument may be in.

    Attributes
    ----------
    probability : float
    share, raised : float
        Means of s and of s g.
    spread : ndarray, shape (2, 2)
        Covariance of scale and zero.
    """

    probability: float
    share: float
    raised: float
    spread: FloatArray

    @property
    def mean(self) -> FloatArray:
        """By what scale and zero are off, (2,)."""
        return np.array([-self.share, self.raised])


@dataclass(frozen=True, eq=False)
class Instrument:
    """How far scale and zero of an instrument may be off.

    Stray light puts a share s of something grey, g, in place of the piece's light R, which makes
    it ``(1 - s) R + s g``; g is 1 for what does not come from the piece, and else from 0 to 1.

    Attributes
    ----------
    states : tuple of InstrumentState
        In order, and with stray light.
    """

    states: tuple[InstrumentState, ...]

    @classmethod
    def of(cls, reading: FloatArray, checked: Collection[str]) -> Instrument:
        """That of a reading (W,); of one in order where ``stray light`` is checked.

        What stray light adds is no more than the darkest of the readings, for no piece returns
        less than nothing.
        """
        order = np.diag([_SCALE**2, _ZERO**2])
        darkest = float(np.mean(np.sort(reading)[:_DARKEST_FEW]))
        # Where g is uniform, E g = 1/2 and E g² = 1/3; E (s g)² = E s² E g².
        grey, square = _ROOM + (1.0 - _ROOM) / 2.0, _ROOM + (1.0 - _ROOM) / 3.0
        rms = 0.0 if "stray light" in checked else float(np.clip(darkest / grey, 0.0, _STRAY))
        if rms == 0.0:
            return cls((InstrumentState(1.0, 0.0, 0.0, order),))
        share = _FOLDED_MEAN * rms
        variance = rms**2 - share**2
        of_zero = rms**2 * square - (grey * share) ** 2
        stray = np.array([[variance, -grey * variance], [-grey * variance, of_zero]])
        return cls((
            InstrumentState(_IN_ORDER, 0.0, 0.0, order),
            InstrumentState(1.0 - _IN_ORDER, share, grey * share, order + stray),
        ))  # fmt: skip

    @cached_property
    def share(self) -> float:
        """Mean of s."""
        return sum(one.probability * one.share for one in self.states)

    @cached_property
    def raised(self) -> float:
        """Mean of s g."""
        return sum(one.probability * one.raised for one in self.states)

    @cached_property
    def spread(self) -> FloatArray:
        """Covariance of scale and zero, whatever the state."""
        whole = np.zeros((2, 2))
        for one, off in zip(self.states, self.offsets, strict=True):
            whole += one.probability * (one.spread + np.outer(off, off))
        return whole

    @property
    def offsets(self) -> list[FloatArray]:
        """By what scale and zero of each state are off from the mean of all, (2,) each."""
        return [one.mean - np.array([-self.share, self.raised]) for one in self.states]

    def clean(self, reading: FloatArray) -> FloatArray:
        """A reading without the stray light that is expected."""
        return np.asarray((reading - self.raised) / (1.0 - self.share))

    def soil(self, curve: FloatArray) -> FloatArray:
        """What :meth:`clean` was made from."""
        return np.asarray(curve * (1.0 - self.share) + self.raised)

    def shifts(self, reading: FloatArray) -> FloatArray:
        """What one standard deviation of each of two independent ways does, shape (W, 2)."""
        return _shifts_of(reading, self.spread)

    def shifts_by_state(self, reading: FloatArray) -> list[Shifts]:
        """The same in each state: its probability, what it is off by (W,), and shifts about it."""
        return [
            Shifts(one.probability, _unit(reading) @ off, _shifts_of(reading, one.spread))
            for one, off in zip(self.states, self.offsets, strict=True)
        ]


@dataclass(frozen=True, eq=False)
class Shifts:
    """What scale and zero do to readings in one state of an instrument.

    Attributes
    ----------
    probability : float
    mean : ndarray, shape (W,)
    about : ndarray, shape (W, 2)
        One standard deviation of each of two independent ways.
    """

    probability: float
    mean: FloatArray
    about: FloatArray

    @classmethod
    def none(cls, count: int) -> Shifts:
        """Of an instrument that is right."""
        return cls(1.0, np.zeros(count), np.empty((count, 0)))


def _unit(reading: FloatArray) -> FloatArray:
    """What scale and zero do, where they are off by one, (W, 2)."""
    return np.stack([reading, np.ones(reading.size)], axis=1)


def _shifts_of(reading: FloatArray, spread: FloatArray) -> FloatArray:
    return np.asarray(_unit(reading) @ np.linalg.cholesky(spread))
