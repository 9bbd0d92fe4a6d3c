"""Steps between runs: how often they come, what they add up to, which is told."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.numerics.steps import (
    MOST_STEPS,
    exposures,
    likely_step,
    step_paths,
    step_times,
    walk_modes,
)


def draw_paths(chances, count=200_000, size=1.0):
    rng = np.random.default_rng(3)
    exposure = exposures(chances)
    times = step_times(rng.standard_normal((count, MOST_STEPS)), exposure)
    sizes = size * rng.standard_normal((count, MOST_STEPS))
    return step_paths(times, sizes, exposure)


def test_a_step_comes_before_each_run_with_its_own_chance():
    chances = (0.05, 0.1, 0.08)
    moved = np.diff(draw_paths(chances), axis=1) != 0.0
    assert moved.mean(axis=0) == pytest.approx(chances, abs=0.005)
    together = np.mean(moved[:, 0] & moved[:, 2])
    # only the two newest are followed, and three steps in a row are rare
    assert together == pytest.approx(0.05 * 0.08, abs=0.001)


def test_what_is_older_than_the_newest_steps_counts_as_the_beginning():
    moved = np.diff(draw_paths([0.9] * 6), axis=1) != 0.0
    assert moved.sum(axis=1).max() == MOST_STEPS
    assert moved[:, -1].mean() == pytest.approx(0.9, abs=0.005)


def test_no_run_has_no_step():
    assert np.all(draw_paths([]) == 0.0)


def test_the_first_run_is_where_paths_begin():
    paths = draw_paths([0.3, 0.3], size=2.0)
    assert np.all(paths[:, 0] == 0.0)
    assert paths[:, -1].var() == pytest.approx(2.0 * -np.log(0.7) * 4.0, rel=0.1)


def test_a_step_that_most_draws_took_is_told_with_its_place_and_size():
    rng = np.random.default_rng(4)
    paths = np.zeros((400, 6))
    place = np.where(rng.random(400) < 0.7, 3, 2)
    for row, first in enumerate(place):
        paths[row, first:] = 1.1
    paths[:20] = 0.0
    step = likely_step(paths)
    assert step is not None
    assert step.place == 3
    assert step.odds == pytest.approx(0.95 / 0.05, rel=0.01)
    assert step.ln_factor == pytest.approx(1.1)


def test_steps_that_few_draws_took_or_that_are_small_are_not_told():
    paths = np.zeros((400, 6))
    paths[:150, 3:] = 1.1
    assert likely_step(paths) is None
    assert likely_step(np.tile([0.0, 0.2, 0.2], (50, 1))) is None
    assert likely_step(np.zeros((50, 1))) is None


def test_a_walk_of_few_runs_is_one_exactly():
    modes = walk_modes(5, 6)
    assert modes.shape == (4, 5)
    covariance = modes.T @ modes  # of a random walk: the smaller of the two places
    np.testing.assert_allclose(covariance, np.minimum.outer(np.arange(5), np.arange(5)), atol=1e-12)


def test_a_long_walk_keeps_its_slow_swings():
    modes = walk_modes(101, 6)
    assert modes.shape == (6, 101)
    kept = np.sum(modes**2) / np.sum(np.arange(101))
    assert 0.95 < kept < 1.0


def test_nothing_walks_before_a_second_run():
    assert walk_modes(1, 6).shape == (0, 1)
