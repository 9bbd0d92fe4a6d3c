"""A JSON Schema of each kind of answer, made from the fields of its results.

Where a class shapes its JSON by hand, the keys it always or sometimes has are in ``SHAPED``.
"""

from __future__ import annotations

import types
from dataclasses import fields, is_dataclass
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from ..errors import UnknownNameError, suggest_nearest

Object = dict[str, Any]
_SEEN = {"angle_deg": float, "light": str, "observer": int}
_COLOURS = {"reflected?": Object, "transmitted?": Object | None, "wavelength_nm?": list, "R?": list,
            "T?": list, "swept?": list[str], "steps?": list[Object]}  # fmt: skip
SHAPED: dict[str, dict[str, Any]] = {
    "Look": {"stack": str, "side": str, "warnings?": list[str]} | _SEEN | _COLOURS,
    "FieldMap": {
        "median_nm": float, "interval90_nm": list, "pixel_interval90_width_nm": float,
        "share_fitted": float, "share_of_tried": float, "orders": Object, "photo": str | None,
        "size": list[int], "films": list[str], "on": str, "piece": str | None,
        "notes": list[str], "files": list[str],
    },
    "Reading": {
        "text": str, "how": str, "view": str, "srgb_hex": str | None, "lab": list | None,
        "doubts": Object,
    },
    "Designs": _SEEN | {
        "met": bool, "designs": list[Object], "goals": list[str], "on": str, "with": list[str],
        "max_layers": int, "thinnest_nm": float, "thickest_nm": float, "total_nm": float | None,
        "tolerance": str | None, "seed": int, "refinements": int, "interrupted": bool,
        "notes": list[str], "light_from": str, "limits": list[Object], "remarks": list[Object],
    },
}  # fmt: skip
"""Keys of a class with ``json_fields``; one with a question mark is not always there."""
_PLAIN: dict[Any, Any] = {
    str: "string", Path: "string", int: "integer", bool: "boolean", Object: "object",
    type(None): "null", float: ["number", "null"],  # null is beyond any number
}  # fmt: skip
_DRAFT = "https://json-schema.org/draft/2020-12/schema"


def kind_schema(kind: str) -> dict[str, Any]:
    """The JSON Schema of the answers of a verb.

    Raises
    ------
    UnknownNameError
        If no verb gives this kind of answer.
    """
    kinds = find_kinds()
    if kind not in kinds:
        offer = suggest_nearest(kind, list(kinds)) or f"use one of {', '.join(kinds)}"
        raise UnknownNameError(f"unknown kind of answer {kind!r:.60}; {offer}")
    head = {"oxhue": {"type": "string"}, "kind": {"const": kind}}
    results = []
    for place in kinds[kind]:
        module, _, name = place.rpartition(".")
        one = _object(getattr(import_module(f"oxhue.optics.{module}"), name))
        results.append(one | {
            "properties": head | one["properties"], "required": [*head, *one["required"]],
        })  # fmt: skip
    shape = results[0] if len(results) == 1 else {"anyOf": results}
    return {"$schema": _DRAFT} | shape | {"title": f"oxhue {kind}"}


@cache
def find_kinds() -> dict[str, list[str]]:
    """The results that each verb may give, as the rooms list them in ``ANSWERS``."""
    found: dict[str, list[str]] = {}
    for room in sorted(
        path.parent.name for path in Path(__file__).parents[1].glob("*/__init__.py")
    ):
        answers = getattr(import_module(f"oxhue.optics.{room}"), "ANSWERS", {})
        for verb, places in answers.items():
            found.setdefault(verb, []).extend(f"{room}.{place}" for place in places)
    return found


@cache
def _object(kind: type) -> dict[str, Any]:
    """A dataclass as an object with its fields, and the properties it lists in ``also``."""
    shaped = SHAPED.get(kind.__name__)
    if shaped is None and hasattr(kind, "json_fields"):
        return {"type": "object", "title": kind.__name__, "properties": {}, "required": []}
    if shaped is None:
        hints = get_type_hints(kind, include_extras=True)
        names = [one.name for one in fields(kind) if not str(one.type).startswith("Hidden[")]
        shaped = {name: hints[name] for name in names}
        for name in getattr(kind, "also", ()):
            found = getattr(kind, name)
            function = getattr(found, "fget", None) or getattr(found, "func", None)
            shaped[name] = get_type_hints(function).get("return", Any)
    return {
        "type": "object",
        "title": kind.__name__,
        "properties": {name.rstrip("?"): _value(hint) for name, hint in shaped.items()},
        "required": [name for name in shaped if not name.endswith("?")],
    }


def _value(hint: Any) -> dict[str, Any]:
    """What JSON has for a value of this kind; an empty schema where anything may come."""
    kind, parts = get_origin(hint) or hint, get_args(hint)
    if hint in _PLAIN or kind is dict:
        inner = {"additionalProperties": _value(parts[1])} if parts else {}
        return {"type": _PLAIN.get(hint, "object")} | inner
    if kind in (Union, types.UnionType):
        return {"anyOf": [_value(one) for one in parts]}
    if kind is Literal:
        return {"enum": list(parts)}
    if kind is tuple and parts and Ellipsis not in parts:
        of_each = {"anyOf": [_value(one) for one in dict.fromkeys(parts)]}
        return {"type": "array", "items": of_each, "minItems": len(parts), "maxItems": len(parts)}
    if kind in (list, tuple):
        return {"type": "array"} | ({"items": _value(parts[0])} if parts else {})
    return _object(kind) if isinstance(kind, type) and is_dataclass(kind) else {}
