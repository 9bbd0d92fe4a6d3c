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
    ax.set(xlabel="wavelength [nm]", xlim=(400.0, 600.0))
    (panel,) = drawn(ax)
    left, top, right, bottom = panel["box"]
    assert 0.0 < left < right < 1.0
    assert 0.0 < top < bottom < 1.0
    x = panel["x"]
    assert (x["label"], x["low"], x["high"]) == ("wavelength [nm]", 400.0, 600.0)
    assert x["names"] == []
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


@pytest.mark.parametrize("hidden", [True, False])
def test_a_picture_without_axes_has_no_scales(hidden):
    figure = Figure()
    ax = figure.subplots()
    ax.set_axis_on()
    if hidden:
        ax.axis("off")
    svg_of(figure, "a picture")
    assert len(scales_of(figure)) == (0 if hidden else 1)
