"""Forms in which a colour is reported, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.colour.names import known_words
from oxhue.optics.colour.spaces import parse_hex, srgb_to_lab
from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.uncertainty import DEFAULTS


@pytest.mark.parametrize("text", ["#6a3fa0", "6a3fa0", "#6A3FA0", " #6a3fa0 "])
def test_a_hex_value_is_a_photo(text):
    reading = parse_reading(text)
    assert reading.how == "photo"
    assert reading.doubts == DEFAULTS["photo"]
    np.testing.assert_array_equal(reading.points_lab, [srgb_to_lab(parse_hex("#6a3fa0"))])


def test_a_short_hex_value_doubles_its_digits():
    np.testing.assert_array_equal(
        parse_reading("#63a").points_lab, parse_reading("#6633aa").points_lab
    )


@pytest.mark.parametrize(
    "text", ["48,20,-35", "48, 20, -35", "48 20 -35", "48;20;-35", "48.0,2e1,-35"]
)
def test_three_numbers_are_a_colour_meter(text):
    reading = parse_reading(text)
    assert reading.how == "instrument"
    assert reading.doubts == DEFAULTS["instrument"]
    np.testing.assert_array_equal(reading.points_lab, [[48.0, 20.0, -35.0]])


@pytest.mark.parametrize("text", ["0,0,0", "100,0,0", "50,150,-150"])
def test_black_white_and_the_most_vivid_are_colours_too(text):
    assert parse_reading(text).how == "instrument"


def test_a_word_is_a_region():
    reading = parse_reading("purple")
    assert reading.how == "word"
    assert len(reading.points_lab) > 5
    assert reading.weight.sum() == pytest.approx(1.0)
    assert reading.doubts.noise_de >= 5.0 * np.sqrt(3.0)


def test_every_known_word_is_read():
    for word in known_words():
        assert parse_reading(word).weight.sum() == pytest.approx(1.0), word


def test_a_stated_way_replaces_the_usual_one():
    assert parse_reading("#6a3fa0", "card").doubts == DEFAULTS["card"]
    assert parse_reading("48,20,-35", "photo").doubts == DEFAULTS["photo"]


def test_a_word_is_none_that_an_instrument_shows():
    with pytest.raises(InputError, match="is a word, and an instrument shows numbers"):
        parse_reading("purple", "instrument")


def test_own_doubts_replace_the_defaults():
    own = parse_reading("#6a3fa0", settings={"noise_de": 4.0, "index_spread": 0.01}).doubts
    assert own == replace(DEFAULTS["photo"], noise_de=4.0, index_spread=0.01)


def test_a_word_is_never_read_finer_than_people_draw_its_border():
    assert parse_reading("purple", settings={"noise_de": 1.0}).doubts.noise_de >= 5.0 * np.sqrt(3.0)
    assert parse_reading("purple", settings={"noise_de": 20.0}).doubts.noise_de == 20.0


def test_own_doubts_out_of_reach_are_refused():
    with pytest.raises(OutOfRangeError, match=r"glare goes to 0\.9"):
        parse_reading("#6a3fa0", settings={"glare": 0.95})


@pytest.mark.parametrize("text", ["#6a3fa0 angle=60", "#6a3fa0 angle=60deg", "angle = 60° #6a3fa0"])
def test_an_angle_may_be_stated_with_the_colour(text):
    reading = parse_reading(text)
    assert (reading.doubts.angle_low_deg, reading.doubts.angle_high_deg) == (55.0, 65.0)
    assert reading.text == text


def test_an_angle_of_its_own_beats_the_common_one():
    assert parse_reading("purple angle=60", angle="30").doubts.angle_low_deg == 55.0
    assert parse_reading("purple", angle="30").doubts.angle_low_deg == 25.0


@pytest.mark.parametrize(
    "text",
    ["", " ", "#12", "#12345", "#1234567", "#gggggg", "12", "1,2", "1,2,3,4", "angle=60", "?"],
)
def test_what_is_no_colour_is_refused_with_an_example(text):
    with pytest.raises(InputError, match="no colour; write a word such as purple"):
        parse_reading(text)


@pytest.mark.parametrize("text", ["101,0,0", "-1,0,0", "50,151,0", "50,0,-151", "50,0,1e999"])
def test_lab_out_of_reach_is_refused(text):
    with pytest.raises(InputError, match="L\\* runs from 0 to 100"):
        parse_reading(text)


@pytest.mark.parametrize(
    ("text", "match"), [("purpel", "did you mean purple"), ("nan,0,0", "not one we know")]
)
def test_an_unknown_word_is_refused(text, match):
    with pytest.raises(UnknownNameError, match=match):
        parse_reading(text)


@pytest.mark.parametrize("angle", ["95", "81", "-5"])
def test_an_angle_out_of_reach_is_refused(angle):
    with pytest.raises(OutOfRangeError, match="viewing angle"):
        parse_reading(f"purple angle={angle}")


def test_an_angle_that_is_none_or_stated_twice_is_refused():
    with pytest.raises(InputError, match="not a number with a unit"):
        parse_reading("purple angle=steep")
    with pytest.raises(InputError, match="more than once"):
        parse_reading("purple angle=60 angle=30")


@pytest.mark.parametrize("how", ["eye", "", "Word"])
def test_an_unknown_way_is_refused(how):
    with pytest.raises(UnknownNameError, match="unknown kind of reading"):
        parse_reading("purple", how)
