"""What published criteria say of the tint beside a weld."""

import pytest

from oxhue.optics.colour.names import colour_names
from oxhue.optics.errors import InputError
from oxhue.optics.tint.weld import _criteria, weld_tint


@pytest.mark.parametrize(
    ("seen", "water", "bio"),
    [
        ("silver", "may stay", "may stay"),
        ("pale yellow", "may stay", "may stay"),
        ("straw", "remove", "may stay"),
        ("purple", "remove", "compare"),
        ("dark blue", "remove", "compare"),
        ("light blue", "remove", "may stay"),
        ("black", "remove", "remove"),
        ("#c8bba2", "may stay", "may stay"),
    ],
)
def test_a_colour_against_each_criterion(seen, water, bio):
    found = weld_tint("316L", seen)
    said = {one.criterion: one for one in found.criteria}
    assert said["drinking water"].verdict == water
    assert said["bioprocessing"].verdict == bio
    assert sum(found.names.values()) == pytest.approx(1.0)
    for one in said.values():
        assert one.keep + one.compare + one.remove == pytest.approx(1.0)
        assert one.source
    assert "inspector decide" in found.advice


def test_sanitary_tube_goes_by_its_pictures_for_any_colour():
    found = weld_tint("stainless", "dark blue")
    assert found.criteria[-1].compare == pytest.approx(1.0)
    low, high = found.interval90_nm
    assert low < found.thickness_nm < high


def test_criteria_name_colours_that_there_are():
    known = {*colour_names(), "*"}
    for entry in _criteria().values():
        assert {*entry["keeps"], *entry["compare"]} <= known


@pytest.mark.parametrize(
    ("metal", "seen", "words"),
    [("steel", "blue", "of stainless steel"), ("304", 3, "`seen` must"), ("304", "bluu", "blue")],
)
def test_what_is_no_weld_tint_is_refused(metal, seen, words):
    with pytest.raises(InputError, match=words):
        weld_tint(metal, seen)
