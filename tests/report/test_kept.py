"""Numbers stay with their units and shades with their colours, letter for letter."""

import pytest

from oxhue.optics.colour.names import known_words
from oxhue.optics.report.kept import FIRM, keep_together


@pytest.mark.parametrize(
    ("words", "kept"),
    [
        ("oxide 97 %, grey 3 %", "oxide 97_%, grey 3_%"),
        ("below 7.8 × 10⁻⁷ mbar of gas", "below 7.8_×_10⁻⁷_mbar of gas"),
        ("4 min 27 s at 0.3 nm/s", "4_min_27_s at 0.3_nm/s"),
        ("1812 °C in pale blue-green", "1812_°C in pale_blue-green"),
        ("12 m/s and 12 m", "12_m/s and 12_m"),
        ("lets most light through, dark as ever", "lets most light through, dark as ever"),
        ("3 nmol, 2 steps, 5 sheets, dark", "3 nmol, 2 steps, 5 sheets, dark"),
    ],
)
def test_only_what_belongs_together_is_kept(words, kept):
    assert keep_together(words) == kept.replace("_", FIRM)
    assert len(keep_together(words)) == len(words)


def test_every_shade_that_is_a_name_stays_with_its_colour():
    shades = ("pale ", "light ", "dark ", "full ", "vivid ")
    names = [one for one in known_words() if one.startswith(shades)]
    assert len(names) > 10
    assert [one for one in names if FIRM not in keep_together(one)] == []
