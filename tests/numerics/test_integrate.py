"""Sums over a grid."""

import numpy as np
import pytest

from oxhue.optics.numerics.integrate import values_at_middles


@pytest.mark.parametrize("each", [np.full(7, 5), np.array([4, 4, 2, 1, 1, 2, 4])])
def test_values_at_the_middles_of_a_parabola_come_out_of_its_means(each):
    """Exact for even stretches; for uneven ones the neighbours' means bend it a little."""
    ends = np.concatenate([[0], np.cumsum(each)])
    parts = np.split(np.arange(float(ends[-1])), ends[1:-1])
    middle = np.array([part.mean() for part in parts])
    variance = np.array([part.var() for part in parts])

    def curve(x):
        return np.stack([2.0 - 3.0 * x + 0.5 * x**2, x], axis=-1)

    mean = np.array([curve(part).mean(axis=0) for part in parts])
    found = values_at_middles(middle, variance, mean)
    off, was = np.abs(found - curve(middle))[1:-1], np.abs(mean - curve(middle))[1:-1]
    if np.ptp(each) == 0:
        np.testing.assert_allclose(found, curve(middle), atol=1e-12)
    assert off.max() < 0.35 * was.max()


def test_two_means_have_no_bend():
    mean = np.array([1.0, 4.0])
    assert values_at_middles(np.array([0.5, 2.5]), np.full(2, 0.25), mean) is mean


def test_an_end_with_a_much_shorter_neighbour_is_left_as_it_is():
    middle, variance = np.array([3.5, 8.0, 9.0, 10.0]), np.array([5.25, 0.0, 0.0, 0.0])
    mean = np.array([0.0, 1.0, 5.0, 6.0])
    np.testing.assert_array_equal(values_at_middles(middle, variance, mean), mean)
