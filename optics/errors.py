"""What can be wrong with an input, as exceptions that each carry one clear sentence.

Every class is a ``ValueError``, so a caller who does not care about the kind needs no import.
The sentence names the input, says what is wrong with it and what would be right.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING
from unicodedata import category

if TYPE_CHECKING:
    from pathlib import Path


class InputError(ValueError):
    """An input we refuse. The message is one sentence fit to show to a person.

    It names parameters of the library in backticks, such as `pressure`; each face puts its own
    word there: an option of the command line, a field of the page.

    Parameters
    ----------
    message : str
    parameter : str, optional
        The parameter that is refused.
    """

    def __init__(self, message: str = "", *, parameter: str | None = None) -> None:
        self.parameter = parameter
        super().__init__(message)


class OutOfRangeError(InputError):
    """A number lies outside what the physics or the source data cover."""


class UnknownNameError(InputError):
    """A name (material, word, light) that nobody here knows; the message suggests the nearest."""


class TableError(InputError):
    """A file of numbers is broken, incomplete, or lacks its provenance."""


class LimitError(InputError):
    """A request larger than the stated limits (layers, sweep points, rows, pixels)."""


class NotationError(InputError):
    """A text in our notation that does not parse.

    Parameters
    ----------
    text : str
        The whole text as given.
    position : int
        Index of the character at which reading stopped making sense.
    problem : str
        What was expected or what is wrong, as a clause without full stop.
    """

    def __init__(self, text: str, position: int, problem: str) -> None:
        self.text = text
        self.position = position
        self.problem = problem
        rest = shorten(text[position:].strip(), 30)
        where = f"{rest!r} (character {position + 1})" if rest else "the end"
        super().__init__(f"at {where}: {problem}{self._hint()}")

    def _hint(self) -> str:
        """What a decimal comma in or before the part that was not understood should be."""
        start = max(self.text.rfind(mark, 0, self.position) for mark in "/|(") + 1
        ends = (self.text.find(mark, self.position) for mark in "/|")
        end = min((at for at in ends if at >= 0), default=len(self.text))
        found = _COMMA.search(self.text, start, end)
        return suggest_point(found[0]) if found and self.position <= found.end() else ""

    def __reduce__(self) -> tuple[type[NotationError], tuple[str, int, str]]:
        """As made, so that it comes back whole from another process."""
        return type(self), (self.text, self.position, self.problem)


_COMMANDS = ("Cc", "Cf", "Zl", "Zp")
_PARAMETER = re.compile(r"`(\w+)`")
# Two numbers, for after a decimal comma and before it nobody writes a third comma or a sign.
_COMMA = re.compile(r"(?<![\d,])(?<!\d\.)(\d+),(\d+)(?![\d,]|\.\d)")
_LONGEST_NUMBER = 30  # letters; nobody meant a longer one, and the sentence stays one
_POINTS_AND_COMMA = re.compile(r"(?<![\d.,])\d{1,3}(?:\.\d{3})+,\d+(?![\d.,])")


def name_parameters(message: str, names: Mapping[str, str]) -> str:
    """A message with the parameters in backticks called by the names that a face has for them."""
    return _PARAMETER.sub(lambda found: names.get(found[1], found[1]), message)


def suggest_point(text: str) -> str:
    """A clause for a number that may be meant with a decimal comma, or an empty string."""
    grouped = _POINTS_AND_COMMA.search(text)
    if grouped is not None and len(grouped[0]) <= _LONGEST_NUMBER:
        right = grouped[0].replace(".", "").replace(",", ".")
        return f"; if {grouped[0]} is one number, write {right}"
    found = _COMMA.search(text)
    if found is None or len(found[0]) > _LONGEST_NUMBER:
        return ""
    right = f"{found[1]}.{found[2]}"
    if len(found[2]) == 3:  # or a comma between thousands
        right += f" or {found[1]}{found[2]}"
    return f"; if {found[0]} is one number, write {right}"


def shorten(text: str, limit: int = 60) -> str:
    """A quotation of ``text`` no longer than ``limit`` characters."""
    return text if len(text) <= limit else text[: limit - 1] + "…"


def show_path(path: Path) -> str:
    """The path of a file as it is quoted: with more letters than a word."""
    return shorten(str(path), 200)


def show_controls(text: str) -> str:
    """A text in which what commands a terminal, or turns writing round, is written as in Python.

    Names of files and pieces come from elsewhere. Lines and tabs stay, and the halves of a pair
    that stand for bytes of no text are left to the stream.
    """
    if text.isprintable():
        return text
    return "".join(
        repr(c)[1:-1] if category(c) in _COMMANDS and c not in "\n\t" else c for c in text
    )


def suggest_nearest(name: str, known: list[str]) -> str:
    """A clause that offers the known names closest to ``name``, or an empty string."""
    from difflib import get_close_matches

    folded = {candidate.casefold(): candidate for candidate in known}
    close = get_close_matches(name.casefold(), list(folded), n=3, cutoff=0.6)
    return f"did you mean {' or '.join(folded[c] for c in close)}?" if close else ""
