"""Each field of a saved kiln and of a saved bath is what belongs there, or the file is refused."""

import json
from dataclasses import replace

import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.tint.bath import format_bath, parse_bath, shipped_bath
from oxhue.optics.tint.kiln import format_kiln, parse_kiln, shipped_kiln

KNOWN = {"pieces": 5, "made_from": "pieces.csv"}
INF, NAN = float("inf"), float("nan")
VALUES = (
    *(5, -7, 0, 1.5, True, None, "", "x", INF, NAN, 10**400, 10**29, {}),
    *([], [1], ["Ti"], [["a"]], [[1]], [NAN, INF], [500, 400], [0, 10**400], [["1", "2"]]),
)
FAIR = {"pieces": ("5",), "made_from": ("'x'",), "warnings": ("[]", "['Ti']")}
"""Values above, as Python writes them, that a field may hold."""


def kiln_data():
    kiln = shipped_kiln(find_metal("Ti"), count=30)
    return json.loads(format_kiln(replace(kiln, **KNOWN, between_C=(400.0, 500.0))))


def bath_data():
    bath = shipped_bath(find_metal("Ti"), count=30)
    return json.loads(format_bath(replace(bath, **KNOWN, between_V=(20.0, 90.0))))


FILES = pytest.mark.parametrize(
    ("data", "parse"), [(kiln_data, parse_kiln), (bath_data, parse_bath)]
)


@FILES
def test_a_field_that_holds_something_else_is_refused(data, parse):
    whole = data()
    parse(json.dumps(whole), "saved.json")
    for name in whole:
        for value in VALUES:
            text = json.dumps(whole | {name: value})
            if repr(value) in FAIR.get(name, ()):
                parse(text, "saved.json")
            else:
                with pytest.raises(InputError):
                    parse(text, "saved.json")


@FILES
def test_a_field_that_is_gone_or_too_many_is_named(data, parse):
    whole = data()
    for name in set(whole) - {"format"}:
        with pytest.raises(InputError, match=name):
            parse(json.dumps({key: one for key, one in whole.items() if key != name}), "saved.json")
    with pytest.raises(InputError, match="unknown field 'hue'"):
        parse(json.dumps(whole | {"hue": 1}), "saved.json")


@FILES
def test_every_cell_of_the_draws_is_checked(data, parse):
    whole = data()
    for column in range(len(whole["columns"])):
        for value in (None, "x", "1.5", [1], NAN, INF, 10**400, -(10**9), 10**9, True, {}):
            draws = [list(row) for row in whole["draws"]]
            draws[3][column] = value
            with pytest.raises(InputError):
                parse(json.dumps(whole | {"draws": draws}), "saved.json")


@pytest.mark.parametrize("name", ["mean", "covariance"])
def test_moments_that_are_not_those_of_the_draws_are_refused(name):
    whole = kiln_data()
    changed = [*whole[name][:-1], whole[name][0]]
    with pytest.raises(InputError, match=f"{name} is not that of the draws"):
        parse_kiln(json.dumps(whole | {name: changed}), "kiln.json")
