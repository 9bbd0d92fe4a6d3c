"""Values as JSON has them, colours in words, and cells of a spreadsheet."""

from __future__ import annotations

import json
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

import numpy as np
import pytest

from oxhue.optics.look.look import look
from oxhue.optics.report.csv import cell_of, document_csv
from oxhue.optics.report.document import (
    Document,
    Figure,
    Heading,
    Items,
    Note,
    Swatch,
    Table,
    words_of,
)
from oxhue.optics.report.json import plain, result_dict
from oxhue.optics.report.schema import kind_schema
from oxhue.optics.result import Hidden, Result


class Way(Enum):
    BY_EYE = 1


@dataclass(frozen=True)
class Pair:
    left: float
    right: Hidden[float] = 2.0


@pytest.mark.parametrize(
    ("value", "data"),
    [(None, None), (True, True), (5, 5), (0.25, 0.25), ("nm", "nm"), (float("inf"), None),
     (float("nan"), None), (np.float64(0.5), 0.5), (np.float32("inf"), None), (np.int64(3), 3),
     (np.bool_(True), True), (np.array([[1.0, 2.0]]), [[1.0, 2.0]]),
     ((1, (2.0,)), [1, [2.0]]), ([np.int8(1)], [1]), ({1: np.float64(2.0)}, {"1": 2.0}),
     (Path("a/b"), str(Path("a/b"))), (Way.BY_EYE, "Way.BY_EYE"), (Pair(1.0), {"left": 1.0})],
    ids=repr,
)  # fmt: skip
def test_values_have_one_form_in_json(value, data):
    found = plain(value)
    assert found == data
    assert type(found) is type(data)
    json.dumps(found, allow_nan=False)


def test_what_has_no_form_is_a_bug_of_ours():
    with pytest.raises(TypeError, match="a set has no form in JSON"):
        plain({1})


@dataclass(frozen=True)
class Seen(Result):
    verb = "look"
    also = ("twice",)
    nm: float

    @property
    def twice(self):
        return 2.0 * self.nm


@dataclass(frozen=True)
class Part(Result):
    nm: float


def test_an_answer_says_its_verb_and_a_part_of_one_does_not():
    whole = result_dict(Seen(1.5))
    assert list(whole) == ["oxhue", "kind", "nm", "twice"]
    assert (whole["kind"], whole["twice"]) == ("look", 3.0)
    assert result_dict(Part(1.5)) == {"nm": 1.5}


@pytest.mark.parametrize(
    ("swatch", "words"),
    [(Swatch("#3c4fa1"), "#3c4fa1"), (Swatch("#3c4fa1", "blue"), "#3c4fa1  blue"),
     (Swatch("#3c4fa1", "blue", with_hex=False), "blue"),
     (Swatch("#3c4fa1", "", with_hex=False), "#3c4fa1")],
)  # fmt: skip
def test_a_colour_in_words(swatch, words):
    assert swatch.words == words
    assert words_of(("a ", swatch)) == f"a {words}"


@pytest.mark.parametrize(
    ("words", "cell"),
    [("=1+1", "'=1+1"), ("+1", "'+1"), ("@a", "'@a"), ("\tx", "'\tx"), ("-1", "-1"),
     ("-1e3", "-1e3"), ("-x", "'-x"), ("-", "'-"), ("blue", "blue"), ("", ""), ("\x1b", "\\x1b")],
)  # fmt: skip
def test_a_cell_is_neither_formula_nor_command(words, cell):
    assert cell_of(words) == cell


def test_every_block_has_its_rows():
    blocks = [Heading("H"), "line", Items(["one", ("t", "wo")]), Note("n"),
              Table(["a", "b"], [["1", Swatch("#ffffff")]]), Figure(lambda: None, "f")]  # fmt: skip
    assert document_csv(Document("first", blocks)) == (
        "first\nH\nline\none\ntwo\nn\n\na,b\n1,#ffffff\n\n"
    )


def test_a_schema_names_its_verb_and_what_is_in_its_lists():
    made = kind_schema("look")
    assert made["properties"]["kind"] == {"const": "look"}
    assert made["properties"]["swept"] == {"type": "array", "items": {"type": "string"}}
    assert {"oxhue", "kind", "stack"} <= set(made["required"])
    assert set(look("TiO2 45nm / Ti").to_dict()) <= set(made["properties"])
    gauged = json.dumps(kind_schema("gauge"))
    assert '"srgb_hex"' in gauged
    assert '"doubts"' in gauged
