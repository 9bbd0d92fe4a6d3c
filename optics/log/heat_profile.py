"""The heat of a logged run: a temperature held for a time, or what a thermocouple wrote down.

A profile is kept as text like all that is recorded, ``0s 20C, 600s 452C, 1800s 455C``: straight
between its points, and with no more of them than the heat needs.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .._typing import BoolArray, FloatArray
from ..errors import InputError, shorten
from ..oxidation.schedule import HeatSchedule, as_schedule
from ..units import format_duration, parse_quantity

_MOST_POINTS = 100  # of some fifteen letters each, so that a profile is as short as any text
_CLOSE_C = 0.5  # a point nearer than that to the line without it is left out


def heat_of(done: Mapping[str, str]) -> HeatSchedule | None:
    """The heat of a run in a kiln or flame; None where it does not say it."""
    if "profile" in done:
        return parse_profile(done["profile"])
    return as_schedule(done["at"], done["time"]) if {"at", "time"} <= set(done) else None


def parse_profile(text: str) -> HeatSchedule:
    """A heat from its points.

    Raises
    ------
    InputError
        If a point is not a time and a temperature with their units, or no furnace can do it.
    """
    pairs = [part.split() for part in text.split(",")]
    if any(len(pair) != 2 for pair in pairs):
        raise InputError(
            f"`profile` {shorten(text)!r} is not times with temperatures, such as "
            f"'0s 20C, 600s 450C, 1800s 455C'",
            parameter="profile",
        )
    time_s = np.array([parse_quantity(time, "time_s", "`profile`") for time, _ in pairs])
    degrees = np.array([parse_quantity(at, "temperature_C", "`profile`") for _, at in pairs])
    long = format_duration(float(time_s[-1] - time_s[0]))
    return HeatSchedule(time_s, degrees, f"a logged heat over {long}, up to {degrees.max():.0f} °C")


def format_profile(heat: HeatSchedule) -> str:
    """A heat as text, with so many of its points that it stays within half a degree if it can."""
    close_C = _CLOSE_C
    while (kept := _needed(heat.time_s, heat.temperature_C, close_C)).sum() > _MOST_POINTS:
        close_C *= 1.5
    points = zip(heat.time_s[kept].tolist(), heat.temperature_C[kept].tolist(), strict=True)
    return ", ".join(f"{time_s:.10g}s {round(at_C, 1):g}C" for time_s, at_C in points)


def _needed(time_s: FloatArray, temperature_C: FloatArray, close_C: float) -> BoolArray:
    """Points without which a line would leave the heat, found where it is farthest."""
    kept = np.zeros(len(time_s), dtype=bool)
    kept[[0, -1]] = True
    spans = [(0, len(time_s) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        ends = [first, last]
        inside = slice(first + 1, last)
        line = np.interp(time_s[inside], time_s[ends], temperature_C[ends])
        off = np.abs(temperature_C[inside] - line)
        farthest = first + 1 + int(np.argmax(off))
        if off.max() > close_C:
            kept[farthest] = True
            spans += [(first, farthest), (farthest, last)]
    return kept
