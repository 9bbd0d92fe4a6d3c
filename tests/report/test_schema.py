"""The schema of each kind of answer fits the answers that are kept, and notices what is wrong."""

import json
import re
from pathlib import Path
from typing import Literal, Optional

import pytest

from oxhue.cli.main import app
from oxhue.optics.errors import InputError
from oxhue.optics.log.log import Log
from oxhue.optics.look.look import look
from oxhue.optics.report.schema import SHAPED, _value, find_kinds, kind_schema
from tests.kept_numbers import assert_as_kept
from tools.snapshots import ANSWERS

OBJECT = re.compile(r"^\{.*?^\}", re.MULTILINE | re.DOTALL)
TYPES = {
    "string": str, "integer": int, "number": (int, float), "boolean": bool, "null": type(None),
    "array": list, "object": dict,
}  # fmt: skip


def faults(value, schema, place="answer"):
    """Where a value is not as its schema says; of what the schemas use."""
    if "anyOf" in schema:
        found = [faults(value, one, place) for one in schema["anyOf"]]
        return min(found, key=len)
    if "const" in schema or "enum" in schema:
        wanted = schema.get("enum", [schema.get("const")])
        return [] if value in wanted else [f"{place}: {value!r} is not one of {wanted}"]
    kinds = schema.get("type", list(TYPES))
    kinds = [kinds] if isinstance(kinds, str) else kinds
    if not any(
        isinstance(value, TYPES[kind]) and isinstance(value, bool) <= (kind == "boolean")
        for kind in kinds
    ):
        return [f"{place}: {value!r:.40} is no {kinds}"]
    found = []
    if isinstance(value, dict):
        found += [f"{place}: no {one}" for one in schema.get("required", ()) if one not in value]
        if schema.get("properties"):
            found += [f"{place}: {one} is unknown" for one in value.keys() - schema["properties"]]
        for name, inner in value.items():
            beyond = schema.get("additionalProperties", {})
            found += faults(inner, schema.get("properties", {}).get(name, beyond), name)
    if isinstance(value, list):
        if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value)):
            found.append(f"{place}: {len(value)} items")
        for inner in value:
            found += faults(inner, schema.get("items", {}), place)
    return found


def kept():
    """The answers in JSON that are kept, by file."""
    for path in sorted(ANSWERS.rglob("*.json.txt")):
        found = OBJECT.search(path.read_text(encoding="utf-8"))
        if found:
            yield path.stem, json.loads(found[0])


@pytest.mark.parametrize(("name", "answer"), list(kept()))
def test_the_kept_answers_are_as_their_schema_says(name, answer):
    if answer["kind"] in find_kinds():
        assert faults(answer, kind_schema(answer["kind"])) == [], name


def test_a_wrong_answer_is_noticed():
    answer = next(one for name, one in kept() if name.startswith("one-film"))
    schema = kind_schema("look")
    for wrong in ({"stack": 5}, {"observer": "2"}, {"kind": "gauge"}, {"colour": "blue"}):
        assert len(faults(answer | wrong, schema)) == 1
    assert faults({name: one for name, one in answer.items() if name != "light"}, schema)


def test_every_verb_that_answers_has_its_schema():
    groups = {group.name for group in app.registered_groups}
    verbs = {command.name for command in app.registered_commands} | groups
    assert verbs - set(find_kinds()) == {"demo", "page", "schema"}
    assert all(len(shape) for shape in SHAPED.values())


def test_what_a_log_answers_is_as_its_schema_says(tmp_path):
    with Log.open(tmp_path / "log.sqlite") as log:
        answers = [log.setup("jar"), log.record("jar", metal="Al", time="12min")]
        answers.append(log.saw(1, piece="slide", seen="gold", ohms="open"))
        answers += [log.runs(), log.undo(), log.export(tmp_path / "all.jsonl")]
    for one in answers:
        assert faults(json.loads(json.dumps(one.to_dict())), kind_schema("log")) == []


def test_an_unknown_kind_is_refused():
    with pytest.raises(InputError, match="unknown kind of answer 'lok'; did you mean look"):
        kind_schema("lok")


@pytest.mark.parametrize("stack", ["TiO2 4,5nm / Ti", "Ti 2nm / glass", "Ti 2,3nm / glass"])
def test_the_warnings_of_a_look_are_in_its_schema(stack):
    answer = look(stack).to_dict()
    assert answer["warnings"]
    assert faults(answer, kind_schema("look")) == []


def objects(schema):
    """Every part of a schema that is an object."""
    if isinstance(schema, list):
        for one in schema:
            yield from objects(one)
    elif isinstance(schema, dict):
        if schema.get("type") == "object":
            yield schema
        for name, one in schema.items():
            yield from objects(list(one.values()) if name == "properties" else one)


@pytest.mark.parametrize("kind", find_kinds())
def test_every_object_of_a_schema_is_named_and_lists_what_it_has(kind):
    found = [one for one in objects(kind_schema(kind)) if "additionalProperties" not in one]
    for one in found:
        head = {"$schema", "description"} & one.keys()
        assert one.keys() - head == {"type", "title", "properties", "required"}, one.keys()
        assert one["title"]


def test_lists_of_a_length_and_of_any_say_what_is_in_them():
    text = {"type": "string"}
    pair = {"type": "array", "items": {"anyOf": [text]}, "minItems": 2, "maxItems": 2}
    assert _value(tuple[str, str]) == pair
    assert _value(tuple[str, ...]) == _value(list[str]) == {"type": "array", "items": text}
    assert _value(list) == {"type": "array"}
    assert _value(Literal["front", "back"]) == {"enum": ["front", "back"]}


def test_the_schemas_of_hand_shaped_answers_are_as_they_were():
    told = {}
    for kind in ("look", "map", "design"):
        schema = kind_schema(kind)
        told[kind] = {name: json.dumps(one) for name, one in schema["properties"].items()}
        told[f"{kind} requires"] = ", ".join(schema["required"])
    reading = {name: json.dumps(_value(hint)) for name, hint in SHAPED["Reading"].items()}
    assert_as_kept("schemas", told | {"reading": reading})


@pytest.mark.parametrize(
    ("hint", "schema"),
    [
        (str, {"type": "string"}), (Path, {"type": "string"}), (int, {"type": "integer"}),
        (bool, {"type": "boolean"}), (float, {"type": ["number", "null"]}),
        (dict, {"type": "object"}),
        (dict[str, object], {"type": "object", "additionalProperties": {}}),
        (dict[str, int], {"type": "object", "additionalProperties": {"type": "integer"}}),
        (str | None, {"anyOf": [{"type": "string"}, {"type": "null"}]}),
        (Optional[int], {"anyOf": [{"type": "integer"}, {"type": "null"}]}),  # noqa: UP045 -- either
        (Literal["a", 5], {"enum": ["a", 5]}), (list, {"type": "array"}),
        (tuple, {"type": "array"}),
        (list[int], {"type": "array", "items": {"type": "integer"}}),
        (tuple[int, ...], {"type": "array", "items": {"type": "integer"}}),
        (tuple[int, str], {"type": "array", "items": {"anyOf": [{"type": "integer"},
         {"type": "string"}]}, "minItems": 2, "maxItems": 2}),
        (tuple[int, int, int], {"type": "array", "items": {"anyOf": [{"type": "integer"}]},
         "minItems": 3, "maxItems": 3}),
        (object, {}), (complex, {}),
    ],
)  # fmt: skip
def test_what_json_has_for_each_kind_of_value(hint, schema):
    assert _value(hint) == schema
