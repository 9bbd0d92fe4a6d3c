"""Least squares of many designs at once, and the random designs it starts from."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.least_squares import descend
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.sampling import half_waves_nm, sample_designs
from oxhue.optics.design.starts import caps_nm, middle_nm
from oxhue.optics.design.state import Limits, SearchState, enforce_limits_all
from oxhue.optics.films.notation import parse_medium, parse_stack

MERIT = make_merit(
    parse_stack("n=1.52"), [parse_medium("n=1.38"), parse_medium("n=2.35")],
    [parse_goal("R=0% 400..700nm")],
)  # fmt: skip
ORDER = np.array([0, 1, 0, 1])
RNG = np.random.default_rng(3)
STARTS = RNG.uniform(5.0, 150.0, (24, 4))


def settled(thickness_nm, steps=300, lower=5.0, upper=200.0):
    which = np.tile(ORDER, (len(thickness_nm), 1))
    return descend(
        MERIT, which, thickness_nm, lower_nm=lower, upper_nm=upper, steps=steps, stop=1e-10
    )


def test_each_of_many_descends_as_it_would_alone():
    together, merits = settled(STARTS, steps=15)
    for i in (0, 7, 23):
        alone, merit = settled(STARTS[i : i + 1], steps=15)
        np.testing.assert_allclose(together[i], alone[0], rtol=1e-6)
        assert merits[i] == pytest.approx(merit[0], rel=1e-6)


def test_it_ends_no_higher_than_a_general_least_squares_from_the_same_start():
    # scipy's trust region reflective is the reference; valleys may differ, so the best are compared
    # and most ends must be no worse.
    nm, merits = settled(STARTS)
    general = np.array([
        np.sqrt(2.0 * least_squares(
            lambda x: MERIT.residuals(ORDER, x), start, bounds=(5.0, 200.0),
            jac=lambda x: MERIT.with_slopes(ORDER, x)[1], x_scale="jac", max_nfev=200,
        ).cost)
        for start in STARTS
    ])  # fmt: skip
    assert merits.min() <= general.min() + 1e-4
    assert np.mean(merits <= general + 1e-3) > 0.6
    np.testing.assert_allclose(MERIT.values(ORDER, nm), merits, rtol=1e-9)


def test_ends_are_least_within_their_bounds():
    nm, merits = settled(STARTS, lower=20.0, upper=90.0)
    assert nm.min() >= 20.0
    assert nm.max() <= 90.0
    best = nm[np.argmin(merits)]
    residuals, slopes = MERIT.with_slopes(ORDER, best)
    pull = slopes.T @ residuals
    free = (best > 20.0) & (best < 90.0)
    assert free.any()
    assert np.abs(pull[free]).max() < 1e-4
    assert np.all(pull[best <= 20.0] >= 0.0)
    assert np.all(pull[best >= 90.0] <= 0.0)


def test_what_misses_nothing_stays_where_it_is():
    easy = make_merit(MERIT.base, MERIT.palette, [parse_goal("R<90% 500nm")])
    nm, merits = descend(
        easy, ORDER[None], STARTS[:1], lower_nm=5.0, upper_nm=200.0, steps=20, stop=1e-8
    )
    assert merits[0] == 0.0
    np.testing.assert_array_equal(nm, STARTS[:1])


def bench(most=6, thinnest=8.0):
    return SearchState(MERIT, Limits(most, thinnest, 150.0), caps_nm(MERIT), 100)


def test_random_designs_keep_to_the_number_of_layers_and_have_no_equal_neighbours():
    one = bench()
    half = half_waves_nm(one, middle_nm(MERIT))
    first = sample_designs(one, 40, half_nm=half, rng=np.random.default_rng(1))
    assert len(first) == 40
    assert {int(design.which[0]) for design in first} == set(range(len(MERIT.palette)))
    for design in first:
        assert design.which.size == 6
        assert np.all(np.diff(design.which) != 0)
        assert design.thickness_nm.min() > 0.0
    again = sample_designs(bench(), 40, half_nm=half, rng=np.random.default_rng(1))
    assert all(
        np.array_equal(a.thickness_nm, b.thickness_nm) for a, b in zip(first, again, strict=True)
    )


def test_many_made_makeable_together_keep_to_the_limits():
    one = bench()
    half = half_waves_nm(one, middle_nm(MERIT))
    made = enforce_limits_all(
        one, sample_designs(one, 12, half_nm=half, rng=np.random.default_rng(1))
    )
    assert len(made) == 12
    for design in made:
        assert design.thickness_nm.min() >= 8.0 - 1e-9
        assert design.thickness_nm.max() <= 150.0 + 1e-9
        assert np.all(np.diff(design.which) != 0)
