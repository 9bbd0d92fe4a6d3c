"""Goals as written: read, refused at the right character, and written again."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.goal_weights import (
    EMITTANCE_BAND_NM,
    emittance_weights,
    luminous_weights,
    planck,
    solar_weights,
)
from oxhue.optics.design.goals import Goal, format_goal
from oxhue.optics.errors import NotationError

READ = {
    "R>95% 420..680nm": Goal("R", ">", 95.0, band_nm=(420.0, 680.0)),
    " T < 0.5 % 0.9um..1.1um ": Goal("T", "<", 0.5, band_nm=(900.0, 1100.0)),
    "A=30% 550nm at 45deg p within 2%": Goal(
        "A", "=", 30.0, band_nm=(550.0, 550.0), angles_deg=(45.0, 45.0), polarization="p",
        within=2.0,
    ),
    "R>90% luminous 0..60deg": Goal(
        "R", ">", 90.0, count="luminous", angles_deg=(0.0, 60.0)
    ),
    "T>60% solar x2.5": Goal("T", ">", 60.0, count="solar", weight=2.5),
    "R<2% 500..600nm mean s from back": Goal(
        "R", "<", 2.0, band_nm=(500.0, 600.0), count="mean", polarization="s", view="back"
    ),
    "colour #6a3fa0": Goal("colour", "=", colour="#6a3fa0"),
    "colour 48, 20, -35 at 30deg within 5 x2": Goal(
        "colour", "=", colour="48,20,-35", angles_deg=(30.0, 30.0), within=5.0, weight=2.0
    ),
    "colour pale blue through": Goal("colour", "=", colour="pale blue", view="through"),
    "emittance<5%": Goal("emittance", "<", 5.0),
}  # fmt: skip


@pytest.mark.parametrize("text", READ)
def test_goals_read_as_meant(text):
    assert parse_goal(text) == READ[text]


REFUSED = [
    ("", 0, "starts with R, T, A"),
    ("Q>1%", 0, "starts with R, T, A"),
    ("R 95%", 2, "expected '>', '<' or '='"),
    ("R>95 420..680nm", 2, "in percent"),
    ("R>105% 420..680nm", 2, "between 0 % and 100 %"),
    ("R>95%", 5, "needs a band"),
    ("R>95% 420..680nm 500nm", 17, "the band is written twice"),
    ("R>95% 680..420nm", 6, "runs upwards"),
    ("R>95% 42..68", 6, "has no unit"),
    ("R>95% 420..680cd", 6, "unknown unit"),
    ("R>95% 50nm", 6, "between 100 nm and 100 um"),
    ("R>95% 420..680nm at 95deg", 20, "between 0 and 89 degrees"),
    ("R>95% 420..680nm at", 19, "expected an angle"),
    ("R>95% 420..680nm from above", 17, "'from front' or 'from back'"),
    ("R>95% 420..680nm shiny", 17, "expected a band"),
    ("R>95% 420..680nm x0", 17, "a weight lies above 0"),
    ("R>95% 420..680nm within 1%", 17, "only a target has a 'within'"),
    ("R>95% luminous 420..680nm", 15, "a luminous value counts 380 to 780 nm"),
    ("T>50% 500nm through", 12, "only a colour is seen through"),
    ("colour", 6, "expected a colour"),
    ("colour blurple", 7, "not one we know"),
    ("colour purple 420..680nm", 14, "has its own band"),
    ("emittance<5% at 30deg", 13, "at right angles"),
]


@pytest.mark.parametrize(("text", "position", "problem"), REFUSED)
def test_errors_point_at_the_character(text, position, problem):
    with pytest.raises(NotationError, match=problem) as caught:
        parse_goal(text)
    assert caught.value.position == position


def numbers(low, high):
    # what is next to nothing is refused, as too small to calculate with
    return st.floats(low, high, allow_nan=False).map(
        lambda x: float(f"{x:.6g}") if abs(x) > 1e-90 else 0.0
    )


def ranges(low, high):
    return st.lists(numbers(low, high), min_size=2, max_size=2, unique=True).map(
        lambda ends: tuple(sorted(ends))
    )


def single(low, high):
    return numbers(low, high).map(lambda x: (x, x))


@st.composite
def goals(draw):
    quantity = draw(st.sampled_from(["R", "T", "A", "colour", "emittance"]))
    parts = {"weight": draw(numbers(0.01, 1000.0))}
    if quantity == "emittance":
        return Goal(quantity, draw(st.sampled_from("<>=")), draw(numbers(0.0, 100.0)), **parts)
    parts["angles_deg"] = draw(st.one_of(single(0.0, 89.0), ranges(0.0, 89.0)))
    parts["polarization"] = draw(st.sampled_from(["s", "p", "mean"]))
    if quantity == "colour":
        parts["view"] = draw(st.sampled_from(["front", "back", "through"]))
        parts["within"] = draw(st.none() | numbers(0.01, 200.0))
        colour = draw(st.sampled_from(["#6a3fa0", "48,20,-35", "purple", "pale blue", "straw"]))
        return Goal(quantity, "=", colour=colour, **parts)
    parts["view"] = draw(st.sampled_from(["front", "back"]))
    parts["count"] = draw(st.sampled_from(["each", "mean", "luminous", "solar"]))
    if parts["count"] in ("each", "mean"):
        parts["band_nm"] = draw(st.one_of(single(100.0, 1e5), ranges(100.0, 1e5)))
    relation = draw(st.sampled_from("<>="))
    if relation == "=":
        parts["within"] = draw(st.none() | numbers(0.001, 100.0))
    return Goal(quantity, relation, draw(numbers(0.0, 100.0)), **parts)


@given(goals())
@settings(deadline=None)
def test_what_is_written_reads_back(goal):
    assert parse_goal(format_goal(goal)) == goal


@given(st.text(alphabet="RTA<>=%.0195nmudegxspatlio #a-f,", max_size=30))
@settings(deadline=None)
def test_any_text_is_read_or_refused_in_one_way(text):
    try:
        goal = parse_goal(text)
    except NotationError as error:
        position = error.position
    else:
        assert parse_goal(str(goal)) == goal
        return
    assert 0 <= position <= len(text)


def test_weights_are_shares():
    visible = np.arange(380.0, 781.0, 10.0)
    assert luminous_weights(visible).sum() == pytest.approx(1.0, abs=1e-12)
    assert solar_weights(np.linspace(310.0, 2500.0, 220)).sum() == pytest.approx(1.0, abs=1e-12)
    warm = np.linspace(*EMITTANCE_BAND_NM, 81)
    assert emittance_weights(warm).sum() == pytest.approx(1.0, abs=1e-12)
    # The eye in daylight is keenest near 555 nm; the sun's median lies in the red.
    assert visible[np.argmax(luminous_weights(visible))] == pytest.approx(555.0, abs=10.0)


def test_warmth_peaks_where_wien_says():
    # Wien's displacement law: 2.897772e6 nm K (CODATA 2018) over 300 K.
    grid = np.linspace(5000.0, 25_000.0, 20_001)
    assert grid[np.argmax(planck(grid, 300.0))] == pytest.approx(2.897772e6 / 300.0, abs=2.0)


def test_linear_spectra_keep_their_weighted_mean():
    fine = np.arange(310.0, 2500.5, 1.0)
    coarse = np.linspace(310.0, 2500.0, 74)
    slope = solar_weights(fine) @ (fine / 2500.0)
    assert solar_weights(coarse) @ (coarse / 2500.0) == pytest.approx(slope, rel=2e-4)
