"""The house keeps its sizes: files below 600 lines, functions below 40 of code."""

import ast
from pathlib import Path

import pytest

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


def test_a_class_name_stands_once_in_the_package():
    places = {}
    for path in FILES:
        if path.relative_to(ROOT).parts[0] in ("optics", "cli", "page"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.ClassDef):
                    places.setdefault(node.name, []).append(path.relative_to(ROOT).as_posix())
    assert {name: where for name, where in places.items() if len(where) > 1} == {}
