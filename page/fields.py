"""Fields of a question as the browser sends them, read with one clear sentence for each fault."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from ..optics.colour.conditions import ViewingConditions
from ..optics.errors import InputError, name_parameters, shorten

LONGEST_TEXT, LONGEST_DOCUMENT = 2_000, 80_000
MOST_ITEMS, MOST_NUMBERS = 24, 200


class Fields:
    """The fields of one question.

    Raises
    ------
    InputError
        From each reader, if the field is missing where it is needed, or of another kind.
    """

    def __init__(self, given: Mapping[str, Any]) -> None:
        self._given = given

    def __contains__(self, name: str) -> bool:
        return self._given.get(name) is not None

    def all_but(self, *names: str) -> dict[str, Any]:
        """All that was sent, without some."""
        return {name: value for name, value in self._given.items() if name not in names}

    def text(self, name: str, otherwise: str | None = None) -> str:
        """A text; the default where it is empty or missing."""
        value = self._given.get(name)
        if value is None or (isinstance(value, str) and not value.strip()):
            if otherwise is None:
                raise InputError(f"the field {name!r} is empty; fill it in")
            return otherwise
        return _check_text(name, value)

    def text_if(self, name: str) -> str | None:
        """A text, or None where it is empty or missing."""
        return self.text(name, "") or None

    def document(self, name: str, longest: int = LONGEST_DOCUMENT) -> str | None:
        """What stood in a file, or None where it is empty or missing."""
        value = self._given.get(name) or None
        if value is not None and not isinstance(value, str):
            raise InputError(f"the field {name!r} must be a text")
        if value is not None and len(value) > longest:
            raise InputError(f"the field {name!r} takes at most {longest:,} characters")
        return value

    def texts(self, name: str) -> list[str]:
        """A list of texts, empty ones left out."""
        value = self._given.get(name) or []
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise InputError(f"the field {name!r} must be a list of texts")
        if len(value) > MOST_ITEMS:
            raise InputError(f"the field {name!r} takes at most {MOST_ITEMS} entries")
        return [text for text in (_check_text(name, one) for one in value) if text]

    def table(self, name: str) -> Mapping[str, Any]:
        """A table of values by name, or an empty one."""
        value = self._given.get(name)
        if value is None:
            return {}
        if not isinstance(value, dict):
            raise InputError(f"the field {name!r} must be a table of names and values")
        return value

    def number(self, name: str, otherwise: float, low: float, high: float) -> float:
        """A number between two limits."""
        value = self._given.get(name)
        return otherwise if value is None else _check_number(name, value, low, high)

    def numbers(self, name: str, low: float, high: float) -> list[float]:
        """A list of numbers between two limits."""
        value = self._given.get(name) or []
        if not isinstance(value, list) or len(value) > MOST_NUMBERS:
            raise InputError(f"the field {name!r} must be a list of at most {MOST_NUMBERS} numbers")
        return [_check_number(name, one, low, high) for one in value]

    def whole(self, name: str, otherwise: int, low: int, high: int) -> int:
        """A whole number between two limits."""
        value = self.number(name, otherwise, low, high)
        if value != int(value):
            raise InputError(f"the field {name!r} is {value:g}; it must be a whole number")
        return int(value)

    def on(self, name: str) -> bool:
        """Whether a box is ticked."""
        value = self._given.get(name, False)
        if not isinstance(value, bool):
            raise InputError(f"the field {name!r} is either on or off")
        return value

    def viewing(self) -> ViewingConditions:
        """Light and observer."""
        from ..optics.colour.illuminants import check_observer, resolve_illuminant

        observer = self.whole("observer", 2, 2, 10)
        return ViewingConditions(
            resolve_illuminant(self.text("light", "D65")), check_observer(observer)
        )


def _check_number(name: str, value: object, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
        raise InputError(f"the field {name!r} must be a number")
    if not low <= value <= high:
        raise InputError(f"the field {name!r} is {value:g}; it must be {low:g} to {high:g}")
    return float(value)


def _is_finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number beyond any float
        return False


def _check_text(name: str, value: object) -> str:
    if not isinstance(value, str):
        raise InputError(f"the field {name!r} must be a text")
    if len(value) > LONGEST_TEXT:
        raise InputError(f"the field {name!r} takes at most {LONGEST_TEXT:,} characters")
    text = value.strip()
    if not text.isprintable():
        raise InputError(f"the field {name!r} holds signs that cannot be shown: {shorten(text)!r}")
    return text


_LABELLED = re.compile(
    r'<label(?: for="[a-z-]+")?>([^<]+?)\s*(?:<span.*?</span>\s*)?'
    r'(?:</label>.*?)?<(?:input|select)[^>]* id="([a-z]+)-([a-z-]+)"',
    re.DOTALL,
)


@cache
def _labels(room: str) -> dict[str, str]:
    """What the fields of a form are called where the page shows them."""
    text = (Path(__file__).parent / "static" / "index.html").read_text(encoding="utf-8")
    return {
        name.replace("-", "_"): f"“{' '.join(label.split())}”"
        for label, of, name in _LABELLED.findall(text)
        if of == room
    }


def name_fields(sentence: str, *rooms: str) -> str:
    """A refusal in which each parameter is called by the label of its field.

    Parameters
    ----------
    sentence : str
        With names of parameters in backticks.
    *rooms : str
        The forms that may have been filled in: what the ids of their fields begin with.
    """
    labels = {"list_materials": "the list of materials"}
    for room in rooms:
        labels |= _labels(room)
    return name_parameters(sentence, labels)
