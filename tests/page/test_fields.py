"""Fields of a question as a browser sends them: each kind, its limits, its refusal."""

import pytest

from oxhue.optics.errors import InputError
from oxhue.page.fields import (
    LONGEST_DOCUMENT,
    LONGEST_TEXT,
    MOST_ITEMS,
    MOST_NUMBERS,
    Fields,
    name_fields,
)


def refused(read, *words):
    with pytest.raises(InputError) as found:
        read()
    assert all(word in str(found.value) for word in words), str(found.value)


def of(value):
    return Fields({"it": value})


def test_a_text_is_stripped_and_may_have_a_default():
    assert of(" blue ").text("it") == "blue"
    assert of("  ").text("it", "red") == "red"
    assert Fields({}).text("it", "red") == "red"
    assert of("").text_if("it") is None
    assert of("x").text_if("it") == "x"
    assert "it" in of("")
    assert "it" not in of(None)
    refused(lambda: Fields({}).text("it"), "the field 'it' is empty; fill it in")
    refused(lambda: of(5).text("it"), "must be a text")
    refused(lambda: of("a\x00b").text("it"), "signs that cannot be shown")


def test_texts_are_as_long_as_the_limits():
    assert of("x" * LONGEST_TEXT).text("it") == "x" * LONGEST_TEXT
    refused(lambda: of("x" * (LONGEST_TEXT + 1)).text("it"), "at most 2,000 characters")
    assert of("x" * LONGEST_DOCUMENT).document("it") == "x" * LONGEST_DOCUMENT
    refused(lambda: of("x" * (LONGEST_DOCUMENT + 1)).document("it"), "at most 80,000 characters")
    assert of("xxx").document("it", 3) == "xxx"
    refused(lambda: of("xxxx").document("it", 3), "at most 3")
    assert of("").document("it") is None
    refused(lambda: of(5).document("it"), "must be a text")


def test_lists_of_texts():
    assert of(["a", " ", "b "]).texts("it") == ["a", "b"]
    assert of(None).texts("it") == []
    assert len(of(["a"] * MOST_ITEMS).texts("it")) == MOST_ITEMS
    refused(lambda: of(["a"] * (MOST_ITEMS + 1)).texts("it"), "at most 24 entries")
    refused(lambda: of("ab").texts("it"), "must be a list of texts")
    refused(lambda: of({"a": 1}).texts("it"), "must be a list of texts")
    refused(lambda: of(["a", 5]).texts("it"), "must be a text")


def test_tables_and_boxes():
    assert of({"a": 1}).table("it") == {"a": 1}
    assert of(None).table("it") == {}
    refused(lambda: of([1]).table("it"), "must be a table of names and values")
    assert of(True).on("it") is True
    assert Fields({}).on("it") is False
    for wrong in (1, "on", None):
        refused(lambda wrong=wrong: of(wrong).on("it"), "is either on or off")


@pytest.mark.parametrize("value", [0, 90, 45.5])
def test_numbers_up_to_both_limits(value):
    assert of(value).number("it", 7.0, 0.0, 90.0) == float(value)


def test_numbers_outside_or_of_another_kind():
    assert Fields({}).number("it", 7.0, 0.0, 90.0) == 7.0
    refused(lambda: of(90.1).number("it", 7.0, 0.0, 90.0), "is 90.1; it must be 0 to 90")
    refused(lambda: of(-0.1).number("it", 7.0, 0.0, 90.0), "it must be 0 to 90")
    for wrong in (True, "45", [], float("nan"), float("inf"), 10**400):
        refused(lambda wrong=wrong: of(wrong).number("it", 7.0, 0.0, 90.0), "must be a number")
    assert of([1, 2.5]).numbers("it", 0.0, 9.0) == [1.0, 2.5]
    assert of(None).numbers("it", 0.0, 9.0) == []
    assert len(of([1] * MOST_NUMBERS).numbers("it", 0.0, 9.0)) == MOST_NUMBERS
    refused(lambda: of([1] * (MOST_NUMBERS + 1)).numbers("it", 0.0, 9.0), "at most 200 numbers")
    refused(lambda: of("12").numbers("it", 0.0, 9.0), "must be a list")
    refused(lambda: of([1, 10]).numbers("it", 0.0, 9.0), "it must be 0 to 9")


def test_whole_numbers():
    found = of(3.0).whole("it", 1, 0, 9)
    assert (found, type(found)) == (3, int)
    assert Fields({}).whole("it", 1, 0, 9) == 1
    refused(lambda: of(3.5).whole("it", 1, 0, 9), "is 3.5; it must be a whole number")


def test_light_and_observer():
    seen = Fields({"light": "A", "observer": 10}).viewing()
    assert (seen.light, seen.observer) == ("A", 10)
    usual = Fields({}).viewing()
    assert (usual.light, usual.observer) == ("D65", 2)
    refused(lambda: Fields({"observer": 5}).viewing(), "observer")
    refused(lambda: Fields({"observer": 11}).viewing(), "it must be 2 to 10")


def test_a_parameter_is_called_by_the_label_of_its_field():
    said = name_fields("`angle` is odd; see `list_materials`, not `nothing_known`", "look")
    assert "`" not in said
    assert "“" in said
    assert "the list of materials" in said
    assert "nothing_known" in said
