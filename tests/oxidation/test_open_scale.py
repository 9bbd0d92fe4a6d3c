"""A kiln whose scale lets air through is told from one whose scale protects."""

import numpy as np
import pytest

from oxhue.optics.oxidation.calibration import Coupon, draw_prior, fit_law
from oxhue.optics.oxidation.growth import grow
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.open_scale import fit_either_law, open_scale
from oxhue.optics.oxidation.schedule import hold

ONE = np.ones(1)
GRID = np.linspace(0.0, 400.0, 1601)
HEATS = [(380.0, 20.0), (420.0, 20.0), (450.0, 20.0), (420.0, 60.0), (450.0, 90.0)]


def measured(heat, nm, sd_nm):
    likelihood = np.exp(-0.5 * ((GRID - nm) / sd_nm) ** 2)
    return Coupon(heat, GRID, likelihood[None], optical=False)


def pieces_of(metal, theta):
    found = []
    for degrees, minutes in HEATS:
        heat = hold(degrees, 60.0 * minutes)
        nm = float(grow(metal.regimes, theta[None], heat, start_nm=np.array([2.6]))[0])
        found.append(measured(heat, nm, 0.04 * nm))
    return found


def either(pieces, metal, seed=3):
    return fit_either_law(
        metal, pieces, ONE, count=500,
        rng=np.random.default_rng(seed), open_rng=np.random.default_rng(seed + 1),
    )  # fmt: skip


def test_pieces_in_proportion_to_time_show_an_open_scale():
    metal = find_metal("Ti")
    theta = open_scale(metal).mean.copy()
    theta[3] = 0.0  # linear growth
    fit, probability = either(pieces_of(metal, theta), metal)
    assert probability > 0.9
    assert np.median(np.exp(fit.draws.theta[:, 3])) == pytest.approx(1.0, abs=0.35)
    long = hold(450.0, 9000.0)
    true = float(grow(metal.regimes, theta[None], long, start_nm=np.array([2.6]))[0])
    low, high = np.quantile(fit.draws.typical_nm(metal, long), [0.05, 0.95])
    assert low < true < high


def test_a_kiln_whose_scale_protects_comes_out_as_by_the_shipped_law_alone():
    metal = find_metal("Ti")
    pieces = pieces_of(metal, metal.mean)
    fit, probability = either(pieces, metal)
    alone = fit_law(metal, pieces, ONE, count=500, rng=np.random.default_rng(3))
    assert probability < 1e-3
    assert np.array_equal(fit.draws.theta, alone.draws.theta)


def test_one_piece_leaves_an_open_scale_as_likely_as_before():
    metal = find_metal("Ti")
    nothing = Coupon(hold(420.0, 1200.0), GRID, np.ones((1, GRID.size)), optical=False)
    fit, probability = either([nothing], metal)
    assert probability == pytest.approx(0.05, abs=0.02)
    exponents = np.exp(fit.draws.theta[:, 3])
    assert np.mean(exponents < 1.9) == pytest.approx(0.05, abs=0.025)
    assert fit.draws.scatter.size == fit.pace_paths.shape[0] == fit.between_kilns.size == 500


@pytest.mark.parametrize("key", ["Ti", "steel", "stainless", "Cu", "brass"])
def test_an_open_scale_is_possible_and_grows_faster_than_a_protecting_one(key):
    metal = find_metal(key)
    other = open_scale(metal)
    draws = draw_prior(other, ONE, count=400, rng=np.random.default_rng(1))
    assert metal.are_valid(draws.theta).all()
    shipped = draw_prior(metal, ONE, count=400, rng=np.random.default_rng(1))
    regime = metal.regimes[0]
    long, longer = (hold(regime.reference_C, n * regime.reference_s) for n in (2.0, 8.0))

    def growth(own):
        return np.median(own.typical_nm(metal, longer) / own.typical_nm(metal, long))

    assert growth(draws) > 1.3 * growth(shipped)


def test_a_law_without_a_free_exponent_knows_no_open_scale():
    metal = find_metal("Ni")
    assert open_scale(metal) is None
    nothing = Coupon(hold(400.0, 1200.0), GRID, np.ones((1, GRID.size)), optical=False)
    _, probability = either([nothing], metal)
    assert probability == 0.0
