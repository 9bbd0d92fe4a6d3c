"""Which doubt about piece or instrument widens the interval, and which check would end it."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from .._typing import FloatArray
from .instrument import Instrument
from .noise_model import NoiseModel
from .posterior import FitDraws
from .summaries import (
    NO_DOUBT,
    Interval,
    film_thickness,
    outer_interval,
    quantiles_of,
    weights_of,
)

CHECKS = {
    "absorption": "measure the light that passes a film of the same run on glass",
    "thickness spread": "measure a smaller spot, or several spots next to each other",
    "mixed layer": "measure a film of the same run on glass, where no metal mixes in",
    "finish": "measure a film of the same run on a polished piece",
    "bandwidth": "state the instrument's bandwidth",
    "scale": "measure the reference again, right before the piece and at the same distance",
    "stray light": "measure with nothing in front of the probe, in the dark, and subtract it",
}
"""What settles each doubt."""

WORDS = {
    "absorption": "a film that absorbs light",
    "thickness spread": "a thickness that varies over the spot",
    "mixed layer": "a mixed layer between film and base",
    "finish": "a ground or rolled finish",
    "bandwidth": "a bandwidth other than the steps suggest",
    "scale": "a reference that is off",
    "stray light": "stray light or a dark reading that is off",
}
"""Each doubt in words."""

_WORTH_NAMING = 0.1  # of the width; a doubt that costs less is not named
_SHOWN = 0.8  # probability from which a doubt is what the spectrum shows


STRAY = "stray light"
"""In doubt of every instrument until it is checked."""

_SAMPLE, _FEWEST = 500, 15.0  # draws weighed again, and how many of them must be left


def interval_without_stray(
    draws: Sequence[FitDraws],
    wavelength_nm: FloatArray,
    reading: FloatArray,
    *,
    curve: FloatArray,
    checked: Collection[str],
) -> Interval | None:
    """The interval [nm] were there no stray light for certain.

    The reading (W,) differs from the curve (W,) that fits best by noise and misfit. The draws are
    weighed by how much likelier an instrument in order makes the reading. Where too few of them
    are left to tell, or there is none already, it is None.
    """
    if STRAY in checked:
        return None
    weight = weights_of(draws)
    middles = (np.arange(_SAMPLE) + 0.5) / _SAMPLE
    picked = np.searchsorted(np.cumsum(weight), middles).clip(max=weight.size - 1)
    thickness = film_thickness(draws)[0][picked]
    ends = np.cumsum([len(part.x) for part in draws])
    curves = np.empty((_SAMPLE, wavelength_nm.size))
    for part, end in zip(draws, ends, strict=True):
        own = (picked < end) & (picked >= end - len(part.x))
        if own.any():
            curves[own] = part.world.curves(part.x[picked[own] - end + len(part.x)])

    def density(known: Collection[str]) -> FloatArray:
        own = Instrument.of(reading, known)
        cleaned = own.clean(reading)
        misfit = NoiseModel.for_readings(wavelength_nm, own.clean(curve), own)
        return misfit.log_likelihood(np.nan_to_num(cleaned - curves, nan=1e3))

    gain = density((*checked, STRAY)) - density(checked)
    likelier = np.exp(gain - gain.max())
    if likelier.sum() ** 2 / np.sum(likelier**2) < _FEWEST:
        return None
    return outer_interval(quantiles_of(thickness, likelier))


def find_widening(
    draws: Sequence[FitDraws],
    doubts: dict[str, float],
    interval_nm: Interval,
    *,
    without_stray: Interval | None,
) -> tuple[str, Interval]:
    """The doubt that widens an interval most, and the interval without it.

    Parameters
    ----------
    draws : sequence of FitDraws
        Of every world with a film.
    doubts : dict
        Probability of each doubt, and of none.
    interval_nm : tuple of float
        Of all draws [nm].
    without_stray : tuple of float or None
        What is left of it were there no stray light [nm].

    Returns
    -------
    name : str
        Empty where no doubt widens it by a tenth.
    interval_nm : tuple of float
        Without that doubt [nm]; the whole one where it is what the spectrum shows.
    """
    likeliest = next(iter(doubts))
    if likeliest != NO_DOUBT and doubts[likeliest] >= _SHOWN:
        return likeliest, interval_nm
    without = {STRAY: without_stray} if without_stray else {}
    for doubt in doubts:
        rest = [part for part in draws if part.world.doubt != doubt]
        if doubt != NO_DOUBT and rest:
            without[doubt] = outer_interval(quantiles_of(*film_thickness(rest)))
    name = min(without, key=lambda one: without[one][1] - without[one][0], default="")
    width = interval_nm[1] - interval_nm[0]
    if name and np.diff(without[name])[0] < (1.0 - _WORTH_NAMING) * width:
        return name, without[name]
    return "", interval_nm
