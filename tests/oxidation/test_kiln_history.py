"""How a kiln may change from heat to heat: its numbers against what they stand for."""

from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.numerics.steps import MOST_STEPS
from oxhue.optics.oxidation.kiln_history import (
    DRIFT_K,
    MISREAD,
    MISREAD_DOUBT,
    STEP_CHANCE,
    WALK_K,
    KilnHistory,
    pace_per_K,
)
from oxhue.optics.oxidation.laws import GAS_CONSTANT_J_MOL_K
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.schedule import hold


def test_a_kelvin_is_worth_what_the_activation_energy_says():
    # d ln k / dT = E / (R T²) at the reference, where the curvature has no part
    (regime,) = find_metal("Ti").regimes
    kelvin = regime.reference_C + 273.15
    expected = 1000.0 * regime.mean[1] / (GAS_CONSTANT_J_MOL_K * kelvin**2)
    one = pace_per_K(find_metal("Ti"), [hold(regime.reference_C, 600.0)])
    assert one == pytest.approx(expected, rel=1e-3)


def test_the_law_that_holds_at_the_heats_is_asked():
    cool, hot = find_metal("Ti"), find_metal("Ti-hot")
    both = replace(cool, regimes=(*cool.regimes, *hot.regimes))
    low, high = hold(500.0, 600.0), hold(750.0, 600.0)
    assert pace_per_K(both, [low]) == pace_per_K(cool, [low])
    assert pace_per_K(both, [high]) == pace_per_K(hot, [high])
    assert pace_per_K(both, [low, high]) == pace_per_K(cool, [hold(625.0, 600.0)])


def test_nothing_happens_to_a_kiln_in_the_middle_of_all_doubts():
    history = KilnHistory(5, 0.03)
    middle = np.zeros((1, history.size))
    assert np.all(history.walk(middle) == 0.0)
    assert np.all(history.drift(middle) == 0.0)
    assert np.all(history.paths(middle) == 0.0)
    assert history.misread(middle) == pytest.approx(MISREAD)


def test_draws_step_drift_walk_and_misread_as_often_and_far_as_is_stated():
    history, rng = KilnHistory(5, 0.03), np.random.default_rng(2)
    z = rng.standard_normal((40_000, history.size))
    stepped = np.diff(history.steps(z), axis=1) != 0.0
    assert stepped.mean() == pytest.approx(STEP_CHANCE, rel=0.1)
    assert history.drift(z).std() == pytest.approx(DRIFT_K * 0.03, rel=0.03)
    usual = z.copy()
    usual[:, 2 * MOST_STEPS + 1] = 0.0  # the deviation of the walk at its median
    each = np.diff(history.walk(usual), axis=1).std(axis=0)
    np.testing.assert_allclose(each, WALK_K * 0.03, rtol=0.03)
    odds = history.misread(z) / (1.0 - history.misread(z))
    assert np.log(odds).std() == pytest.approx(MISREAD_DOUBT, rel=0.03)
    assert np.all(history.paths(z)[:, 0] == 0.0)  # nothing comes before the first heat
