"""Answers on terminals and pipes that cannot write every letter."""

from __future__ import annotations

import codecs
import io
import sys
import unicodedata
from typing import TextIO

_HANDLER = "oxhue.nearest"
_KEPT = ("ignore", "replace", "xmlcharrefreplace", "namereplace")  # somebody chose these
_NEAREST = {
    "Å": "A", "°": " deg", "µ": "u", "μ": "u", "Δ": "d", "λ": "lambda", "ε": "eps", "σ": "sigma",
    "±": "+/-", "×": "x", "·": "*", "−": "-", "–": "-", "—": "-", "→": "->", "≥": ">=", "≤": "<=",
    "≈": "~", "∞": "inf", "²": "2", "³": "3", "⁻": "-", "Σ": "sum", "’": "'", "‘": "'", "“": '"',
    "”": '"', "…": "...", "•": "*", "ß": "ss", "Ø": "O", "ø": "o", "Æ": "AE", "æ": "ae",
}  # fmt: skip
_FRAME = {"─": "-", "│": "|", "╭": "+", "╮": "+", "╰": "+", "╯": "+", "━": "-", "╴": "-"}


def fit_streams() -> None:
    """Let standard output and error write the nearest letters in place of those they lack.

    Where they are UTF-8 they lack none; only the bytes of a name that is not UTF-8 are left to
    write in another way.
    """
    codecs.register_error(_HANDLER, _replace_letters)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors not in _KEPT:
            stream.reconfigure(errors="backslashreplace" if writes_utf8(stream) else _HANDLER)


def writes_utf8(stream: TextIO) -> bool:
    """Whether a stream takes every character there is: then JSON needs no escapes."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    return encoding.lower().replace("_", "-").startswith("utf")


def _replace_letters(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    letters = error.object[error.start : error.end]
    return "".join(_plain_letter(letter) for letter in letters), error.end


def _plain_letter(letter: str) -> str:
    known = _NEAREST.get(letter) or _FRAME.get(letter)
    if known is not None:
        return known
    bare = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode("ascii")
    return bare or "?"


def say(text: str) -> None:
    """A line for the person, beside the answer: to standard error, if there is one.

    What cannot be shown, such as a line's end in the name of a file, is written as Python does.
    """
    from ..optics.errors import show_controls

    if sys.stderr is not None:
        shown = show_controls(text).replace("\n", "\\n")
        sys.stderr.write(f"{shown}\n")
        sys.stderr.flush()
