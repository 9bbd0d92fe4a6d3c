"""Neighbours along a line, averaged and separated again."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.gauge.joint.row import PLACES, average_row, separate_spots
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.numerics.integrate import trapezoid

PHOTO = DEFAULTS["photo"]


def _line(count, scatter=0.0):
    x = np.linspace(0.0, 1.0, count)
    lab = np.stack([50.0 + 20.0 * x, 40.0 * x - 10.0, -30.0 * x], axis=1)
    return lab + scatter * np.random.default_rng(2).standard_normal(lab.shape)


def test_places_of_a_straight_run_are_means_of_neighbours():
    lab = _line(192)
    row = average_row(lab, PHOTO)
    assert row.count == 192
    np.testing.assert_array_equal(row.each, np.full(PLACES, 8))
    np.testing.assert_allclose(row.lab, lab.reshape(PLACES, 8, 3).mean(axis=1))
    np.testing.assert_allclose(row.at, 3.5 + 8.0 * np.arange(PLACES))


def test_places_of_a_bent_run_have_the_colours_at_their_middles():
    """A mean over a bent line lies on its inner side, here by a quarter of a ΔE."""

    def colour(at):
        turn = 0.04 * at[:, None] + [0.0, 1.0, 2.5]
        return np.array([60.0, 0.0, 0.0]) + np.array([10.0, 60.0, 40.0]) * np.sin(turn)

    row = average_row(colour(np.arange(192.0)), PHOTO)
    middles = colour(row.at)
    means = colour(np.arange(192.0)).reshape(-1, 8, 3).mean(axis=1)
    assert np.abs(means - middles).max() > 0.25
    np.testing.assert_allclose(row.lab[1:-1], middles[1:-1], atol=0.02)
    np.testing.assert_allclose(row.lab, middles, atol=0.06)


@pytest.mark.parametrize("count", [1, 7, PLACES])
def test_few_spots_are_left_as_they_are(count):
    row = average_row(_line(count), PHOTO)
    np.testing.assert_array_equal(row.lab, _line(count))
    density = np.ones((count, 5)) / 4.0
    assert separate_spots(np.arange(5.0), density, row) is density


def test_a_place_is_halved_where_the_colour_runs_fast():
    x = np.concatenate([np.linspace(0.0, 90.0, 8), 90.0 + 0.1 * np.arange(184)])
    lab = np.stack([50.0 + 0.0 * x, x - 50.0, 0.0 * x], axis=1)
    row = average_row(lab + np.random.default_rng(3).standard_normal(lab.shape), PHOTO)
    assert row.each.sum() == 192
    np.testing.assert_array_equal(row.each[-23:], np.full(23, 8))
    assert row.each[0] <= 2
    assert (np.diff(row.at) > 0.0).all()


def test_neighbours_that_are_none_are_refused():
    lab = _line(96)
    shuffled = np.random.default_rng(1).permutation(lab)
    with pytest.raises(InputError, match=r"scatter by .* where 4\.2 is due"):
        average_row(shuffled, PHOTO)


def test_spots_lie_between_their_places():
    """Normal densities about a straight run: every spot has its own middle and the same width."""
    row = average_row(_line(96), PHOTO)
    nm = np.linspace(0.0, 200.0, 401)
    middle = 50.0 + row.at
    density = np.exp(-0.5 * ((nm - middle[:, None]) / 6.0) ** 2) / (6.0 * np.sqrt(2.0 * np.pi))
    found = separate_spots(nm, density, row)
    mean = trapezoid(found * nm, nm)
    spread = np.sqrt(trapezoid(found * (nm - mean[:, None]) ** 2, nm))
    np.testing.assert_allclose(trapezoid(found, nm), 1.0)
    np.testing.assert_allclose(mean, 50.0 + np.arange(96), atol=0.05)
    np.testing.assert_allclose(spread, 6.0, atol=0.1)


def test_the_first_spots_follow_the_first_two_places():
    """Where thickness rises faster at the near end, spots there lie on its steeper run."""
    row = average_row(_line(96), PHOTO)
    nm = np.linspace(0.0, 400.0, 801)
    middle = 60.0 + 2.0 * row.at + 40.0 * (row.at > row.at[0])
    density = np.exp(-0.5 * ((nm - middle[:, None]) / 6.0) ** 2)
    found = separate_spots(nm, density / trapezoid(density, nm)[:, None], row)
    mean = trapezoid(found * nm, nm)
    expected = np.interp(np.arange(2, 6), row.at[:2], middle[:2])
    np.testing.assert_allclose(mean[2:6], expected, atol=0.2)
