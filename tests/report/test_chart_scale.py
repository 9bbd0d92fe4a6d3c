"""What a page is told of a drawn chart, so that it can be read by pointer and keys."""

import numpy as np
import pytest
from matplotlib.figure import Figure

from oxhue.optics.report.chart_scale import scales_of
from oxhue.optics.report.style import new_axes, svg_of


def drawn(ax):
    figure = ax.get_figure()
    svg_of(figure, "a chart")
    return scales_of(figure)


def test_axes_curves_and_their_place_are_told():
    ax = new_axes()
    ax.plot([400.0, 500.0, 600.0], [0.1, 0.5, 0.2], label="front")
    ax.plot([400.0, 600.0], [0.0, 1.0])
    ax.axvline(550.0)  # marks a place, and is no curve
    ax.set(xlabel="wavelength [nm]", ylabel="R", xlim=(400.0, 600.0), ylim=(-0.5, 2.0))
    (panel,) = drawn(ax)
    left, top, right, bottom = panel["box"]
    assert 0.0 < left < right < 1.0
    assert 0.0 < top < bottom < 1.0
    x = panel["x"]
    assert (x["label"], x["low"], x["high"]) == ("wavelength [nm]", 400.0, 600.0)
    assert x["names"] == []
    assert panel["y"] == {"label": "R", "low": -0.5, "high": 2.0, "log": False, "names": []}
    assert panel.keys() == {"box", "x", "y", "curves", "bars"}
    assert panel["bars"] == []
    assert not x["log"]
    front, other = panel["curves"]
    assert front == {"name": "front", "x": [400.0, 500.0, 600.0], "y": [0.1, 0.5, 0.2]}
    assert other["name"] == ""


def test_a_long_curve_is_thinned_and_gaps_are_left_out():
    ax = new_axes()
    y = np.linspace(0.0, 1.0, 4_001)
    y[7] = np.nan
    ax.semilogx(np.linspace(1.0, 9.0, 4_001), y)
    (panel,) = drawn(ax)
    assert panel["x"]["log"]
    (curve,) = panel["curves"]
    assert 100 < len(curve["x"]) <= 400
    assert np.all(np.diff(curve["x"]) > 0.0)


def test_words_at_ticks_and_bars_are_told():
    ax = new_axes()
    ax.bar(["boat", "wire"], [0.2, 0.8])
    (panel,) = drawn(ax)
    assert [words for _, words in panel["x"]["names"]] == ["boat", "wire"]
    assert [height for *_, height in panel["bars"]] == [0.2, 0.8]


def test_of_a_curve_only_what_is_finite_and_rises_is_told():
    ax = new_axes()
    ax.plot([1.0, 2.0, np.nan, 4.0], [1.0, np.inf, 3.0, 1.23456789])
    ax.plot([1.0, 1.0], [0.0, 1.0])  # upright
    ax.plot([2.0, 1.0], [0.0, 1.0])  # backwards
    ax.plot([3.0], [1.0])  # a point
    hidden = ax.plot([1.0, 2.0], [0.0, 1.0])[0]
    hidden.set_visible(False)
    (panel,) = drawn(ax)
    assert panel["curves"] == [{"name": "", "x": [1.0, 4.0], "y": [1.0, 1.23457]}]


def test_as_many_points_as_are_told_are_told_all():
    ax = new_axes()
    for count in (400, 401, 800, 801):
        ax.plot(np.arange(float(count)), np.zeros(count))
    (panel,) = drawn(ax)
    assert [len(one["x"]) for one in panel["curves"]] == [400, 201, 400, 267]


def test_where_a_panel_lies_is_told_from_the_top():
    figure = Figure(figsize=(4.0, 4.0))
    figure.add_axes((0.1, 0.2, 0.5, 0.3))
    assert scales_of(figure)[0]["box"] == pytest.approx([0.1, 0.5, 0.6, 0.8])
    shared, lower = Figure().subplots(2, 1, sharex=True)
    lower.set_xlabel("thickness [nm]")
    assert [one["x"]["label"] for one in drawn(shared)] == ["thickness [nm]"] * 2


def test_bars_are_told_by_their_edges_and_ticks_with_a_true_minus_are_numbers():
    ax = new_axes()
    ax.bar([1.0, 3.0], [0.25, 0.5], width=0.5)
    ax.set_xticks([-1.0, 1000.0, 3.0], ["−1", "1,000", "three"])
    (panel,) = drawn(ax)
    assert panel["bars"] == [[0.75, 1.25, 0.25], [2.75, 3.25, 0.5]]
    assert panel["x"]["names"] == [[3.0, "three"]]
    ax.set_xscale("log")
    assert drawn(ax)[0]["x"]["names"] == []


@pytest.mark.parametrize("hidden", [True, False])
def test_a_picture_without_axes_has_no_scales(hidden):
    figure = Figure()
    ax = figure.subplots()
    ax.set_axis_on()
    if hidden:
        ax.axis("off")
    svg_of(figure, "a picture")
    assert len(scales_of(figure)) == (0 if hidden else 1)
