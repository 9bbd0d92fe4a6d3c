"""The fit to test pieces: prior kept without data, orders kept open, known answers found."""

import numpy as np
import pytest

from oxhue.optics.numerics.smc import sample_posterior, square_root
from oxhue.optics.oxidation.calibration import (
    Coupon,
    _SmoothedLikelihood,
    draw_prior,
    fit_law,
    log_predictive,
)
from oxhue.optics.oxidation.growth import grow
from oxhue.optics.oxidation.metals import KilnSpread, find_metal
from oxhue.optics.oxidation.schedule import hold

GRID = np.arange(0.0, 250.5, 0.5)
ONE = np.ones(1)


def measured(heat, nm, sd, kiln=0, films=1):
    curve = np.exp(-0.5 * ((GRID - nm) / sd) ** 2)
    return Coupon(heat, GRID, np.tile(curve, (films, 1)), kiln, optical=False)


def test_tempering_finds_a_normal_posterior():
    # Prior N(0, 1), datum 1.5 with standard deviation 0.5: posterior N(1.2, 0.2), conjugate.
    rng = np.random.default_rng(3)
    draws, log_evidence = sample_posterior(
        lambda z: -0.5 * ((z[:, 0] - 1.5) / 0.5) ** 2, rng.standard_normal((4000, 2)), rng
    )
    assert draws[:, 0].mean() == pytest.approx(1.2, abs=0.05)
    assert draws[:, 0].var() == pytest.approx(0.2, rel=0.12)
    assert draws[:, 1].var() == pytest.approx(1.0, rel=0.12)
    # The evidence is that of N(1.5; 0, 1.25) times sqrt(2 pi) 0.5.
    expected = np.log(0.5) - 0.5 * np.log(1.25) - 0.5 * 1.5**2 / 1.25
    assert log_evidence == pytest.approx(expected, abs=0.08)


def test_tempering_keeps_two_peaks():
    rng = np.random.default_rng(4)

    def log_likelihood(z):
        far = np.minimum(abs(z[:, 0] - 1.5), abs(z[:, 0] + 1.5))
        return -0.5 * (far / 0.1) ** 2

    draws, _ = sample_posterior(log_likelihood, rng.standard_normal((4000, 1)), rng)
    assert np.mean(draws > 0.0) == pytest.approx(0.5, abs=0.06)
    np.testing.assert_allclose(np.abs(draws).mean(), 1.5, atol=0.03)


def test_a_square_root_of_a_singular_covariance():
    covariance = np.array([[4.0, 2.0], [2.0, 1.0]])
    root = square_root(covariance)
    np.testing.assert_allclose(root @ root.T, covariance, atol=1e-12)


def test_evidence_that_says_nothing_leaves_the_prior():
    metal, rng = find_metal("Ti"), np.random.default_rng(1)
    nothing = Coupon(hold(400.0, 1800.0), GRID, np.ones((1, GRID.size)))
    found = fit_law(metal, [nothing], ONE, count=2000, rng=rng)
    prior = draw_prior(metal, ONE, count=2000, rng=rng)
    sd = prior.theta.std(axis=0)
    shift = np.abs(found.draws.theta.mean(axis=0) - prior.theta.mean(axis=0)) / sd
    assert np.all(shift < 0.12)
    np.testing.assert_allclose(found.draws.theta.std(axis=0), sd, rtol=0.12)


def test_measured_pieces_pin_the_kiln():
    metal, rng = find_metal("Ti"), np.random.default_rng(2)
    heats = [hold(c, 1800.0) for c in (380.0, 430.0, 480.0, 530.0)]
    truth = [
        float(grow(metal.regimes, metal.mean[None], heat, start_nm=np.array([2.6]), ln_pace=0.7)[0])
        for heat in heats
    ]
    pieces = [measured(heat, nm, 0.02 * nm) for heat, nm in zip(heats, truth, strict=True)]
    draws = fit_law(metal, pieces, ONE, count=1000, rng=rng).draws
    typical = draws.typical_nm(metal, hold(455.0, 1800.0))
    expected = grow(
        metal.regimes, metal.mean[None], hold(455.0, 1800.0), start_nm=np.array([2.6]), ln_pace=0.7
    )
    assert np.median(typical) == pytest.approx(float(expected[0]), rel=0.06)
    assert typical.std() / typical.mean() < 0.08


