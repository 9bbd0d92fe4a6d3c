"""What stays on one line: a number with its unit, a shade with its colour."""

from __future__ import annotations

import re

from ..units import list_units

FIRM = "\u00a0"
"""A space that no line ends at."""

_SHADES = "pale", "light", "dark", "full", "vivid"
_HUES = "blue|brown|gold|green|grey|pink|purple|red|straw|violet|yellow"
_BESIDE_UNITS = "%", "Ω", "kΩ", "MΩ", "W", "ΔE"


def forms_kept() -> list[str]:
    """Regular expressions of what stands before such a space, as its group, and after it.

    They are written so that browsers take them as they are: the page keeps the same together.
    """
    units = sorted({*list_units(), *_BESIDE_UNITS})
    return [
        rf"(\d) (?=(?:{'|'.join(map(re.escape, units))})(?!\w))",  # 3 %, 12 nm/s
        "([⁰¹²³⁴⁵⁶⁷⁸⁹]) (?=[A-Za-z])",  # 10⁻⁴ mbar
        r"(\d) (?=× ?10)",
        "(×) (?=10)",
        rf"(\d[ {FIRM}](?:min|h)) (?=\d)",  # 4 min 27 s
        rf"\b({'|'.join(_SHADES)}) (?=(?:{_HUES})\b)",  # not: light through
    ]


_KEPT = [re.compile(form) for form in forms_kept()]


def keep_together(words: str) -> str:
    """The same words, letter for letter, with firm spaces where no line may end.

    Notes
    -----
    A browser heeds firm spaces by itself. What folds lines of its own takes each for a letter and
    prints the words as they were, so that they are found again as they were written.

    Examples
    --------
    >>> keep_together("3 % of it").split(" ")
    ['3\\xa0%', 'of', 'it']
    """
    for form in _KEPT:
        words = form.sub(rf"\1{FIRM}", words)
    return words
