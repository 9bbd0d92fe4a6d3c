"""What the charts of a map draw."""

from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib import pyplot

from oxhue.optics.thickness_map.plots import plot_field, plot_histogram, plot_profile


@pytest.fixture(autouse=True)
def no_window():
    yield
    assert pyplot.get_fignums() == []


@pytest.fixture(scope="module")
def field():
    nm = np.tile(np.linspace(20.0, 59.0, 40, dtype=np.float32), (30, 1))
    order = np.ones(nm.shape, dtype=np.uint8)
    nm[:5], order[:5] = np.nan, 0
    return SimpleNamespace(
        median_nm=nm, low_nm=nm - 3.0, high_nm=nm + 3.0, order=order, films=("TiO2",), on="Ti"
    )


def test_a_map_shows_thickness_its_shares_and_a_line(field):
    ax = plot_field(field)
    np.testing.assert_array_equal(np.asarray(ax.images[0].get_array()), field.median_nm)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("column [pixels]", "row [pixels]")
    histogram = plot_histogram(field)
    values, edges, _ = histogram.patches[0].get_data()
    assert np.sum(values * np.diff(edges)) == pytest.approx(100.0)
    assert (edges[0], edges[-1]) == (20.0, 60.0)
    profile = plot_profile(field, (0, 10, 39, 10))
    np.testing.assert_allclose(profile.lines[0].get_ydata(), field.median_nm[10])
    assert "[pixels]" in profile.get_xlabel()
