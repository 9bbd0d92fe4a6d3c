"""What the charts of a fitted spectrum draw."""

from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib import pyplot

from oxhue.optics.spectrum.plots import plot_fit, plot_residual


@pytest.fixture(autouse=True)
def no_window():
    yield
    assert pyplot.get_fignums() == []


def test_a_spectrum_shows_readings_model_and_rest():
    nm = np.array([400.0, 500.0, 600.0])
    fit = SimpleNamespace(
        wavelength_nm=nm, value=np.array([0.2, 0.3, 0.4]), curve=np.array([0.21, 0.3, 0.39]),
        residual=np.array([-0.01, 0.0, 0.01]), fits=True, no_film_needed=False, thickness_nm=52.0,
        interval90_nm=(51.0, 53.0),
    )  # fmt: skip
    ax = plot_fit(fit)
    assert [line.get_label() for line in ax.lines] == ["measured", "best model"]
    np.testing.assert_allclose(ax.lines[1].get_ydata(), 100.0 * fit.curve)
    rest = plot_residual(fit)
    np.testing.assert_allclose(rest.lines[-1].get_ydata(), 100.0 * fit.residual)
    assert rest.get_ylabel() == "residual [%]"
