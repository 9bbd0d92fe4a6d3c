"""How angles, times and resistances are put in words."""

import pytest

from oxhue.optics.report.format import format_angle, format_ohm
from oxhue.optics.units import format_duration


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
