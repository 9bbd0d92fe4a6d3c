"""What the charts of a map draw."""

from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.colors import to_hex

from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.look.look import look
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
        median_nm=nm, low_nm=nm - 3.0, high_nm=nm + 3.0, order=order, films=("TiO2",), on="Ti",
        pairs=list_film_models(["TiO2"], "Ti"),
    )  # fmt: skip


def test_a_map_shows_thickness_its_shares_and_a_line(field):
    ax = plot_field(field)
    np.testing.assert_array_equal(np.asarray(ax.images[0].get_array()), field.median_nm)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("column [pixels]", "row [pixels]")
    assert 0.0 < ax.get_ylim()[1] < 5.0  # from shortly above where the piece begins
    assert ax.get_ylim()[0] == 30.0
    assert ax.get_xlim() == (0.0, 40.0)
    histogram = plot_histogram(field)
    (bars,) = histogram.collections
    corners = np.array([path.vertices[:4] for path in bars.get_paths()])
    np.testing.assert_array_equal(corners[:, 2, 0] - corners[:, 0, 0], 1.0)
    assert corners[:, 1, 1].sum() == pytest.approx(100.0)
    assert (corners[0, 0, 0], corners[-1, 2, 0]) == (20.0, 60.0)
    for k in (0, -1):  # in the colours the film has there
        seen = look(f"TiO2 {corners[k, 0, 0] + 0.5}nm / Ti").reflected
        assert to_hex(bars.get_facecolor()[k]) == seen.srgb_hex
    assert histogram.get_title() == "TiO2 on Ti: how much of it is how thick"
    profile = plot_profile(field, (0, 10, 39, 10))
    np.testing.assert_allclose(profile.lines[0].get_ydata(), field.median_nm[10])
    assert "[pixels]" in profile.get_xlabel()


def test_a_few_odd_pixels_do_not_widen_the_histogram(field):
    odd = SimpleNamespace(**vars(field) | {"median_nm": field.median_nm.copy()})
    odd.median_nm[-1, -2:] = 240.0
    ax = plot_histogram(odd)
    (bars,) = ax.collections
    assert max(path.vertices[:, 0].max() for path in bars.get_paths()) < 61.0
    assert ax.get_xlabel() == "thickness [nm]; 0.2 % of the piece lies beyond"
    assert plot_histogram(field).get_xlabel() == "thickness [nm]"
