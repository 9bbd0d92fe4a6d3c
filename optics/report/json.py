"""A result as plain data for JSON: its fields are the keys, its numbers are not rounded."""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from ..result import Result


def result_dict(result: Result) -> dict[str, Any]:
    """A result as plain data, with the version and the verb that gives it."""
    from importlib.metadata import version

    head = {"oxhue": version("oxhue"), "kind": result.verb} if result.verb else {}
    return head | fields_dict(result)


_AS_THEY_ARE = frozenset({str, int, bool, type(None)})


def fields_dict(value: Any) -> dict[str, Any]:
    """The fields of a dataclass, and the properties its class lists in ``also``.

    A class whose JSON is shaped otherwise gives it by ``json_fields``.
    """
    if hasattr(value, "json_fields"):
        shaped: dict[str, Any] = value.json_fields()
        return shaped
    return {name: plain(getattr(value, name)) for name in _listed(value.__class__)}


@cache
def _listed(kind: type) -> tuple[str, ...]:
    """What of a dataclass its JSON lists."""
    dataclass: Any = kind
    shown = [one.name for one in fields(dataclass) if not str(one.type).startswith("Hidden[")]
    return *shown, *getattr(kind, "also", ())


def plain(value: Any) -> Any:
    """A value as JSON has it: arrays as lists, dataclasses as objects.

    Raises
    ------
    TypeError
        For a kind of value that JSON has no form for.
    """
    if type(value) in _AS_THEY_ARE:  # told in one look-up: most of a long answer is text
        return value
    if isinstance(value, str | int):
        return value
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else None  # beyond any number, as ohms of no contact
    if isinstance(value, np.ndarray):
        return value.tolist()
    if is_dataclass(value):
        return fields_dict(value)
    if isinstance(value, dict):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, Path | Enum):
        return str(value)
    raise TypeError(f"a {type(value).__name__} has no form in JSON")
