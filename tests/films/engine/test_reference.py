"""The textbook's engine and the fast one give the same powers."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.films.engine.reference import solve_by_fresnel
from oxhue.optics.films.engine.transfer_matrix import solve_arrays

WAVELENGTH_NM = np.array([380.0, 550.0, 780.0])


@pytest.mark.parametrize("polarization", ["s", "p"])
@pytest.mark.parametrize("layers", [0, 1, 2, 7])
@pytest.mark.parametrize("angle_deg", [0.0, 37.0, 80.0])
def test_agrees_with_the_fast_engine(polarization, layers, angle_deg):
    rng = np.random.default_rng(layers)
    index = rng.uniform(1.0, 3.0, (20, layers + 2, 3)) + 1j * rng.exponential(
        1.0, (20, layers + 2, 3)
    ) * rng.integers(0, 2, (20, layers + 2, 1))
    index[:, 0] = 1.0
    thickness_nm = rng.uniform(0.0, 400.0, (20, layers))
    angle = np.full(20, angle_deg)
    _, _, R, T = solve_by_fresnel(
        index, thickness_nm, WAVELENGTH_NM, angle_deg=angle, polarization=polarization
    )
    fast = solve_arrays(index, thickness_nm, WAVELENGTH_NM, angle, polarization)
    np.testing.assert_allclose(R, fast.R, rtol=0, atol=1e-12)
    np.testing.assert_allclose(T, fast.T, rtol=0, atol=1e-12)


def test_total_reflection_and_a_thick_absorber_stay_in_range():
    index = np.array([1.5, 1.0, 1.5, 1.0])[:, None] + np.zeros(3) + 0j
    _, _, R, T = solve_by_fresnel(
        index, np.array([1e5, 20.0]), WAVELENGTH_NM, angle_deg=60.0, polarization="p"
    )
    np.testing.assert_allclose(R, 1.0, atol=1e-14)
    np.testing.assert_allclose(T, 0.0, atol=1e-14)
    metal = np.array([1.0, 1.0 + 5.0j, 1.5])[:, None] + np.zeros(3)
    _, t, R, _ = solve_by_fresnel(
        metal, np.array([1e6]), WAVELENGTH_NM, angle_deg=0.0, polarization="s"
    )
    np.testing.assert_allclose(R, 25.0 / 29.0)
    assert not t.any()
