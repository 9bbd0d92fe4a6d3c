"""The ridge of films of one optical thickness: unknowns that straighten it, and draws along it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.spectrum.forward_models import list_forward_models
from oxhue.optics.spectrum.modes import find_modes
from oxhue.optics.spectrum.noise_model import NoiseModel
from oxhue.optics.spectrum.posterior import draw_posterior
from oxhue.optics.spectrum.reparametrisation import Ridge
from oxhue.optics.spectrum.summaries import quantiles_of

WAVELENGTH_NM = np.arange(400.0, 701.0, 10.0)
THICKNESS_NM = 1200.0


@pytest.fixture(scope="module")
def worlds():
    """A table off by a factor, and Cauchy's formula, on titanium."""
    pairs = list_film_models(("TiO2",), "Ti")[:1]
    made, _ = list_forward_models(
        pairs,
        WAVELENGTH_NM,
        kind="reflectance",
        model="auto",
        between_nm=(0.0, 2000.0),
        roughness=False,
        angle_deg=0.0,
    )
    table, formula = (w for w in made if w.has_thickness and w.between_nm[1] > THICKNESS_NM)
    return {"table": table, "formula": formula}


@pytest.mark.parametrize("name", ["table", "formula"])
def test_straight_unknowns_lead_back_and_stretch_as_said(worlds, name):
    world, rng = worlds[name], np.random.default_rng(3)
    x = rng.standard_normal((6, 1 + len(world.parameters)))
    x[:, 0] = rng.uniform(300.0, 450.0, 6)  # within a factor of two of 400 nm
    straight = world.ridge.straighten(x, 400.0)
    np.testing.assert_allclose(world.ridge.bend_back(straight, 400.0), x, atol=1e-9)
    step = 1e-5
    for i, row in enumerate(x):
        around = world.ridge.straighten(row + step * np.eye(row.size), 400.0)
        slopes = (around - straight[i]) / step
        _, size = np.linalg.slogdet(slopes)
        assert world.ridge.log_stretch(row[None], 400.0)[0] == pytest.approx(size, abs=1e-4)


@pytest.mark.parametrize("name", ["table", "formula"])
def test_index_times_thickness_holds_along_a_straight_line(worlds, name):
    world = worlds[name]
    y = np.zeros((5, 1 + len(world.parameters)))
    y[:, 0] = THICKNESS_NM * np.linspace(0.8, 1.3, 5)
    x = world.ridge.bend_back(y, THICKNESS_NM)
    film, _ = world.film(x, world.index, False)
    product = film * x[:, :1]
    np.testing.assert_allclose(product, np.broadcast_to(product[0], product.shape), rtol=1e-12)


def test_a_thin_film_is_left_as_it_is(worlds):
    ridge = worlds["table"].ridge
    x = np.array([[5.0, 0.3, -0.2], [40.0, 0.1, 0.4]])
    np.testing.assert_allclose(ridge.straighten(x, 10.0), x, atol=1e-12)
    np.testing.assert_array_equal(ridge.log_stretch(x, 10.0), 0.0)


def test_draws_agree_with_a_sum_over_a_grid(worlds):
    world, misfit = worlds["table"], NoiseModel.for_readings(WAVELENGTH_NM)
    rng = np.random.default_rng(8)
    reading = world.curves(np.array([[THICKNESS_NM, 0.4]]))[0]
    reading = reading + 0.006 * rng.standard_normal(reading.size)
    modes, _, _ = find_modes([world], reading, misfit)
    modes = [mode for mode in modes if not mode.world.doubt]
    (found,) = draw_posterior(modes, reading, misfit, rng=rng)
    weight = np.exp(found.log_weight - found.log_weight.max())
    assert weight.sum() ** 2 / (weight**2).sum() > 500.0

    centre = 1.01 * THICKNESS_NM
    thickness, product = np.meshgrid(
        np.linspace(1140.0, 1280.0, 41),
        np.linspace(centre - 1.2, centre + 1.2, 31),
        indexing="ij",
    )
    x = np.stack([thickness, (product / thickness - 1.0) / 0.025], axis=-1).reshape(-1, 2)
    height = world.log_prior(x) + misfit.log_likelihood(reading - world.curves(x))
    height -= np.log(x[:, 0])  # cells are even in index times thickness
    summed = np.exp(height - height.max())
    ours = quantiles_of(found.x[:, 0], weight)
    due = quantiles_of(x[:, 0], summed)
    np.testing.assert_allclose(ours, due, atol=0.08 * (due[2] - due[0]))


def test_more_draws_count_along_a_straight_ridge(worlds):
    misfit, worth = NoiseModel.for_readings(WAVELENGTH_NM), {}
    bent = replace(worlds["formula"])
    bent.__dict__["ridge"] = Ridge.of(bent.parameters, has_thickness=False)  # nothing straightened
    for name, world in (("straight", worlds["formula"]), ("bent", bent)):
        rng = np.random.default_rng(8)
        reading = world.curves(np.array([[1500.0, 0.4, 0.3, 0.2, 0.5, 0.0]]))[0]
        reading = reading + 0.006 * rng.standard_normal(reading.size)
        modes, _, _ = find_modes([world], reading, misfit)
        modes = [mode for mode in modes if not mode.world.doubt]
        (found,) = draw_posterior(modes, reading, misfit, rng=rng)
        weight = np.exp(found.log_weight - found.log_weight.max())
        worth[name] = weight.sum() ** 2 / (weight**2).sum()
    assert worth["straight"] > 1.5 * worth["bent"]
