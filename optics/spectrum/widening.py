"""Which doubt about piece or instrument widens the interval, and which check would end it."""

from __future__ import annotations

from collections.abc import Sequence

from .posterior import FitDraws
from .summaries import NO_DOUBT, Interval, film_thickness, outer_interval, quantiles_of

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


def find_widening(
    draws: Sequence[FitDraws], doubts: dict[str, float], interval_nm: Interval
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
    width = interval_nm[1] - interval_nm[0]
    found: tuple[str, Interval] = ("", interval_nm)
    least = (1.0 - _WORTH_NAMING) * width
    for doubt in doubts:
        rest = [part for part in draws if part.world.doubt != doubt]
        if doubt != NO_DOUBT and rest:
            low, high = outer_interval(quantiles_of(*film_thickness(rest)))
            if high - low < least:
                found, least = (doubt, (low, high)), high - low
    return found
