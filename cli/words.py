"""Words of a command line that are what they should be, taken as they come.

Typer has each value read by a library of schemas, which takes longer to load than a short answer
takes to work out. A word is a word already, a default a number, the name of a file that can be read
or is not there yet a path, and what was left out nothing; all else is left to it.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, get_args, get_origin

_PLAIN = (str, int, float)
_MOST_DIGITS = 16  # of a number taken here; longer ones are somebody else's to refuse

_ANY_PATH = {
    "exists": False,
    "file_okay": True,
    "dir_okay": True,
    "writable": False,
    "readable": True,
    "resolve_path": False,
    "allow_dash": False,
    "path_type": None,
}
"""What typer asks of a path unless told otherwise."""


class PlainValue:
    """Reads one option: itself where the value is of its kind already, else as typer would."""

    def __init__(self, parameter: Any, *, kind: Any) -> None:
        self.parameter, self.kind = parameter, kind
        info = parameter.type_descriptor.parameter_info
        self.unbounded = info.min is None and info.max is None
        self.any_path = kind is Path and all(
            getattr(info, name, None) == usual for name, usual in _ANY_PATH.items()
        )

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        """The value, or what typer makes of it."""
        if value is None:
            return () if param.multiple or param.nargs == -1 else None
        if self.kind in _PLAIN and type(value) is self.kind:
            return value
        if self.kind is int and self.unbounded and _is_digits(value):
            return int(value)
        if self.any_path and _is_free_or_readable(value):
            return Path(value)
        several = isinstance(value, (tuple, list)) and all(type(one) is str for one in value)
        if several and _is_list_of_words(self.kind):
            return list(value)
        self.parameter._runtime_param = None
        return self.parameter.get_runtime_param().coerce(value, param=param, ctx=ctx)


def take_plain_values(parameter: Any) -> None:
    """Let an option take such values as they are, in versions of typer that would load a library
    for it."""
    unread = getattr(parameter, "_runtime_param", parameter) is None
    info = getattr(getattr(parameter, "type_descriptor", None), "parameter_info", None)
    if unread and info is not None:
        own = info.parser is not None or info.clamp
        kind = None if own else parameter.type_descriptor.annotation
        parameter._runtime_param = PlainValue(parameter, kind=kind)


def _is_digits(value: Any) -> bool:
    return type(value) is str and value.isascii() and value.isdigit() and len(value) < _MOST_DIGITS


def _is_free_or_readable(value: Any) -> bool:
    if not isinstance(value, str | Path) or "\0" in str(value):
        return False
    return os.access(value, os.R_OK) or not os.path.exists(value)


def _is_list_of_words(kind: Any) -> bool:
    return get_origin(kind) is list and get_args(kind) == (str,)
