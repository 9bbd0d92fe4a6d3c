"""What stays on one line: a number with its unit, a shade with its colour."""

from __future__ import annotations

import re

from ..units import list_units

FIRM = "\u00a0"
"""A space that no line ends at."""

_SHADES = "pale", "light", "dark", "full", "vivid"
_BESIDE_UNITS = "%", "Ω", "kΩ", "MΩ", "W", "ΔE"


def _pattern() -> re.Pattern[str]:
    units = sorted({*list_units(), *_BESIDE_UNITS}, key=len, reverse=True)
    unit = "|".join(map(re.escape, units))
    shades = "|".join(rf"(?<=\b{shade}) (?=[a-z])" for shade in _SHADES)
    return re.compile(
        rf"(?<=\d) (?=(?:{unit})(?!\w))"  # 3 %, 12 nm/s
        r"|(?<=[⁰¹²³⁴⁵⁶⁷⁸⁹]) (?=[A-Za-z])"  # 10⁻⁴ mbar
        r"|(?<=\d) (?=× ?10)|(?<=×) (?=10)"
        r"|(?<=\d min) (?=\d)|(?<=\d h) (?=\d)"  # 4 min 27 s
        rf"|{shades}"
    )


_KEPT = _pattern()


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
    return _KEPT.sub(FIRM, words)
