"""Docstrings as the guide shows them: marks of one markup turned into those of another."""

from __future__ import annotations

import re
from typing import Any

import griffe

_ROLE = re.compile(r":\w+:`~?([^`]+)`")
_CITED = re.compile(r"\[(\d+)\]_")
_NOTE = re.compile(r"^(\s*)\.\. \[(\d+)\] ", re.MULTILINE)
_SINGLE = re.compile(r"(?<!`)`([^`\n]+)`(?!`)")


class PlainMarkup(griffe.Extension):
    """Turns roles and citations of docstrings into plain Markdown."""

    def on_instance(self, *, obj: griffe.Object, **_: Any) -> None:
        """Rewrite the docstring of whatever was read."""
        if obj.docstring is not None:
            obj.docstring.value = plain(obj.docstring.value)


def plain(text: str) -> str:
    """A docstring without roles, citation marks and reference targets."""
    text = _ROLE.sub(lambda found: f"`{found[1].rpartition('.')[2]}`", text)
    return _CITED.sub(r"[\1]", _NOTE.sub(r"\1[\2] ", text))
