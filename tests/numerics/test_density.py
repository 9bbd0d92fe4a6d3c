"""Intervals, regions and candidates of densities whose answers are known."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from oxhue.optics.numerics.density import find_density_modes, highest_region, quantiles
from oxhue.optics.numerics.integrate import trapezoid

GRID = np.arange(0.0, 250.25, 0.5)


def mixture(*parts):
    """Normal distributions given as (share, middle, standard deviation)."""
    return sum(share * norm.pdf(GRID, middle, sd) for share, middle, sd in parts)


def mixture_quantile(level, *parts):
    return brentq(lambda x: sum(w * norm.cdf(x, m, s) for w, m, s in parts) - level, 0.0, 250.0)


def test_quantiles_of_one_normal():
    levels = np.array([0.05, 0.25, 0.5, 0.95])
    found = quantiles(GRID, mixture((1.0, 120.0, 8.0)), levels)
    np.testing.assert_allclose(found, norm.ppf(levels, 120.0, 8.0), atol=0.02)


def test_quantiles_of_a_mixture_and_of_many_curves():
    parts = [(0.7, 60.0, 5.0), (0.3, 150.0, 10.0)]
    curves = np.stack([mixture(*parts), 3.0 * mixture((1.0, 100.0, 4.0))])
    found = quantiles(GRID, curves, np.array([0.05, 0.5, 0.95]))
    assert found.shape == (2, 3)
    expected = [mixture_quantile(level, *parts) for level in (0.05, 0.5, 0.95)]
    np.testing.assert_allclose(found[0], expected, atol=0.05)
    np.testing.assert_allclose(found[1], norm.ppf([0.05, 0.5, 0.95], 100.0, 4.0), atol=0.02)


def test_quantiles_of_a_flat_density_are_linear():
    found = quantiles(GRID, np.ones(GRID.size), np.array([0.0, 0.1, 1.0]))
    np.testing.assert_allclose(found, [0.0, 25.0, 250.0])


def test_the_shortest_region_of_a_normal_is_its_middle():
    ((low, high),) = highest_region(GRID, mixture((1.0, 120.0, 8.0)))
    assert (low, high) == pytest.approx((120.0 - 13.16, 120.0 + 13.16), abs=0.5)


def test_the_shortest_region_of_two_equal_humps_has_two_parts():
    region = highest_region(GRID, mixture((0.5, 60.0, 5.0), (0.5, 180.0, 5.0)))
    assert len(region) == 2
    for (low, high), middle in zip(region, (60.0, 180.0), strict=True):
        assert (low, high) == pytest.approx((middle - 8.22, middle + 8.22), abs=0.5)


def test_a_region_at_the_edge_stays_inside():
    ((low, high),) = highest_region(GRID, np.exp(-GRID / 10.0))
    assert low == 0.0
    assert high == pytest.approx(23.0, abs=0.5)  # 10 ln 10


def test_humps_of_a_mixture_carry_its_shares():
    parts = [(0.6, 40.0, 4.0), (0.3, 130.0, 6.0), (0.1, 220.0, 6.0)]
    found = find_density_modes(GRID, mixture(*parts))
    assert len(found) == 3
    for hump, (share, middle, sd) in zip(found, parts, strict=True):
        assert hump.probability == pytest.approx(share, abs=0.002)
        assert hump.thickness_nm == pytest.approx(middle, abs=0.2)
        expected = (middle - 1.645 * sd, middle + 1.645 * sd)
        assert hump.interval90_nm == pytest.approx(expected, abs=0.3)
        assert hump.low_nm < middle < hump.high_nm


def test_humps_part_the_whole_range():
    found = sorted(
        find_density_modes(GRID, mixture((0.5, 40.0, 4.0), (0.5, 130.0, 6.0))),
        key=lambda h: h.low_nm,
    )
    assert found[0].low_nm == 0.0
    assert found[0].high_nm == found[1].low_nm
    assert found[1].high_nm == 250.0


def test_small_humps_are_left_out():
    almost = mixture((0.999, 60.0, 4.0), (0.001, 200.0, 4.0))
    (only,) = find_density_modes(GRID, almost)
    assert only.probability == pytest.approx(1.0)


def test_a_shallow_dip_does_not_part_a_hump():
    near = mixture((0.5, 100.0, 6.0), (0.5, 112.0, 6.0))
    assert len(find_density_modes(GRID, near)) == 1


@pytest.mark.parametrize("gap_nm", [34.0, 44.0, 55.0])
@pytest.mark.parametrize("share", [0.3, 0.5, 0.75])
def test_no_hump_above_a_tenth_is_swallowed_where_the_valley_is_clear(gap_nm, share):
    density = mixture((share, 60.0, 8.0), (1.0 - share, 60.0 + gap_nm, 8.0))
    first, second = (int(nm / (GRID[1] - GRID[0])) for nm in (60.0, 60.0 + gap_nm))
    valley = density[first : second + 1].min()
    assert valley < 0.7 * density[[first, second]].min()
    low, high = sorted(find_density_modes(GRID, density), key=lambda hump: hump.low_nm)
    assert low.low_nm < 60.0 < low.high_nm == high.low_nm < 60.0 + gap_nm < high.high_nm
    assert low.probability == pytest.approx(share, abs=0.05)


def test_ripples_of_drawn_films_do_not_part_a_hump_where_gaps_alone_do():
    wide = mixture((0.7, 60.0, 12.0), (0.3, 180.0, 8.0))
    rippled = wide * (1.0 + 0.6 * np.cos(GRID / 2.5))
    assert len(find_density_modes(GRID, rippled)) > 2
    assert len(find_density_modes(GRID, rippled, clear_valley=0.0)) == 2


def test_noise_on_the_grid_is_smoothed_away():
    jagged = mixture((1.0, 100.0, 10.0)) * (1.0 + 0.9 * (np.arange(GRID.size) % 2))
    assert len(find_density_modes(GRID, jagged)) == 1


@pytest.mark.parametrize("grid", [np.array([10.0, 10.5]), np.linspace(0.0, 0.5, 2)])
def test_the_shortest_grid_still_answers(grid):
    density = np.full(grid.size, 1.0 / np.ptp(grid))
    (only,) = find_density_modes(grid, density)
    assert only.probability == pytest.approx(1.0)
    assert highest_region(grid, density) == [(grid[0], grid[-1])]


def test_a_part_of_the_region_is_a_candidate_of_its_own_however_low():
    grid = np.linspace(0.0, 250.0, 1001)
    tall = np.exp(-0.5 * ((grid - 50.0) / 3.0) ** 2)
    low = 0.06 * np.exp(-0.5 * ((grid - 160.0) / 20.0) ** 2)
    density = (tall + low) / trapezoid(tall + low, grid)
    assert len(highest_region(grid, density)) == 2
    first, second = find_density_modes(grid, density)
    assert first.interval90_nm[1] < 60.0 < 110.0 < second.thickness_nm
    assert first.probability == pytest.approx(3.0 / (3.0 + 0.06 * 20.0), abs=0.01)
    assert first.probability + second.probability == pytest.approx(1.0, abs=1e-6)
