"""Series of a layer's thickness against a tangent for each, and stacks that take them."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.films.engine import chebyshev as series
from oxhue.optics.films.engine.chebyshev import ChebyshevSeries
from oxhue.optics.films.engine.gradient import gradient
from oxhue.optics.films.engine.phase import round_trips
from oxhue.optics.films.engine.transfer_matrix import solve_arrays

# k0 kz [1/nm] of two layers at three wavelengths: a clear one, one that dims or drowns the light.
CROSSING = np.array([[0.05, 0.033, 1e-30], [0.06 + 0.001j, 0.02 + 0.02j, 0.01 + 0.07j]])
WAVELENGTH_NM = np.linspace(380.0, 780.0, 9)


@pytest.mark.parametrize("half_nm", [0.0, 1e-9, 1e-3, 1.0, 10.0, 35.0])
def test_swings_are_those_of_a_tangent_for_each(half_nm, monkeypatch):
    monkeypatch.setattr(series, "_ALONE", 1_000)  # products in some pieces
    d = 60.0 + half_nm * np.random.default_rng(0).uniform(-1.0, 1.0, (500, 2))
    followed = ChebyshevSeries.of(d, CROSSING).at(d)
    found = np.empty((2, 500, 3), dtype=complex)
    followed.round_trips(slice(0, 2), found)
    exact = round_trips(CROSSING[:, None], d.T[..., None])
    # By the size they have anywhere in the range: what hardly turns keeps its digits too.
    share = np.abs(found - exact).max(axis=1) / np.abs(exact).max(axis=1)
    assert share.max() < 5e-15
    np.testing.assert_allclose(
        followed.losses(np.empty((500, 3))), d @ CROSSING.imag, rtol=1e-14, atol=0
    )


def test_a_wide_range_and_few_stacks_are_left_to_the_tangent():
    narrow, wide = np.linspace(50.0, 60.0, 300), np.linspace(0.0, 400.0, 300)
    assert ChebyshevSeries.of(np.stack([narrow, narrow], axis=1), CROSSING) is not None
    assert ChebyshevSeries.of(np.stack([narrow, wide], axis=1), CROSSING) is None
    assert ChebyshevSeries.of(np.stack([narrow, narrow], axis=1)[::10], CROSSING) is None
    assert ChebyshevSeries.of(np.empty((300, 0)), CROSSING[:0]) is None


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 89.99, 90.0])
@pytest.mark.parametrize("absorption", [True, False])
def test_many_stacks_of_the_same_media_are_what_each_is_alone(angle_deg, absorption, monkeypatch):
    media = np.array([1.0, 2.4, 1.46, 0.05 + 3.0j, 0.5, 1.9 + 0.01j, 1.52])  # critical at 30°
    index = np.repeat(media[:, None], WAVELENGTH_NM.size, axis=1)
    d = np.random.default_rng(1).uniform(0.9, 1.1, (400, 5)) * [60.0, 0.0, 8.0, 100.0, 45.0]
    lit = {"angle_deg": angle_deg}
    made, at = [], ChebyshevSeries.at
    monkeypatch.setattr(ChebyshevSeries, "at", lambda self, d: made.append(d) or at(self, d))
    together = solve_arrays(index, d, WAVELENGTH_NM, **lit)
    assert (together.layer_A if absorption else together.R) is not None
    assert made
    each = [solve_arrays(index, one, WAVELENGTH_NM, **lit) for one in d[::40]]
    slopes = gradient(index, d, WAVELENGTH_NM, **lit)
    assert len(made) > 1
    for name in ("dR_dd", "dT_dd", "dR_dn", "dT_dn"):
        alone = [getattr(gradient(index, one, WAVELENGTH_NM, **lit), name) for one in d[::100]]
        found = getattr(slopes, name)[::100]
        np.testing.assert_allclose(found, alone, rtol=0, atol=1e-12 * np.abs(alone).max())
    for name in ("R", "T", *(["layer_A"] if absorption else [])):
        alone = np.array([getattr(one, name) for one in each])
        np.testing.assert_allclose(getattr(together, name)[::40], alone, rtol=0, atol=2e-14)
