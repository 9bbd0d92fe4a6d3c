"""The examples in the library's docstrings run and print what they say."""

import ast
import doctest
import importlib
import importlib.util
import pkgutil
from pathlib import Path

import numpy as np
import pytest

import oxhue.optics


def has_examples(name):
    source = Path(importlib.util.find_spec(name).origin)
    return ">>> " in source.read_text(encoding="utf-8")


WITH_EXAMPLES = sorted(
    found.name
    for found in pkgutil.walk_packages(oxhue.optics.__path__, "oxhue.optics.")
    if not found.ispkg and has_examples(found.name)
)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_print_what_they_say(name):
    module = importlib.import_module(name)
    with np.printoptions(legacy=False):  # a library used here has numpy print as of old
        failed, tried = doctest.testmod(module)
    assert tried > 0
    assert failed == 0


def public_definitions():
    """Every public function, class and method of the library, with its file."""
    for path in sorted(Path(oxhue.optics.__file__).parent.rglob("*.py")):
        body = ast.parse(path.read_text(encoding="utf-8")).body
        inside = [one for node in body if isinstance(node, ast.ClassDef) for one in node.body
                  if not node.name.startswith("_")]  # fmt: skip
        for node in (*body, *inside):
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                yield path.name, node


def test_every_public_name_says_what_it_is():
    bare = [f"{file}: {node.name}" for file, node in public_definitions()
            if ast.get_docstring(node) is None]  # fmt: skip
    assert bare == []


def test_questions_and_their_results_have_examples():
    assert {"oxhue.optics.films.solve", "oxhue.optics.colour.colour"} <= set(WITH_EXAMPLES)
