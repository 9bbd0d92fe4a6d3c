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
from oxhue.optics.spectrum.noise_model import NoiseModel

WAVELENGTH_NM = np.arange(400.0, 701.0, 10.0)


def test_misfit_is_the_normal_density_it_claims():
    wavelength = np.array([400.0, 430.0, 500.0, 620.0])
    misfit = NoiseModel.for_readings(wavelength)
    residual = np.array([[0.01, -0.02, 0.005, 0.03], [0.0, 0.001, 0.0, -0.001]])
    kernel = np.exp(-0.5 * ((wavelength[:, None] - wavelength) / 60.0) ** 2)
    each = [
        multivariate_normal(cov=s**2 * np.eye(4) + m**2 * kernel).logpdf(residual) + log_prior
        for (s, m), log_prior in zip(misfit.grid, misfit.log_prior, strict=True)
    ]
    expected = np.logaddexp.reduce(each)
    np.testing.assert_allclose(misfit.log_likelihood(residual), expected, rtol=1e-9)
    assert np.exp(misfit.log_prior).sum() == pytest.approx(1.0)
    white = misfit.whitening(0.01, 0.02)
    covariance = 0.01**2 * np.eye(4) + 0.02**2 * kernel
    np.testing.assert_allclose(white @ covariance @ white.T, np.eye(4), atol=1e-10)


def test_noise_is_of_one_size_or_in_proportion_to_the_reading():
    wavelength = np.array([400.0, 430.0, 500.0, 620.0])
    reading = np.array([0.4, 0.2, 0.1, 0.001])  # the last under the floor
    misfit = NoiseModel.for_readings(wavelength, reading)
    floor = 0.1 * np.sqrt(np.mean(reading**2))
    size = np.maximum(reading, floor)
    size /= np.sqrt(np.mean(size**2))
    residual = np.array([[0.01, -0.02, 0.005, 0.03], [0.02, 0.01, -0.005, -0.001]])
    kernel = np.exp(-0.5 * ((wavelength[:, None] - wavelength) / 60.0) ** 2)
    each = [
        multivariate_normal(cov=s**2 * np.diag(own**2) + m**2 * kernel).logpdf(residual) + log_prior
        for own in (np.ones(4), size)
        for (s, m), log_prior in zip(misfit.grid, misfit.log_prior, strict=True)
    ]
    expected = np.logaddexp.reduce(each)
    np.testing.assert_allclose(misfit.log_likelihood(residual), expected, rtol=1e-9)
    assert 2.0 * np.exp(misfit.log_prior).sum() == pytest.approx(1.0)
    white = misfit.whitening(0.01, 0.02, 1)
    covariance = 0.01**2 * np.diag(size**2) + 0.02**2 * kernel
    np.testing.assert_allclose(white @ covariance @ white.T, np.eye(4), atol=1e-10)
    assert misfit.likeliest(np.array([2.0, -2.0, 2.0, -2.0]) * 0.02 * size)[2] == 1


@pytest.mark.parametrize("value", [0.0, -0.01, 1e-9])
def test_dark_readings_do_not_break_the_noise(value):
    reading = np.full(9, value)
    reading[4] = -value
    found = NoiseModel.for_readings(np.linspace(400.0, 700.0, 9), reading)
    assert np.isfinite(found.log_likelihood(np.full((1, 9), 0.01))).all()


def test_noise_in_proportion_makes_the_dark_of_a_fringe_count():
    """1 % of each reading: the fit knows the thickness better than with noise of one size."""
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
    fit = fit_models(worlds, WAVELENGTH_NM, reading)
    low, high = fit.interval90_nm
    assert low - 1.0 < 300.0 < high + 1.0
    assert high - low < 4.0
    likeliest = NoiseModel.for_readings(WAVELENGTH_NM, reading).likeliest(fit.residual)
    assert likeliest[2] == 1
    assert 0.003 < fit.noise < 0.007  # 1 % of an rms of 0.45
