"""The house keeps its sizes, its words, and a library that knows nothing of its faces."""

import ast
from functools import cache
from pathlib import Path

import pytest

from tools.house_walk import walk
from tools.measure_house import VERBS, Figures
from tools.write_door import REFERENCE, STUB, reference, stub

ROOT = Path(__file__).parents[1]
ROOMS = ("optics", "cli", "page", "tools", "benchmarks", "tests")
FILES = sorted(path for room in ROOMS for path in (ROOT / room).rglob("*.py"))
MOST_LINES, MOST_IN_A_FUNCTION = 600, 40
REASON = "# long: "
"""Stands with its reason in the first lines of a function that had better stay whole."""


def body_lines(function):
    """Lines of code below the signature and the docstring."""
    first = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return function.end_lineno - first[0].lineno + 1 if first else 0


def functions(tree):
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return (node for node in ast.walk(tree) if isinstance(node, kinds))


@pytest.mark.parametrize("room", ROOMS)
def test_files_and_functions_are_short(room):
    long = []
    for path in FILES:
        if path.relative_to(ROOT).parts[0] != room:
            continue
        text = path.read_text(encoding="utf-8")
        name, lines = path.relative_to(ROOT).as_posix(), text.splitlines()
        if len(lines) > MOST_LINES:
            long.append(f"{name}: {len(lines)} lines")
        for one in functions(ast.parse(text)):
            reason = any(REASON in line for line in lines[one.lineno - 1 : one.end_lineno])
            if body_lines(one) > MOST_IN_A_FUNCTION and not reason:
                long.append(f"{name}: {one.name} has {body_lines(one)} lines")
    assert long == []


SHORT = {
    "oxhue/__main__.py": "what python -m oxhue runs, by its name",
    "optics/_typing.py": "imported by every room, so it holds nothing else",
    "optics/colour/conditions.py": "one value that every question takes",
    "optics/data_sets/result.py": "one answer a file",
    "optics/films/sweep.py": "shared by what reads a notation and what writes one",
    "optics/oxidation/anodic.py": "the one way to an oxide without heat",
    "cli/demo.py": "one verb a file",
    "cli/materials.py": "one verb a file",
    "cli/schema.py": "one verb a file",
    "page/questions/assay.py": "one room of the page a file",
}
STILL_BY_PLACE = 1
"""``solve_arrays`` alone, whose five arguments are what a spectrum is of, in that order."""


@cache
def figures():
    return Figures(ROOT)


def test_a_class_name_stands_once_in_the_package():
    assert figures().twice() == []


def test_a_short_file_has_its_reason():
    short = {one.rsplit(" ", 1)[0] for one in figures().files(lambda size: size < 40)}
    assert short <= set(SHORT)


def test_nobody_must_remember_the_order_of_more_than_three_arguments():
    many = figures().many_positional(methods=False) + figures().many_positional(methods=True)
    assert len(many) <= STILL_BY_PLACE, many


def test_a_verb_is_its_folder_its_file_of_options_and_its_row_of_the_guide():
    for verb, function in VERBS.items():
        places = figures().places(verb, function)
        assert len(places) == 3, places


def test_the_list_of_public_names_is_written_from_the_rooms():
    """Run ``python -m tools.write_door`` where this fails."""
    assert STUB.read_text(encoding="utf-8") == stub()
    assert REFERENCE.read_text(encoding="utf-8") == reference()


def test_the_library_names_no_option_and_no_verb():
    assert figures().flags() == []


@pytest.mark.parametrize(("start", "most"), [("look", 2), ("map_photo", 3)])
def test_a_walk_seldom_returns_to_a_file(start, most):
    """A value is followed through the files in their order; see ``tools/house_walk.py``."""
    assert walk(figures().house, start).returns <= most


def test_people_read_plain_current_english():
    assert figures().read_by_people() == []
    assert figures().in_all_source() == []