def test_orders_stay_open_until_another_piece_decides():
    metal, rng = find_metal("Ti"), np.random.default_rng(5)
    heat = hold(470.0, 1800.0)
    two = np.exp(-0.5 * ((GRID - 30.0) / 2.0) ** 2) + np.exp(-0.5 * ((GRID - 60.0) / 2.0) ** 2)
    ambiguous = Coupon(heat, GRID, two[None], optical=False)

    def thick(draws):
        return float(np.mean(draws.typical_nm(metal, heat) > 45.0))

    open_still = thick(fit_law(metal, [ambiguous], ONE, count=1500, rng=rng).draws)
    assert 0.05 < open_still < 0.95
    decided = fit_law(
        metal, [ambiguous, measured(hold(500.0, 1800.0), 85.0, 3.0)], ONE, count=1500, rng=rng
    )
    assert thick(decided.draws) > max(0.8, open_still)


def test_kilns_of_one_file_keep_their_own_pace():
    metal, rng = find_metal("steel"), np.random.default_rng(6)
    pieces = []
    for kiln, pace in enumerate((-0.5, 0.5)):
        for degrees in (240.0, 270.0, 300.0):
            heat = hold(degrees, 600.0)
            nm = float(
                grow(metal.regimes, metal.mean[None], heat, start_nm=np.array([2.5]), ln_pace=pace)[
                    0
                ]
            )
            pieces.append(measured(heat, nm, 1.0, kiln))
    draws = fit_law(metal, pieces, ONE, count=1000, rng=rng).draws
    apart = draws.pace[:, 1] - draws.pace[:, 0]
    assert np.median(apart) == pytest.approx(1.0, abs=0.25)


def test_a_time_in_doubt_widens_a_kilns_pace():
    metal, rng = find_metal("steel"), np.random.default_rng(7)
    nothing = Coupon(hold(270.0, 600.0), GRID, np.ones((1, GRID.size)))
    levels = KilnSpread((0.1, 0.0), (0.3, 0.0), time_doubt=(0.4,))
    draws = fit_law(metal, [nothing], ONE, count=1500, rng=rng, spread=levels).draws
    assert draws.pace.std() == pytest.approx(0.5, rel=0.1)


def test_the_predictive_density_is_highest_where_the_law_is():
    metal, rng = find_metal("steel"), np.random.default_rng(8)
    draws = draw_prior(metal, ONE, count=500, rng=rng)
    heat = hold(270.0, 600.0)
    middle = float(np.median(draws.thickness_nm(metal, heat, rng)))
    near, far = (
        log_predictive(metal, draws, measured(heat, nm, 2.0)) for nm in (middle, 4.0 * middle)
    )
    assert near > far + 1.0


def test_tempering_leaves_what_is_not_told_as_wide_as_it_was():
    # Five data tell of eight numbers; of the fourteen others, the prior is left.
    told = np.zeros((5, 22))
    told[:, :8] = np.random.default_rng(7).standard_normal((5, 8))
    variance = []
    for seed in range(4):
        rng = np.random.default_rng(seed)
        data = told @ rng.standard_normal(22)
        draws, _ = sample_posterior(
            lambda z, data=data: -0.5 * (((z @ told.T - data) / 0.15) ** 2).sum(axis=1),
            rng.standard_normal((800, 22)), rng, moves=20,
        )  # fmt: skip
        variance.append(draws[:, 8:].var(axis=0).mean())
    assert np.mean(variance) == pytest.approx(1.0, abs=0.025)


@pytest.mark.parametrize(("optical", "left"), [(True, 1.0), (False, 0.0)])
def test_a_film_thicker_than_colours_are_followed_may_have_any(optical, left):
    curve = np.exp(-0.5 * ((GRID - 40.0) / 4.0) ** 2)
    piece = Coupon(hold(500.0, 3600.0), GRID, curve[None], optical=optical)
    table = _SmoothedLikelihood.of(piece)
    film = np.zeros(3, dtype=np.intp)
    read = table.at(film, np.log([40.0, 100.0, 600.0]), np.full(3, 0.1))
    assert read[0] > 5.0
    assert read[1] < 1e-4
    assert read[2] == pytest.approx(left, abs=1e-3)
