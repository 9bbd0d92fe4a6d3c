"""The examples in the library's docstrings run and print what they say."""

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


def test_questions_and_their_results_have_examples():
    assert {"oxhue.optics.films.solve", "oxhue.optics.colour.colour"} <= set(WITH_EXAMPLES)
