"""Compare two JSON answers by keys and numbers alone, and find values under renamed keys.

A path names a value: ``candidates[].thickness_nm``, where ``[]`` stands for any place in a list.
The values of a path are all values it leads to, in their order. A path that is gone and one that is
new are one path renamed when their values are the same; among several the most similar path is
taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher
from math import isclose
from typing import Any

RELATIVE = 1e-6
"""Numbers closer than this are the same: likelihoods of one look have 32 bits, and the processor a
say in the last of them."""
SMALLEST = 1e-13
"""Numbers both below this are what rounding leaves of zero."""

_NUMBER = re.compile(r"(-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)")


@dataclass(frozen=True)
class Change:
    """What kind of change, and where."""

    kind: str
    what: str


def is_same_text(old: str, new: str) -> bool:
    """Whether two answers are the same but for the last digits of their numbers."""
    before, now = _NUMBER.split(old), _NUMBER.split(new)
    return before[::2] == now[::2] and all(
        isclose(float(a), float(b), rel_tol=RELATIVE, abs_tol=SMALLEST)
        for a, b in zip(before[1::2], now[1::2], strict=True)
    )


def changes_of(old: Any, new: Any) -> list[Change]:
    """Keys removed, added and renamed, and numbers changed, between two answers."""
    before, now = _by_path(old), _by_path(new)
    gone = {path: values for path, values in before.items() if path not in now}
    come = {path: values for path, values in now.items() if path not in before}
    found = []
    for path, values in list(gone.items()):
        alike = [other for other in come if _same_all(values, come[other])]
        if alike:
            to = max(alike, key=lambda other: SequenceMatcher(None, path, other).ratio())
            found.append(Change("renamed", f"{path} -> {to}"))
            del gone[path], come[to]
    found += [Change("removed", path) for path in gone]
    found += [Change("added", path) for path in come]
    for path in before.keys() & now.keys():
        found += _changed(path, before[path], now[path])
    return found


def _by_path(whole: Any) -> dict[str, list[Any]]:
    values: dict[str, list[Any]] = {}
    for path, value in _leaves(whole, ""):
        values.setdefault(path, []).append(value)
    return values


def _leaves(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for inner in value:
            yield from _leaves(inner, f"{path}[]")
    else:
        yield path, value


def _changed(path: str, before: list[Any], now: list[Any]) -> list[Change]:
    """Numbers of one path that are not the same; what is text may differ."""
    if len(before) != len(now):
        return [Change("count changed", f"{path}: {len(before)} values -> {len(now)}")]
    different = [
        (a, b)
        for a, b in zip(before, now, strict=True)
        if (_is_number(a) or _is_number(b)) and not _same(a, b)
    ]
    if not different:
        return []
    a, b = different[0]
    return [Change("number changed", f"{path}: {len(different)} of {len(now)}, first {a} -> {b}")]


def _same_all(before: list[Any], now: list[Any]) -> bool:
    return len(before) == len(now) and all(map(_same, before, now))


def _same(a: Any, b: Any) -> bool:
    if _is_number(a) and _is_number(b):
        return isclose(a, b, rel_tol=RELATIVE, abs_tol=SMALLEST)
    return bool(a == b) and type(a) is type(b)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
