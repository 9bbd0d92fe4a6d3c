"""Times of day and dates as loggers write them: ``14:05:07``, ``01.03.2026 2:05 PM``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, shorten

_DAY_S = 86400.0
_CLOCK = re.compile(
    r"(\d{1,4}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?\s*([AaPp]\.?[Mm]\.?)?(?:Z|[+-]\d\d:?\d\d)?"
)
_DATE = re.compile(
    r"(\d{4})-(\d{1,2})-(\d{1,2})|(\d{1,2})\.(\d{1,2})\.(\d{2,4})"
    r"|(\d{1,2})/(\d{1,2})/(\d{2,4})|(\d{4})/(\d{1,2})/(\d{1,2})"
)


@dataclass(frozen=True)
class _Stamp:
    """One written time: its date as written, seconds of the day, and how many parts it had."""

    day: tuple[str, ...]
    seconds: float
    parts: int


def is_date(cell: str) -> bool:
    """Whether a cell holds a date and nothing else."""
    return bool(_DATE.fullmatch(cell))


def is_clock_time(cell: str) -> bool:
    """Whether a cell holds a time such as ``14:05``, with or without a date before it."""
    return _split(cell) is not None


def read_clock_times(cells: Sequence[str], head: str = "") -> FloatArray:
    """Seconds (n,) from the first of the times written.

    Times without a date go on past midnight; ``head`` tells minutes and seconds (``mm:ss``) from
    hours and minutes, which two numbers are otherwise.

    Raises
    ------
    InputError
        Where a cell is no such time; its text says which.
    """
    stamps = [_read(cell) for cell in cells]
    short = re.search(r"\bm{1,2}:s{1,2}\b", head.casefold()) is not None
    of_day = np.array([one.seconds / (60.0 if short and one.parts == 2 else 1.0) for one in stamps])
    dated = sum(bool(one.day) for one in stamps)
    if 0 < dated < len(stamps):
        raise InputError("some of its times have a date and some have none")
    if dated:
        return _from_first(of_day + _DAY_S * _day_numbers([one.day for one in stamps]))
    falls = np.diff(of_day, prepend=of_day[:1]) < -0.5 * _DAY_S  # past midnight
    return _from_first(of_day + _DAY_S * np.cumsum(falls))


def _from_first(time_s: FloatArray) -> FloatArray:
    return np.asarray(time_s - time_s[0])


def _split(cell: str) -> tuple[re.Match[str] | None, re.Match[str]] | None:
    """Date, if there is one, and time of day of a cell."""
    text = cell.strip()
    day = _DATE.match(text)
    rest = text[day.end() :].lstrip(" T,") if day else text
    clock = _CLOCK.fullmatch(rest)
    return (day, clock) if clock else None


def _read(cell: str) -> _Stamp:
    found = _split(cell)
    if found is None:
        raise InputError(f"expected a time such as 14:05:07, got {shorten(cell)!r}")
    day, clock = found
    first, second, third, half = clock.groups()
    hours = int(first)
    if half:
        hours = hours % 12 + 12 * (half[0] in "pP")
    seconds = 3600.0 * hours + 60.0 * int(second) + float((third or "0").replace(",", "."))
    own = () if day is None else tuple(part for part in day.groups() if part)
    # The ways of writing a date differ in their first mark and the year's place.
    way = () if day is None else ("/" if "/" in day[0] else "." if "." in day[0] else "-",)
    return _Stamp((*way, *own), seconds, 2 if third is None else 3)


def _day_numbers(days: Sequence[tuple[str, ...]]) -> FloatArray:
    """Number of each day (n,); of 03/04/2026 the reading under which the log is the shortest."""
    tried = []
    for day_first in (False, True):
        try:
            tried.append([_day_number(day, day_first) for day in days])
        except ValueError:
            continue
    rising = [one for one in tried if np.all(np.diff(one) >= 0)] or tried
    if not rising:
        raise InputError(f"{'-'.join(days[0][1:])} is no date")
    return np.array(min(rising, key=lambda one: max(one) - min(one)), dtype=float)


def _day_number(day: tuple[str, ...], day_first: bool) -> int:
    mark, *parts = day
    a, b, c = (int(part) for part in parts)
    if a > 31:  # the year comes first
        return date(a, b, c).toordinal()
    year = c + 2000 if c < 100 else c
    return (date(year, b, a) if mark == "." or day_first else date(year, a, b)).toordinal()
