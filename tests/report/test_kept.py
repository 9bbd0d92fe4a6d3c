"""Numbers stay with their units and shades with their colours, letter for letter."""

import re
from pathlib import Path

import pytest

from oxhue.optics.report.kept import FIRM, keep_together

PAGE = Path(__file__).parents[2] / "page" / "static" / "dom.js"


@pytest.mark.parametrize(
    ("words", "kept"),
    [
        ("oxide 97 %, grey 3 %", "oxide 97_%, grey 3_%"),
        ("below 7.8 × 10⁻⁷ mbar of gas", "below 7.8_×_10⁻⁷_mbar of gas"),
        ("4 min 27 s at 0.3 nm/s", "4_min_27_s at 0.3_nm/s"),
        ("1812 °C in pale blue-green", "1812_°C in pale_blue-green"),
        ("3 nmol, 2 steps, 5 sheets, dark", "3 nmol, 2 steps, 5 sheets, dark"),
    ],
)
def test_only_what_belongs_together_is_kept(words, kept):
    assert keep_together(words) == kept.replace("_", FIRM)
    assert len(keep_together(words)) == len(words)


def test_the_page_keeps_the_same_together():
    script = PAGE.read_text("utf-8")
    units = re.search(r'UNITS = "(.+)";', script)[1].split("|")
    shades = re.search(r"\((pale\|[a-z|]+)\) \(", script)[1].split("|")
    assert len(units) > 20
    assert all(FIRM in keep_together(f"3 {unit} more") for unit in units)
    assert all(FIRM in keep_together(f"a {shade} blue") for shade in shades)
