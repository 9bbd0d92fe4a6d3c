"""How heats, plates and laws are shown: in words and on the axes of charts."""

import math

import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.colors import to_hex

from oxhue.optics.errors import InputError
from oxhue.optics.oxidation.metals import find_metal, metal_names
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.tint.heat_strip import heat_strip, plate_hold
from oxhue.optics.tint.parameters import parameter_row
from oxhue.optics.tint.plots import chart_strip, plot_heats, plot_plate, plot_tint
from oxhue.optics.tint.result import LawParameter
from oxhue.optics.tint.tint import tint


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
        "pace of this kiln", "1 times", "0.905 to 1.11", "2 times", "1 to 2.72",
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
