"""How angles, times and resistances are put in words."""

import math

import pytest

from oxhue.optics.report.format import (
    format_angle,
    format_factor,
    format_interval,
    format_ohm,
    format_ordinal,
    format_percent,
    format_region,
    format_scientific,
    join_either,
)
from oxhue.optics.units import format_digits, format_duration


@pytest.mark.parametrize(
    ("angle", "words"), [(0.0, "looked at straight on"), (30.0, "30° from straight on")]
)
def test_angles_in_words(angle, words):
    assert format_angle(angle) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(8.25, "8.2 s"), (99.0, "99 s"), (150.0, "2 min 30 s"), (9000.0, "2 h 30 min"),
     (float("inf"), "any time")],
)  # fmt: skip
def test_times_are_said_in_the_unit_people_use(seconds, words):
    assert format_duration(seconds) == words


@pytest.mark.parametrize(
    ("ohm", "words"),
    [(0.5, "0.5 Ω"), (12.0, "12 Ω"), (999.0, "999 Ω"), (4700.0, "4.7 kΩ"), (3e7, "30 MΩ")],
)  # fmt: skip
def test_resistances_carry_a_prefix(ohm, words):
    assert format_ohm(ohm) == words


@pytest.mark.parametrize(
    ("value", "words"),
    [(230.0, "230"), (99.6, "100"), (1234.0, "1200"), (0.0123, "0.012"), (0.0, "0"), (2.0, "2")],
)
def test_two_digits_count_and_large_numbers_have_no_power_of_ten(value, words):
    assert format_digits(value) == words


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "under 1 %"), (0.0099, "under 1 %"), (0.01, "1 %"), (0.494, "49 %"), (0.99, "99 %"),
     (0.991, "over 99 %"), (1.0, "over 99 %")],
)  # fmt: skip
def test_no_probability_claims_certainty(share, words):
    assert format_percent(share) == words


def test_intervals_say_where_they_are_open():
    assert format_interval((12.4, 18.6)) == "12 to 19 nm"
    assert format_interval((12.4, float("inf"))) == "at least 12 nm"
    open_end = [(140.0, float("inf")), (31.26, 45.0)]
    assert format_region(open_end) == "31–45 or at least 140 nm"
    assert format_region(open_end, 1) == "31.3–45.0 or at least 140.0 nm"


def test_alternatives_and_places():
    assert join_either(["a"]) == "a"
    assert join_either(["a", "b", "c"]) == "a, b or c"
    assert [format_ordinal(n) for n in (1, 2, 3, 4, 11)] == ["1st", "2nd", "3rd", "4th", "11th"]


@pytest.mark.parametrize(
    ("value", "digits", "words"),
    [(1e-5, 2, "1 × 10⁻⁵"), (2400.0, 2, "2.4 × 10³"), (2.449e12, 3, "2.45 × 10¹²"),
     (3e4, 1, "3 × 10⁴"), (0.0, 2, "0 × 10⁰"), (1.0e10, 1, "1 × 10¹⁰")],
)  # fmt: skip
def test_powers_of_ten(value, digits, words):
    assert format_scientific(value, digits) == words
    assert format_scientific(value) == format_scientific(value, 2)
    assert format_scientific(12345.6) == "1.2 × 10⁴"


@pytest.mark.parametrize(
    ("decibans", "words"),
    [(13.0, "20 times likelier"), (-4.8, "3 times less likely"), (0.9, "hardly any difference"),
     (-0.9, "hardly any difference"), (1.0, "1.3 times likelier"),
     (10.0 * math.log10(1.25), "1.2 times likelier"),
     (60.0, "1,000,000 times likelier"), (61.0, "over a million times likelier"),
     (60.000001, "over a million times likelier"),
     (-35.0, "3,200 times less likely")],
)  # fmt: skip
def test_odds_are_said_as_a_factor(decibans, words):
    assert format_factor(decibans) == words


@pytest.mark.parametrize(
    ("ohm", "words"),
    [(9.96, "10.0 Ω"), (10.4, "10 Ω"), (1000.0, "1.0 kΩ"), (1e6, "1.0 MΩ"), (9.99e5, "999 kΩ")],
)
def test_resistances_at_the_border_of_a_prefix(ohm, words):
    assert format_ohm(ohm) == words
