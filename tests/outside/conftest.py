"""Every check here states its source; what it finds is kept and compared with the list."""

from typing import Any

import numpy as np
import pytest

from tools.outside_checks import KEPT, TAGS, Row, measured

STALE = "test_the_list_says_what_the_checks_find"


def pytest_configure(config):
    config.stash.setdefault(KEPT, {})


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items):
    items.sort(key=lambda item: item.name == STALE)  # last, when all have been run


class Recorder:
    """What a value should be, which notes how far the value is from it when they are compared."""

    __array_ufunc__ = None  # so that an array leaves the comparison to this

    def __init__(self, row: Row, approx: Any, expected: Any, rel: float | None, abs_: float | None):
        self.row, self.approx, self.expected = row, approx, expected
        self.rel = rel if rel is not None or abs_ is not None else 1e-6
        self.abs = abs_ if abs_ is not None else 1e-12

    def __eq__(self, found):
        if isinstance(self.expected, dict):
            same = isinstance(found, dict) and found.keys() == self.expected.keys()
            pairs = [(found[key], one) for key, one in self.expected.items()] if same else []
        else:
            pairs = [(found, self.expected)]
        for value, expected in pairs:
            if distance := measured(value, expected, self.rel or 0.0, self.abs):
                self.row.distances.append(distance)
        return self.approx == found

    __hash__ = None

    def __repr__(self):
        return repr(self.approx)


@pytest.fixture(autouse=True)
def kept(request, monkeypatch):
    """Keep what this check finds."""
    mark = request.node.get_closest_marker("source")
    if mark is None:
        pytest.fail("a check states its source: @pytest.mark.source('whence', 'read', 'tolerance')")
    source, tag, why = mark.args
    if tag not in TAGS:
        pytest.fail(f"the tag {tag!r} is none of {TAGS}")
    module, name = request.path.stem, request.node.originalname
    if module == "test_list":
        return
    rows = request.config.stash[KEPT]
    line = request.node.function.__code__.co_firstlineno
    row = rows.setdefault(f"{module}.{name}", Row(module, line, name, source, tag, why))
    if xfail := request.node.get_closest_marker("xfail"):
        row.fails = xfail.kwargs["reason"]
    allclose, approx = np.testing.assert_allclose, pytest.approx

    def noted(actual, desired, rtol=1e-7, atol=0, **more):
        if distance := measured(actual, desired, rtol, atol):
            row.distances.append(distance)
        allclose(actual, desired, rtol=rtol, atol=atol, **more)

    def about(expected, rel=None, abs=None, nan_ok=False):
        return Recorder(row, approx(expected, rel, abs, nan_ok), expected, rel, abs)

    monkeypatch.setattr(np.testing, "assert_allclose", noted)
    monkeypatch.setattr(pytest, "approx", about)
