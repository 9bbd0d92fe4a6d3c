"""Inputs drawn by their structure: every reader answers, or refuses in one sentence."""

import math

import pytest

from benchmarks.fuzz.grammars import GRAMMARS, draw_many
from oxhue.optics.deposition import jar


@pytest.mark.parametrize("name", GRAMMARS)
def test_what_a_grammar_draws_is_read_or_refused(name):
    draw_many(name, 60)


def test_a_bug_that_was_mended_is_found_when_it_is_put_back(monkeypatch):
    """A whole number beyond any float, in a jar."""
    monkeypatch.setattr(jar, "is_finite", math.isfinite)
    with pytest.raises(OverflowError):
        draw_many("jars", 400)
