"""Noise of a spectrum and misses of its model: densities against a textbook's, and what they do."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.spectrum.fit import fit_models
from oxhue.optics.spectrum.forward_models import list_forward_models
from oxhue.optics.spectrum.instrument import Instrument, InstrumentState
from oxhue.optics.spectrum.noise_model import NoiseModel, NoiseSetting

WAVELENGTH_NM = np.arange(400.0, 701.0, 10.0)


def settings_of(kind):
    """Noise and miss with the logarithm of their prior."""
    return zip(kind.settings, kind.log_prior, strict=True)


def test_misfit_is_the_normal_density_it_claims():
    wavelength = np.array([400.0, 430.0, 500.0, 620.0])
    misfit = NoiseModel.for_readings(wavelength)
    residual = np.array([[0.01, -0.02, 0.005, 0.03], [0.0, 0.001, 0.0, -0.001]])
    kernel = np.exp(-0.5 * ((wavelength[:, None] - wavelength) / 60.0) ** 2)
    each = [
        multivariate_normal(cov=s**2 * np.eye(4) + m**2 * kernel).logpdf(residual) + log_prior
        for (s, m), log_prior in settings_of(misfit.kinds[0])
    ]
    expected = np.logaddexp.reduce(each)
    np.testing.assert_allclose(misfit.log_likelihood(residual), expected, rtol=1e-9)
    assert np.exp(misfit.kinds[0].log_prior).sum() == pytest.approx(1.0)
    white = misfit.whitening(NoiseSetting(0.01, 0.02))
    covariance = 0.01**2 * np.eye(4) + 0.02**2 * kernel
    np.testing.assert_allclose(white @ covariance @ white.T, np.eye(4), atol=1e-10)


def test_noise_is_of_one_size_or_in_proportion_to_the_reading():
    wavelength = np.array([400.0, 430.0, 500.0, 620.0])
    reading = np.array([0.4, 0.2, 0.1, 0.001])  # the last under the floor
    off = np.array([[9e-4, -1e-4], [-1e-4, 4e-4]])
    instrument = Instrument((
        InstrumentState(0.75, 0.0, 0.0, off),
        InstrumentState(0.25, 0.04, 0.02, 2.0 * off),
    ))  # fmt: skip
    misfit = NoiseModel.for_readings(wavelength, reading, instrument)
    floor = 0.1 * np.sqrt(np.mean(reading**2))
    size = np.maximum(reading, floor)
    size /= np.sqrt(np.mean(size**2))
    residual = np.array([[0.01, -0.02, 0.005, 0.03], [0.02, 0.01, -0.005, -0.001]])
    kernel = np.exp(-0.5 * ((wavelength[:, None] - wavelength) / 60.0) ** 2)

    unit = np.stack([reading, np.ones(4)], axis=1)

    def covariance(own, s, m, spread):
        return s**2 * np.diag(own**2) + m**2 * kernel + unit @ spread @ unit.T

    # Light is taken off as expected of all: 1 % of the share and 0.5 % of the zero.
    states = ((0.75, [0.01, -0.005], off), (0.25, [-0.03, 0.015], 2.0 * off))
    each = [
        multivariate_normal(unit @ mean, covariance(own, *setting, spread)).logpdf(residual)
        + log_prior
        + np.log(probability)
        for own, kind in zip((np.ones(4), size), misfit.kinds, strict=True)
        for setting, log_prior in settings_of(kind)
        for probability, mean, spread in states
    ]
    expected = np.logaddexp.reduce(each)
    np.testing.assert_allclose(misfit.log_likelihood(residual), expected, rtol=1e-9)
    assert sum(np.exp(kind.log_prior).sum() for kind in misfit.kinds) == pytest.approx(1.0)
    white = misfit.whitening(NoiseSetting(0.01, 0.02, 1))
    apart = 0.75 * 0.25 * np.outer([0.04, -0.02], [0.04, -0.02])
    due = covariance(size, 0.01, 0.02, 1.25 * off + apart)
    np.testing.assert_allclose(white @ due @ white.T, np.eye(4), atol=1e-10)
    assert misfit.likeliest(np.array([2.0, -2.0, 2.0, -2.0]) * 0.02 * size).kind == 1


def test_settings_in_focus_give_the_same_density():
    wavelength = np.linspace(400.0, 700.0, 31)
    misfit = NoiseModel.for_readings(wavelength, 0.3 + 0.1 * np.sin(wavelength / 40.0))
    residual = 0.005 * np.random.default_rng(3).standard_normal((3, 31)) + 0.02
    focused = misfit.focus(residual)
    assert len(focused.kinds[0].settings) < 0.5 * len(misfit.kinds[0].settings)
    whole = misfit.log_likelihood(residual)
    np.testing.assert_allclose(focused.log_likelihood(residual), whole, atol=5e-3)


def test_a_raised_zero_is_taken_off_unless_the_dark_was_read():
    wavelength = np.linspace(400.0, 700.0, 31)
    reading = 0.3 + 0.1 * np.sin(wavelength / 40.0)
    raised = np.full((1, 31), 0.02)

    def shift(checked):
        own = Instrument.of(reading, checked)
        misfit = NoiseModel.for_readings(wavelength, reading, own)
        return misfit.instrument_shift(raised, NoiseSetting(0.002, 0.0))

    np.testing.assert_allclose(shift([]), raised, atol=5e-4)
    assert np.abs(shift(["stray light"]) - raised).max() > 1e-3


def test_stray_light_is_expected_as_its_simulation_has_it():
    """A share of 3 % rms in half of all instruments, never negative, in place of the piece's light;
    of white or any grey."""
    reading = 0.3 + 0.1 * np.sin(np.arange(31.0))
    rng = np.random.default_rng(1)
    share, grey = np.abs(0.03 * rng.standard_normal(400_000)), rng.random(400_000)
    share[rng.random(grey.size) < 0.5] = 0.0
    grey = np.where(rng.random(grey.size) < 0.5, 1.0, grey)  # the room's light, as often
    own = Instrument.of(reading, [])
    assert own.share == pytest.approx(share.mean(), rel=0.01)
    assert own.raised == pytest.approx((share * grey).mean(), rel=0.01)
    order = np.diag([0.01**2, 0.002**2])
    np.testing.assert_allclose(own.spread, order + np.cov(-share, share * grey), atol=3e-6)
    np.testing.assert_allclose(own.soil(own.clean(reading)), reading, rtol=1e-12)
    checked = Instrument.of(reading, ["stray light"])
    np.testing.assert_array_equal(checked.clean(reading), reading)
    np.testing.assert_array_equal(checked.spread, order)


def test_stray_light_is_no_more_than_the_darkest_reading():
    dark = np.linspace(0.0, 0.5, 31)
    assert Instrument.of(dark + 0.001, []).raised < np.sort(dark + 0.001)[:3].mean()
    assert Instrument.of(-dark, []).raised == 0.0


@pytest.mark.parametrize("value", [0.0, -0.01, 1e-9])
def test_dark_readings_do_not_break_the_noise(value):
    reading = np.full(9, value)
    reading[4] = -value
    found = NoiseModel.for_readings(np.linspace(400.0, 700.0, 9), reading)
    assert np.isfinite(found.log_likelihood(np.full((1, 9), 0.01))).all()


def test_noise_in_proportion_makes_the_dark_of_a_fringe_count():
    """1 % of each reading, no stray light: the fit knows the thickness better than with noise of
    one size."""
    clean = solve(parse_stack("TiO2 300nm / Ti"), WAVELENGTH_NM).R
    rng = np.random.default_rng(4)
    reading = clean * (1.0 + 0.01 * rng.standard_normal(clean.size))
    worlds, _ = list_forward_models(
        list_film_models(("TiO2",), "Ti"),
        WAVELENGTH_NM,
        kind="reflectance",
        model="auto",
        between_nm=(0.0, 800.0),
        roughness=True,
        angle_deg=0.0,
    )
    fit = fit_models(worlds, WAVELENGTH_NM, reading, checked=["stray light"])
    low, high = fit.interval90_nm
    assert low - 1.0 < 300.0 < high + 1.0
    assert high - low < 5.0  # with noise of one size, 7 to 9 nm
    likeliest = NoiseModel.for_readings(WAVELENGTH_NM, reading).likeliest(fit.residual)
    assert likeliest.kind == 1
    assert 0.003 < fit.noise < 0.007  # 1 % of an rms of 0.45
