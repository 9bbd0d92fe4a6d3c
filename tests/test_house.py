"""The house keeps its sizes, its words, and a library that knows nothing of its faces."""

import ast
import tomllib
from functools import cache
from pathlib import Path

import pytest

from tools.house_walk import FOLDERS, Module, walk
from tools.measure_house import (
    LONG_FILE,
    LONG_FUNCTION,
    REASON,
    VERBS,
    Figures,
    body_lines,
    functions,
)
from tools.write_door import REFERENCE, STUB, reference, stub

ROOT = Path(__file__).parents[1]
ROOMS = ("oxhue", "optics", "cli", "page", "nk_data", "tools", "benchmarks", "tests")


@cache
def figures():
    return Figures(ROOT)


def modules(room):
    """The files of a room; those of the package are read once for all tests here."""
    if room in FOLDERS:
        return [one for one in figures().modules.values() if figures().name(one).startswith(room)]
    texts = {path: path.read_text(encoding="utf-8") for path in (ROOT / room).rglob("*.py")}
    return [Module(path, text, ast.parse(text)) for path, text in texts.items()]


@pytest.mark.parametrize("room", ROOMS)
def test_files_and_functions_are_short(room):
    long, read = [], modules(room)
    assert read
    for module in read:
        name, lines = figures().name(module), module.text.splitlines()
        if len(lines) > LONG_FILE:
            long.append(f"{name}: {len(lines)} lines")
        for one in functions(module):
            reason = any(REASON in line for line in lines[one.lineno - 1 : one.end_lineno])
            if body_lines(one) > LONG_FUNCTION and not reason:
                long.append(f"{name}: {one.name} has {body_lines(one)} lines")
    assert long == []


SHORT = {
    "oxhue/__main__.py": "what python -m oxhue runs, by its name",
    "optics/_typing.py": "imported by every room, so it holds nothing else",
    "optics/colour/conditions.py": "one value that every question takes",
    "optics/data_sets/result.py": "one answer a file",
    "optics/deposition/charges.py": "read by a design, which needs no geometry of a chamber",
    "optics/films/sweep.py": "shared by what reads a notation and what writes one",
    "optics/oxidation/anodic.py": "the one way to an oxide without heat",
    "cli/demo.py": "one verb a file",
    "cli/materials.py": "one verb a file",
    "cli/schema.py": "one verb a file",
    "optics/log/kiln/present.py": "a document is looked for in the folder of its result",
    "page/questions/assay.py": "one room of the page a file",
}
STILL_BY_PLACE = 1
"""``solve_arrays`` alone, whose five arguments are what a spectrum is of, in that order."""


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


def test_what_is_put_off_to_the_slow_tests_is_there():
    kept = (ROOT / "tests" / "quick_cases.toml").read_text(encoding="utf-8")
    for name, cases in tomllib.loads(kept).items():
        tests = ast.parse((ROOT / "tests" / name).read_text(encoding="utf-8")).body
        assert set(cases) <= {one.name for one in tests if isinstance(one, ast.FunctionDef)}, name
