"""Polynomials through nodes, and places where a condition changes."""

import numpy as np
import pytest

from oxhue.optics.numerics.interpolate import bisect, lagrange, refine_even


def test_a_polynomial_is_given_back_with_its_slope():
    nodes, at = np.array([-0.05, -0.01, 0.02, 0.06]), np.linspace(-0.05, 0.06, 7)
    weights, slopes = lagrange(nodes, at)
    cubic = np.polynomial.Polynomial([0.3, -2.0, 7.0, 11.0])
    np.testing.assert_allclose(weights @ cubic(nodes), cubic(at), rtol=1e-11)
    np.testing.assert_allclose(slopes @ cubic(nodes), cubic.deriv()(at), rtol=1e-9)


def test_the_weights_of_a_single_node_are_one_everywhere():
    weights, slopes = lagrange(np.zeros(1), np.array([-1.0, 2.0]))
    assert weights.tolist() == [[1.0], [1.0]]
    assert slopes.tolist() == [[0.0], [0.0]]


@pytest.mark.parametrize(("count", "every"), [(40, 2), (41, 4), (43, 4), (3, 5)])
def test_even_places_give_those_between(count, every):
    weights = refine_even(count, every, around=6)
    quintic = np.polynomial.Polynomial([0.3, -2.0, 0.7, 0.11, -0.01, 0.0004])
    nodes = every * np.arange(weights.shape[1])
    np.testing.assert_allclose(weights @ quintic(nodes), quintic(np.arange(count)), rtol=1e-9)


def test_intervals_close_in_on_where_a_condition_ends():
    targets = np.array([2.0, 3.0, 50.0, 0.0])
    low, high = bisect(lambda x: x**2 < targets, np.ones(4), np.full(4, 5.0), halvings=40)
    np.testing.assert_allclose(high[:2], np.sqrt(targets[:2]), rtol=1e-11)
    assert np.all(low[:2] ** 2 < targets[:2])
    assert np.all(high[:2] ** 2 >= targets[:2])
    assert high[2] == 5.0, "it holds everywhere: the upper end is never moved"
    assert low[3] == 1.0, "it holds nowhere: the lower end is never moved"


def test_numbers_are_taken_as_arrays_are():
    low, high = bisect(lambda x: x < np.pi, 3, 4.0, halvings=50)
    assert float(low) == pytest.approx(np.pi) == float(high)
