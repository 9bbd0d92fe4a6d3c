"""A strip of colours: each where its thickness is, named where there is room."""

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.colors import to_rgb

from oxhue import gauge, heat_strip, look, volt_chart
from oxhue.optics.gauge.plots import plot_film_colours
from oxhue.optics.look.plots import plot_colours
from oxhue.optics.report.strips import mark_vivid, plot_ramp
from oxhue.optics.report.style import (
    contrasting_ink,
    edges_of,
    line_styles,
    new_axes,
    new_figure,
    style_axes,
)
from oxhue.optics.tint.plots import plot_heats, plot_volts
from tests.kept_numbers import assert_as_kept, look_of


@pytest.fixture(autouse=True)
def closed():
    yield
    plt.close("all")


def named(axes):
    return [(text.get_text(), *text.get_position()) for text in axes.texts]


def test_colours_lie_between_their_edges_and_names_in_the_middle_of_theirs():
    nm = np.array([0.0, 10.0, 20.0, 30.0])
    hexes = ["#ffffff", "#ffffff", "#202020", "#ff0000"]
    axes = plot_ramp(nm, hexes, ["white", "white", "black", "red"])
    edges = edges_of(nm)
    assert axes.get_xlim() == (edges[0], edges[-1])
    assert named(axes) == [
        ("white", 0.5 * (edges[0] + edges[2]), 0.5),
        ("black", 0.5 * (edges[2] + edges[3]), 0.5),
        ("red", 0.5 * (edges[3] + edges[4]), 0.5),
    ]
    (image,) = axes.images or axes.collections
    drawn = np.asarray(image.get_array())[..., :3].reshape(-1, 3)
    wanted = np.array([to_rgb(one) for one in hexes])
    np.testing.assert_allclose(drawn / (255.0 if drawn.max() > 1.0 else 1.0), wanted, atol=1 / 255)
    assert [text.get_color() for text in axes.texts] == [
        contrasting_ink(np.array(to_rgb(one))) for one in ("#ffffff", "#202020", "#ff0000")
    ]
    assert all(text.get_rotation() == 90.0 for text in axes.texts)
    assert list(axes.get_yticks()) == []
    assert not axes.spines["left"].get_visible()


def test_a_name_returns_where_its_colour_does():
    axes = plot_ramp([0.0, 1.0, 2.0], ["#ff0000", "#0000ff", "#ff0000"], ["red", "blue", "red"])
    assert [one[0] for one in named(axes)] == ["red", "blue", "red"]


def test_what_is_narrower_than_a_letter_is_not_named():
    count = 100
    names = ["gold"] * 50 + ["thin"] + ["blue"] * 49
    axes = plot_ramp(np.arange(count), ["#808080"] * count, names)
    assert [one[0] for one in named(axes)] == ["gold", "blue"]
    names[51] = "thin"
    axes = plot_ramp(np.arange(count), ["#808080"] * count, names)
    assert [one[0] for one in named(axes)] == ["gold", "thin", "blue"]


def test_it_is_drawn_on_axes_that_are_given():
    _, axes = plt.subplots()
    assert plot_ramp([0.0, 1.0], ["#ff0000", "#0000ff"], ["red", "blue"], ax=axes) is axes
    alone = plot_ramp([0.0, 1.0], ["#ff0000", "#0000ff"], ["red", "blue"])
    assert tuple(alone.get_figure().get_size_inches()) == (8.0, 1.6)


def test_what_no_screen_shows_has_a_line_above_it_and_words():
    nm, hexes = np.array([0.0, 10.0, 20.0, 30.0, 40.0]), ["#808080"] * 5
    axes = plot_ramp(nm, hexes, hexes, in_gamut=[True, False, False, True, False])
    assert [tuple(line.get_xdata()) for line in axes.lines] == [(5.0, 25.0), (35.0, 40.0)]
    assert vivid_words(axes) == ["line at the top: more vivid than a screen can show"]
    plain = plot_ramp(nm, hexes, hexes, in_gamut=[True] * 5)
    assert not plain.lines
    assert vivid_words(plain) == []


def test_several_rows_have_their_lines_at_their_own_tops_and_words_once():
    axes = plot_ramp([0.0, 1.0], ["#ff0000", "#0000ff"], ["red", "blue"])
    inside = np.array([[True, False], [True, True], [False, True]])
    mark_vivid(axes, np.array([0.0, 1.0, 2.0]), inside, tops=[0.0, -1.0, -2.0])
    assert [(tuple(one.get_xdata()), one.get_ydata()[0]) for one in axes.lines] == [
        ((1.0, 2.0), 0.0), ((0.0, 1.0), -2.0),
    ]  # fmt: skip
    assert len(vivid_words(axes)) == 1


def vivid_words(axes):
    return [text for one in axes.texts if "vivid" in (text := one.get_text())]


@pytest.mark.parametrize(
    ("draw", "mark"),
    [
        (lambda: plot_colours(look("TiO2 0..250nm step 5nm / Ti")), "line at the top"),
        (lambda: plot_colours(look("TiO2 0..100nm step 5nm / Ti")), None),
        (lambda: plot_film_colours(gauge("TiO2", "Ti", "purple")), "line at the top"),
        (lambda: plot_volts(volt_chart("Nb")), "line at the top"),
        (lambda: plot_heats(heat_strip("Ti", rows=40, times=["2h", "3h"])), "dotted"),
    ],
    ids=["sweep", "sweep that fits", "film", "volts", "heats"],
)
def test_every_chart_of_colours_says_where_no_screen_shows_them(draw, mark):
    wanted = [] if mark is None else [f"{mark}: more vivid than a screen can show"]
    assert vivid_words(draw()) == wanted


def test_strips_and_axes_look_as_they_did():
    hexes, names = ["#ffffff", "#202020", "#ff0000"], ["white", "black", "red"]
    strip = plot_ramp([10.0, 20.0, 30.0], hexes, names, in_gamut=[True, False, True])
    assert_as_kept("chart-strip", look_of(strip.figure))
    (mark,) = strip.lines  # two points and a half above the strip
    height = mark.get_transform().transform((20.0, 1.0))[1] - strip.transAxes.transform((0, 1))[1]
    assert height / strip.figure.dpi * 72.0 == pytest.approx(2.5)
    figure, (upper, lower) = new_figure(6.0, 5.0, [2.0, 1.0], share=True)
    for ax, styles in ((upper, line_styles(12)), (lower, line_styles(1))):
        for i, style in enumerate(styles):
            ax.plot([0.0, 1.0], [i, i], label=f"{i}", **style)
        ax.set(xlabel="across", ylabel="up", title="all")
        style_axes(ax, grid="x" if ax is lower else "both", legend=ax is upper)
    assert_as_kept("chart-axes", look_of(figure))
    assert upper.get_window_extent().height > 1.5 * lower.get_window_extent().height
    assert upper.get_shared_x_axes().joined(upper, lower)
    assert [ax.figure.get_size_inches().tolist() for ax in (new_axes(), strip)] == [
        [7.0, 4.2], [8.0, 1.6]
    ]  # fmt: skip
