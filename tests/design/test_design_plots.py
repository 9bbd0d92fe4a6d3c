"""What the charts of a design draw."""

import numpy as np
import pytest
from matplotlib import pyplot

from oxhue.optics.design.design import design
from oxhue.optics.design.plots import plot_depth, plot_design, plot_tilt


@pytest.fixture(autouse=True)
def no_window():
    yield
    assert pyplot.get_fignums() == []


@pytest.fixture(scope="module")
def found():
    return design("glass", ["R>80% 500..600nm"], ["Al"], effort=3)


def test_a_design_shows_its_spectrum_and_its_goals(found):
    ax = plot_design(found)
    lines = {line.get_label(): line for line in ax.lines}
    goal = lines["R>80% 500..600nm"]
    np.testing.assert_array_equal(goal.get_xydata(), [[500.0, 80.0], [600.0, 80.0]])
    nm = lines["R"].get_xdata()
    inside = (nm >= 500.0) & (nm <= 600.0)
    mean = lines["R"].get_ydata()[inside].mean()
    assert mean == pytest.approx(100.0 * found.designs[0].mean_R, abs=0.1)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("wavelength [nm]", "share of the light [%]")


def test_a_design_is_tilted_and_looked_into(found):
    strip = plot_tilt(found)
    assert strip.get_xlabel() == "angle from square on [°]"
    assert strip.get_xlim() == (0.0, 70.0)
    depth = plot_depth(found)
    assert depth.get_xlim() == (0.0, pytest.approx(found.designs[0].total_nm))
    assert [text.get_text() for text in depth.texts] == ["Al"]
