"""Kinds of arguments, checked by annotations at the door."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest
from numpy.typing import ArrayLike

from oxhue.optics.errors import InputError
from oxhue.optics.films.materials.catalogue import load_material
from oxhue.optics.films.stack import Stack
from oxhue.optics.kinds import check_kinds, describe_kind

CASES = [
    (str, "nm", 5, "text"),
    (float, 1, "1", "a number"),
    (float, np.float32(1.0), True, "a number"),
    (int, np.int64(3), 3.0, "a whole number"),
    (int, 3, False, "a whole number"),
    (complex, 1j, "i", "a number"),
    (bool, True, 1, "True or False"),
    (bool, np.True_, "yes", "True or False"),
    (Path, Path("a"), "a", "a path"),
    (str | None, None, 5, "text or None"),
    (str | Path | None, Path("a"), 5, "text, a path or None"),
    (Literal["R", "T"], "R", 5, "one of R, T"),
    (Literal["R", "T"], "Q", None, "one of R, T"),  # which of them, the function says
    (Sequence[str], ["a", "b"], "ab", "a list of text"),
    (Sequence[str], ("a",), ["a", 5], "a list of text"),
    (Sequence[float], np.array([1.0]), ["a"], "a list of a number"),
    (Sequence[str], np.array(["a"]), np.array("a"), "a list of text"),
    (Sequence[float], np.array([1.0]), np.float32(1.0), "a list of a number"),
    (tuple[float, float], np.array([1.0, 2.0]), np.float64(1.0), "2 values: a number, a number"),
    (Sequence[int], [], {1: 2}, "a list of a whole number"),
    (Sequence[Any], [object()], 5, "a list of an Any"),
    (tuple[float, float], (1.0, 2), (1.0,), "2 values: a number, a number"),
    (tuple[float, float], [1.0, 2.0], (1.0, "2"), "2 values: a number, a number"),
    (tuple[float, ...], (1.0, 2.0, 3.0), ("1",), "a list of a number"),
    (Mapping[str, float], {"a": 1.0}, [1.0], "a dictionary"),
    (ArrayLike, [[1.0, 2.0], [3.0, 4.0]], [[1.0], [2.0, 3.0]], "numbers"),
    (ArrayLike, 1.5, "1.5", "numbers"),
    (Stack, Stack((), load_material("Ti")), "Ti", "a Stack"),
]  # fmt: skip


@pytest.mark.parametrize(("hint", "right", "wrong", "words"), CASES)
def test_a_wrong_kind_is_refused_in_words(hint, right, wrong, words):
    def take(value):
        return value

    take.__annotations__["value"] = hint
    checked = check_kinds(take)
    assert checked(right) is right
    assert describe_kind(hint) == words
    if wrong is None:
        return
    with pytest.raises(InputError) as refused:
        checked(wrong)
    assert refused.value.parameter == "value"
    assert str(refused.value).startswith(f"`value` must be {words}, not ")


def test_what_is_open_is_left_to_the_function():
    def take(call: Callable[[], int], anything: Any, unnamed, *, more: int = 3):
        return call, anything, unnamed, more

    assert check_kinds(take)(len, object, "x") == (len, object, "x", 3)
    assert check_kinds(take)(len, 1, 2, more=4)[3] == 4
    with pytest.raises(InputError, match="`more` must be a whole number, not 'four'"):
        check_kinds(take)(len, 1, 2, more="four")
    with pytest.raises(TypeError, match="missing"):
        check_kinds(take)(len)


def test_a_long_value_is_quoted_in_part():
    def take(value: int):
        return value

    with pytest.raises(InputError) as refused:
        check_kinds(take)("x" * 5_000)
    assert len(str(refused.value)) < 120


def test_only_the_first_of_many_are_looked_at():
    def take(values: Sequence[int]):
        return len(values)

    assert check_kinds(take)([1] * 100 + ["late"]) == 101
    with pytest.raises(InputError):
        check_kinds(take)([1] * 99 + ["in time"])


def test_a_public_function_keeps_its_name_and_says_where_it_lives():
    def take(value: int):
        """What it does."""

    checked = check_kinds(take)
    assert checked.__doc__ == "What it does."
    assert checked.__module__ == "oxhue"
    assert checked.__qualname__ == "take"
