"""How heats, plates and laws are shown: in words and on the axes of charts."""

import math
import re
from importlib.resources import files

import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.colors import to_hex

from oxhue.optics.errors import InputError
from oxhue.optics.oxidation.metals import find_metal, metal_names
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.tint.heat_strip import heat_strip, plate_hold
from oxhue.optics.tint.parameters import parameter_row
from oxhue.optics.tint.plots import (
    chart_overview,
    chart_strip,
    plot_heats,
    plot_plate,
    plot_tint,
    plot_volts,
)
from oxhue.optics.tint.result import LawParameter
from oxhue.optics.tint.tint import tint
from oxhue.optics.tint.volt_chart import volt_chart


@pytest.fixture(autouse=True)
def no_window():
    yield
    assert pyplot.get_fignums() == []


def test_a_heat_shows_where_pieces_come_out():
    held = tint("Ti", hold(450.0, 1200.0))
    ax = plot_tint(held)
    assert sum(bar.get_height() for bar in ax.patches) == pytest.approx(100.0)
    bar = max(ax.patches, key=lambda one: one.get_height())
    middle_nm = bar.get_x() + bar.get_width() / 2
    assert to_hex(bar.get_facecolor()) == held.palette.colour_at(middle_nm)[0]
    dashed = [line.get_xdata()[0] for line in ax.lines if line.get_linestyle() == "--"]
    assert dashed == list(held.interval90_nm)
    assert to_hex(ax.lines[-1].get_color()) == held.srgb_hex
    assert (ax.get_xlabel(), ax.get_ylabel()) == (
        "thickness of TiO2 [nm]", "share of pieces [%]",
    )  # fmt: skip


def test_a_plate_shows_its_strip_of_colours():
    held = tint("Ti", hold(450.0, 1200.0), plate_C=np.linspace(250.0, 450.0, 11))
    figure = held.document().figures[0].draw()
    strip, below = figure.axes
    shown = np.asarray(strip.images[0].get_array())[0] if strip.images else None
    colours = [
        to_hex(one)
        for one in (shown if shown is not None else strip.collections[0].get_facecolor())
    ]
    assert colours[0] == held.plate[0].srgb_hex
    assert colours[-1] == held.plate[-1].srgb_hex
    line = below.lines[0]
    np.testing.assert_allclose(line.get_ydata(), [one.thickness_nm for one in held.plate])
    with pytest.raises(InputError, match="no plate"):
        plot_plate(tint("Ti", hold(450.0, 1200.0)))


def test_heats_show_a_colour_a_cell_and_mark_one():
    strip = heat_strip("Ti")
    ax = plot_heats(strip)
    shown = np.asarray(ax.collections[0].get_array()).reshape(-1, 3)
    assert [to_hex(one) for one in shown] == [str(one) for one in strip.srgb_hex.ravel()]
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("time [min]", "temperature [°C]")
    ticks = [label.get_text() for label in ax.get_xticklabels()]
    np.testing.assert_allclose(np.exp(ax.get_xticks()), [float(tick) for tick in ticks])
    marked = chart_strip(strip, (20.0, 450.0)).axes[0].lines[-1]
    assert (marked.get_xdata()[0], marked.get_ydata()[0]) == (np.log(20.0), 450.0)
    beyond = chart_strip(strip, (20.0, 450.0), (60.0, 430.0), (1e4, 450.0)).axes[0]
    assert len(beyond.lines) == 2 * 2  # each ring on its white ground; the third is off the strip


def boxes_of(ax, texts):
    ax.figure.draw_without_rendering()
    return [one.get_window_extent() for one in texts]


def test_names_of_colours_and_thicknesses_do_not_lie_over_one_another():
    ax = chart_overview(heat_strip("Ti")).axes[0]
    nm = [one for one in ax.texts if one.get_text().endswith(" nm")]
    names = [one for one in ax.texts if one not in nm and "vivid" not in one.get_text()]
    assert min(len(nm), len(names)) > 5
    boxes = boxes_of(ax, [*nm, *names])
    for box in boxes[: len(nm)]:
        assert not any(box.overlaps(other) for other in boxes[len(nm) :])
    assert all(one.get_path_effects() for one in names)  # no line runs through a name


def test_names_on_a_chart_of_volts_lie_where_its_lines_are_not():
    chart = volt_chart("Nb")
    ax = plot_volts(chart)
    to_data = ax.transData.inverted()
    for box in boxes_of(ax, ax.texts):
        (left, low), (right, high) = to_data.transform(box.corners()[[0, -1]])
        if low < 0.0:
            continue  # what the line at the top means, below the axis
        volts = np.linspace(left, right, 5)
        within = [np.interp(volts, chart.volts, edge) for edge in chart.interval90_nm.T]
        assert high < within[0].min() or low > within[1].max()


@pytest.mark.parametrize("name", metal_names())
def test_every_parameter_of_a_law_has_words_and_a_unit(name):
    metal = find_metal(name)
    several = len(metal.regimes) > 1
    for regime in metal.regimes:
        for name in regime.parameters:
            one = LawParameter(name, regime, 1.0, (0.5, 1.5), 1.1, (0.4, 1.6))
            words, value, *_ = parameter_row(one, several)
            assert "_" not in words
            assert "{" not in words + value
            fixed = name == "ln_shape" and not regime.law.shape  # it is left out of the table
            assert fixed or value.split()[1:] or "exponent" in words
            assert (f"{regime.range_C[1]:g} °C" in words) or not several


def test_logarithms_are_shown_as_what_they_are_of():
    one = LawParameter("ln_pace", None, 0.0, (-0.1, 0.1), math.log(2.0), (0.0, 1.0))
    assert parameter_row(one, True) == (
        "pace beside the fitted law", "1 times", "0.905 to 1.11", "2 times", "1 to 2.72",
    )  # fmt: skip


def test_places_on_a_plate_come_in_millimetres_where_its_length_is_known():
    bare = plate_hold("Ti", "straw", "blue", time="20min").to_dict()["plate"]
    held = plate_hold("Ti", "straw", "blue", time="20min", along_mm=200.0)
    assert all(point["position_mm"] is None for point in bare)
    assert [point.position_mm for point in held.plate] == pytest.approx(
        [200.0 * point["position"] for point in bare]
    )
    assert isinstance(bare[0]["interval90_nm"], list)
    assert "200 mm" in held.summary()


@pytest.mark.parametrize(
    "table", ["oxidation/metals.toml", "tint/weld.toml", "films/materials/stand_ins.toml"]
)
def test_sources_are_named_as_people_cite_them_and_no_site_is_advertised(table):
    said = files("oxhue.optics").joinpath(table).read_text(encoding="utf-8")
    assert re.findall(r"\b[\w-]+\.(?:com|org|net|info|co\.\w\w|ac\.\w\w|de|uk)\b", said) == []
