"""The list of these checks in README.md is not stale."""

import pytest

from tools.outside_checks import KEPT, README, Distance, Row, listed_distance, measured

pytestmark = pytest.mark.source("the list itself", "computed", "a quarter of each distance")


def lines():
    if not README.exists():  # it is being made
        pytest.skip("there is no list yet; python -m tools.outside_checks writes it")
    return [line for line in README.read_text("utf-8").splitlines() if line.startswith("| ")]


def test_the_list_says_what_the_checks_find(request):
    rows = request.config.stash[KEPT]
    written, whole = lines(), all_cases(request.config)
    wanted = "; run python -m tools.outside_checks"
    for key, row in rows.items():
        own = [line for line in written if line.startswith(row.start)]
        assert own, f"{key} is not listed as it stands{wanted}"
        if not whole:
            continue
        said = own[0].removeprefix(row.start)
        found, listed = row.worst, listed_distance(said)
        assert (found is None) == (listed is None), f"{key}: {said!r}{wanted}"
        if found and listed:
            assert found.is_near(listed), f"{key} found {found}, the list says {said!r}{wanted}"
        assert said.startswith("**does not hold**") == bool(row.fails), f"{key}{wanted}"
    modules = {item.path for item in request.session.items if item.path.parent == README.parent}
    if whole and modules == set(README.parent.glob("test_*.py")):
        listed = [line for line in written if not line.startswith("| check |")]
        assert len(listed) == len(rows), f"the list holds checks that are gone{wanted}"


def all_cases(config):
    """Whether no case of a check was left out of this session, or went to another process."""
    if hasattr(config, "workerinput"):
        return False
    chosen = config.option.keyword or config.option.markexpr or config.getoption("lf", False)
    return not chosen and not any("::" in argument for argument in config.args)


def test_distances_are_taken_as_the_comparisons_take_them():
    assert measured([1.0, 2.1], [1.0, 2.0], 0.0, 0.2) == Distance(pytest.approx(0.1), 0.2, False)
    relative = measured(105.0, 100.0, 0.1, 0.0)
    assert (str(relative), relative.relative) == ("5 % of 10 %", True)
    assert str(measured(1.0 + 1e-12, 1.0, 1e-9, 0.0)) == "rounding"
    assert measured("gold", "gold", 0.0, 0.0) is None


def test_a_line_is_read_back_as_it_was_written():
    for distance in (Distance(0.034, 0.15, True), Distance(1.2e-5, 5e-5, False)):
        row = Row("test_a", 1, "test_b", "whence", "read", "why", distances=[distance])
        assert listed_distance(row.said).is_near(distance)
        row.fails = "for a reason"
        assert listed_distance(row.said).is_near(distance)
    assert not Distance(0.2, 1.0, False).is_near(Distance(0.3, 1.0, False))
    assert listed_distance("holds |") is None
