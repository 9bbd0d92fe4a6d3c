"""The least of a function between bounds, against SciPy's."""

import numpy as np
import pytest
from scipy.optimize import Bounds, minimize, rosen, rosen_der

from oxhue.optics.numerics.descent import minimise_between


def least(function, slopes, start, lower, upper):
    return minimise_between(
        lambda x: (float(function(x)), slopes(x)), start,
        lower=lower, upper=upper, steps=400, stride=1.0, still=1e-14,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_a_parabola_ends_where_scipy_ends(seed):
    rng = np.random.default_rng(seed)
    root, middle = rng.standard_normal((9, 9)), rng.uniform(-2.0, 2.0, 9)
    matrix = root @ root.T + 0.1 * np.eye(9)
    lower, upper = np.full(9, -1.0), rng.uniform(-0.5, 1.0, 9)

    def value(x):
        return 0.5 * (x - middle) @ matrix @ (x - middle)

    def slopes(x):
        return matrix @ (x - middle)

    start = rng.uniform(lower, upper)
    found = least(value, slopes, start, lower, upper)
    bounds = Bounds(lower, upper)
    known = minimize(
        value, start, jac=slopes, bounds=bounds, method="L-BFGS-B",
        options={"ftol": 1e-15, "gtol": 1e-11, "maxiter": 2000, "maxfun": 20_000},
    )  # fmt: skip
    np.testing.assert_allclose(found, known.x, atol=2e-5)
    assert value(found) <= known.fun * (1.0 + 1e-9)
    assert ((found >= lower) & (found <= upper)).all()


def test_a_bent_valley_is_followed_to_its_end():
    wide = np.full(4, 5.0)
    found = least(rosen, rosen_der, np.array([-1.2, 1.0, -0.5, 2.0]), -wide, wide)
    assert rosen(found) < 1e-12 or abs(found[0] + 1.0) < 0.3  # its one other valley


def test_a_start_at_the_least_stays():
    one = np.ones(3)
    np.testing.assert_array_equal(least(rosen, rosen_der, one, -2 * one, 2 * one), one)
    np.testing.assert_array_equal(least(np.sum, np.ones_like, one, one, 2 * one), one)


def test_a_start_outside_is_taken_in():
    lower, upper = np.array([1.0, 1.0]), np.array([2.0, 3.0])
    found = least(lambda x: x @ x, lambda x: 2.0 * x, np.array([9.0, -9.0]), lower, upper)
    np.testing.assert_allclose(found, lower, atol=1e-9)
