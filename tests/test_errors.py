"""What a refusal is made of: quotations, hints, names of parameters, signs that command."""

import copy
import pickle
from pathlib import Path

import pytest

from oxhue.optics import errors
from oxhue.optics.errors import (
    InputError,
    NotationError,
    name_parameters,
    shorten,
    show_controls,
    show_path,
    suggest_nearest,
    suggest_point,
)


@pytest.mark.parametrize(
    ("text", "limit", "short"),
    [("", 3, ""), ("abc", 3, "abc"), ("abcd", 3, "ab…"), ("x" * 61, 60, "x" * 59 + "…")],
)
def test_a_quotation_is_as_long_as_its_limit(text, limit, short):
    assert shorten(text, limit) == short
    assert shorten("x" * 60) == "x" * 60
    assert shorten("x" * 61) == "x" * 59 + "…"


def test_a_path_is_quoted_to_two_hundred_letters():
    assert show_path(Path("x" * 200)) == "x" * 200
    assert show_path(Path("x" * 201)) == "x" * 199 + "…"


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("45", ""), ("4,5", "4,5 is one number, write 4.5"), ("1,500nm", "write 1.500 or 1500"),
        ("1,50", "write 1.50"), ("1,5,6", ""), ("1.5,6.5", ""), ("1.5,6", ""),
        ("1.500,5nm", "1.500,5 is one number, write 1500.5"), ("1.234.567,8", "write 1234567.8"),
        ("1.50,5", ""), ("1" * 15 + "," + "2" * 14, "write " + "1" * 15 + "." + "2" * 14),
        ("1" * 15 + "," + "2" * 15, ""), (".".join(["1", *["234"] * 7]) + ",5", ""),
        (".".join(["1", *["234"] * 6]) + ",55", "write 1234234234234234234.55"),
        (".".join(["12", *["234"] * 6]) + ",555", "write 12"),
    ],
)  # fmt: skip
def test_a_decimal_comma_is_hinted_at(text, hint):
    found = suggest_point(text)
    assert bool(found) == bool(hint)
    assert hint in found
    assert found == "" or found.startswith("; if ")


@pytest.mark.parametrize(
    ("text", "shown"),
    [("blue", "blue"), ("two\nlines\t", "two\nlines\t"), ("\x1b[2J", "\\x1b[2J"),
     ("a\x00", "a\\x00"),
     ("\u202egold", "\\u202egold"), ("\u2028", "\\u2028"), ("für", "für"), ("\udcef", "\udcef"),
     ("\u2029\x9b", "\\u2029\\x9b")],
)  # fmt: skip
def test_what_commands_a_terminal_is_written_out(text, shown):
    assert show_controls(text) == shown


def test_parameters_are_called_as_a_face_calls_them():
    said = "`angle_deg` is odd, `light` too"
    assert name_parameters(said, {"angle_deg": "--angle"}) == "--angle is odd, light too"


def test_the_nearest_names_are_offered():
    known = ["TiO2", "TiN", "SiO2", "Al"]
    assert suggest_nearest("tio2", known) == "did you mean TiO2 or SiO2?"
    assert suggest_nearest("Xx", known) == ""
    many = [f"plate {i}" for i in range(5)]
    assert suggest_nearest("plate", many).count(" or ") == 2


def test_a_parameter_goes_with_the_sentence():
    assert InputError("it is wrong", parameter="light").parameter == "light"
    assert InputError("it is wrong").parameter is None
    for kind in (errors.OutOfRangeError, errors.UnknownNameError, errors.LimitError):
        assert issubclass(kind, InputError)
        assert issubclass(kind, ValueError)


@pytest.mark.parametrize(
    ("text", "position", "sentence"),
    [("TiO2 45 / Ti", 5, "at '45 / Ti' (character 6): no unit"), ("TiO2", 4, "at the end: no unit"),
     ("TiO2 " + "x" * 40, 5, f"at '{'x' * 29}…' (character 6): no unit"),
     ("TiO2 4,5 / Ti", 5, "at '4,5 / Ti' (character 6): no unit; if 4,5 is one number, write 4.5"),
     ("A 1,2nm / B 45 / Ti", 12, "at '45 / Ti' (character 13): no unit"),
     ("A 45 / B 1,2nm", 2, "at '45 / B 1,2nm' (character 3): no unit")],
)  # fmt: skip
def test_a_notation_says_where(text, position, sentence):
    error = NotationError(text, position, "no unit")
    assert str(error) == sentence
    for again in (pickle.loads(pickle.dumps(error)), copy.copy(error)):
        assert str(again) == sentence
        assert (again.text, again.position, again.problem) == (text, position, "no unit")
