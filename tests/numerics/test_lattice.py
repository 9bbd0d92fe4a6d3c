"""Fields on a lattice against the general library."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import ndimage

from oxhue.optics.numerics.lattice import (
    blur_field,
    interpolate_lattice,
    label_regions,
    nearest_inside,
)

FIELD = np.random.default_rng(1).random((9, 13, 11))


@pytest.mark.parametrize("spread", [[0.4, 2.0, 1.1], [3.0, 3.0, 6.0]])
def test_a_field_is_smoothed_as_elsewhere(spread):
    expected = ndimage.gaussian_filter(FIELD, spread, mode="nearest")
    np.testing.assert_allclose(blur_field(FIELD, spread), expected, rtol=1e-12)


def test_a_field_is_read_between_and_beyond_its_places():
    place = np.random.default_rng(2).uniform(-3.0, 15.0, (4, 50, 3))
    expected = ndimage.map_coordinates(FIELD, place.reshape(-1, 3).T, order=1, mode="nearest")
    np.testing.assert_allclose(interpolate_lattice(FIELD, place).ravel(), expected, rtol=1e-12)
    np.testing.assert_array_equal(
        interpolate_lattice(FIELD, np.array([8.0, 12.0, 10.0])), FIELD[-1, -1, -1]
    )


@given(arrays(bool, st.tuples(*[st.integers(1, 7)] * 3)).filter(np.any))
@settings(deadline=None, max_examples=50)
def test_none_inside_is_nearer(inside):
    found = np.array(nearest_inside(inside))
    assert inside[tuple(found)].all()
    squares = ((found - np.indices(inside.shape)) ** 2).sum(axis=0)
    expected = ndimage.distance_transform_edt(~inside)
    np.testing.assert_allclose(np.sqrt(squares), expected, rtol=1e-12)


@given(arrays(bool, st.tuples(st.integers(1, 9), st.integers(1, 9))))
@settings(deadline=None, max_examples=100)
def test_regions_are_those_found_elsewhere(inside):
    found, count = label_regions(inside)
    expected, many = ndimage.label(inside)
    assert count == many
    np.testing.assert_array_equal(found > 0, inside)
    pairs = {(a, b) for a, b in zip(found.ravel(), expected.ravel(), strict=True)}
    assert len(pairs) == len({a for a, _ in pairs}) == len({b for _, b in pairs})
