"""Slopes of a merit against differences of what it says a little to either side."""

import numpy as np
import pytest


def assert_slopes_are_those_of_differences(merit, which, films_nm):
    """Of the residuals, and of the light in use, to each thickness."""
    step = 1e-4
    both = films_nm + step * np.stack([np.eye(films_nm.size), -np.eye(films_nm.size)])
    _, slopes = merit.with_slopes(which, films_nm)
    up, down = merit.residuals(which, both)
    assert np.abs(slopes).max() > 0.0
    assert pytest.approx((up - down) / (2.0 * step), rel=1e-5, abs=1e-6) == slopes.T
    _, used, _ = merit.used_with_slopes(which, films_nm)
    up, down = (np.array([merit.used_with_slopes(which, nm)[0] for nm in some]) for some in both)
    assert pytest.approx((up - down) / (2.0 * step), rel=1e-4, abs=1e-5) == used.T
