"""The normal law against SciPy's, which is not imported for it elsewhere."""

import numpy as np
import pytest
from scipy.special import log_ndtr, ndtr, ndtri

from oxhue.optics.numerics.normal_law import (
    normal_cdf,
    normal_density,
    normal_log_cdf,
    normal_quantile,
)


def test_chance_below_to_the_last_digits() -> None:
    z = np.concatenate([np.linspace(-37.0, 37.0, 20_001), np.linspace(-1.0, 1.0, 2_001)])
    np.testing.assert_allclose(normal_cdf(z), ndtr(z), rtol=4e-15, atol=0.0)


def test_logarithm_of_a_chance_to_the_last_digits() -> None:
    z = np.concatenate([np.linspace(-60.0, 37.0, 20_001), [-1e5, -1e150, 1e150]])
    np.testing.assert_allclose(normal_log_cdf(z), log_ndtr(z), rtol=2e-14, atol=0.0)
    np.testing.assert_array_equal(normal_log_cdf([-np.inf, np.inf]), [-np.inf, 0.0])


def test_value_of_a_chance_to_the_last_digits() -> None:
    p = np.concatenate([np.linspace(1e-6, 1.0 - 1e-6, 20_000), 10.0 ** -np.arange(1.0, 300.0)])
    np.testing.assert_allclose(normal_quantile(p), ndtri(p), rtol=4e-15, atol=1e-15)


@pytest.mark.parametrize("shape", [(), (3,), (2, 5), (0,)])
def test_shape_is_kept(shape: tuple[int, ...]) -> None:
    assert normal_cdf(np.zeros(shape)).shape == shape
    assert normal_log_cdf(np.zeros(shape)).shape == shape
    assert normal_quantile(np.full(shape, 0.3)).shape == shape


def test_ends() -> None:
    np.testing.assert_array_equal(normal_cdf([-np.inf, 0.0, np.inf]), [0.0, 0.5, 1.0])
    np.testing.assert_array_equal(normal_quantile([0.0, 0.5, 1.0]), [-np.inf, 0.0, np.inf])


def test_density_is_the_slope_of_the_chance() -> None:
    z = np.linspace(-3.0, 3.0, 13)
    slope = (normal_cdf(z + 1e-5) - normal_cdf(z - 1e-5)) / 2e-5
    np.testing.assert_allclose(normal_density(z), slope, rtol=1e-9)
