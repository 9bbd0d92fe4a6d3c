"""Sums read from a short series of the thickness against those worked out at each thickness."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.colour.illuminants import tristimulus_weights
from oxhue.optics.films.engine import thickness_scan as onefilm
from oxhue.optics.films.engine.thickness_scan import base_of, thickness_scan
from oxhue.optics.films.engine.thickness_series import sum_by_series
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM

GRID = DEFAULT_WAVELENGTH_NM[::2]
WEIGHTS = tristimulus_weights(GRID, "D65", 2)
WHITE = WEIGHTS.sum(axis=0)
rng = np.random.default_rng(7)
NM = {
    "even": np.linspace(0.0, 90.0, 4_000),
    "falling": np.linspace(90.0, 0.0, 4_001),
    "in no order": rng.uniform(0.0, 90.0, 4_000),
    "in two heaps": np.concatenate([rng.uniform(0.0, 5.0, 3_000), rng.uniform(85.0, 90.0, 1_000)]),
    "of a thick film": 4_000.0 + rng.uniform(0.0, 90.0, 4_000),
    "all the same": np.full(300, 80.0),
}
BELOW = {
    "metal": ("Ti", "front"),
    "over a gap": ("air 300nm / Ti", "front"),
    "through a slab": ("Al 8nm / glass 2mm | MgF2 90nm", "through"),
    "slab": ("Al 8nm / glass 2mm | MgF2 90nm", "front"),
    "slab from behind": ("Al 8nm / glass 2mm | MgF2 90nm", "back"),
}


class Counted:
    """The scan itself, which notes how many thicknesses are worked out."""

    def __init__(self, monkeypatch):
        self.scan, self.thicknesses = onefilm._scan, []
        monkeypatch.setattr(onefilm, "_scan", self)

    def __call__(self, films, bases, grid, **rest):
        self.thicknesses.append(grid[0].size * grid[1].size)
        return self.scan(films, bases, grid, **rest)


def both_ways(monkeypatch, film, below, nm, **lit):
    """Sums by the series, and with every thickness worked out; how many the series took."""
    bases = [base_of(parse_stack(one), GRID) for one in below]
    asked = parse_medium(film).nk(GRID), bases, nm
    lit = {"wavelength_nm": GRID, "weights": WEIGHTS, **lit}
    counted = Counted(monkeypatch)
    found = thickness_scan(*asked, **lit)
    with monkeypatch.context() as plain:
        plain.setattr(onefilm, "sum_by_series", lambda *_, **__: None)
        expected = thickness_scan(*asked, **lit)
    return found, expected, counted.thicknesses[:-1]


@pytest.mark.parametrize(("film", "angle_deg"), [("TiO2", 0.0), ("Cr", 62.0)])
@pytest.mark.parametrize("nm", NM)
@pytest.mark.parametrize("case", BELOW)
def test_the_series_says_what_every_thickness_does(monkeypatch, case, nm, film, angle_deg):
    below, view = BELOW[case]
    found, expected, worked = both_ways(
        monkeypatch, film, [below], NM[nm], angle_deg=angle_deg, view=view
    )
    assert worked[-1] <= NM[nm].size / 4
    np.testing.assert_allclose(found / WHITE, expected / WHITE, rtol=0, atol=5e-14)


def test_bases_and_layers_above_are_kept_apart(monkeypatch):
    below = ["Ti", "SiO2 40nm / Ti", "glass"]
    above = np.array([parse_medium("MgF2").nk(GRID)]), np.array([80.0])
    found, expected, worked = both_ways(monkeypatch, "TiO2", below, NM["in no order"], above=above)
    assert found.shape == (3, 4_000, 3)
    assert worked[-1] <= 1_000
    np.testing.assert_allclose(found / WHITE, expected / WHITE, rtol=0, atol=5e-14)


@pytest.mark.parametrize("nm", [np.linspace(0.0, 400.0, 1_000), rng.uniform(0.0, 400.0, 1_000)])
def test_lines_between_two_mirrors_are_worked_out_at_every_thickness(monkeypatch, nm):
    above = np.array([parse_medium("Ag").nk(GRID)]), np.array([45.0])
    found, expected, worked = both_ways(monkeypatch, "SiO2", ["Ag 45nm / glass"], nm, above=above)
    assert worked[-1] >= nm.size
    np.testing.assert_array_equal(found, expected)


def count_of(function, nm, **rest):
    """What the series makes of a function of thickness, and how often it asked."""
    asked = []

    def at(coarse_nm, fine_nm):
        asked.append(coarse_nm.size * fine_nm.size)
        return function((coarse_nm[:, None] + fine_nm).reshape(1, -1, 1))

    found = sum_by_series(at, nm, scale=np.ones(1), **rest)
    return found, asked


@pytest.mark.parametrize("even", [True, False])
def test_a_function_less_smooth_than_its_waves_takes_shorter_pieces(even):
    nm = np.linspace(0.0, 10.0, 3_000)
    found, asked = count_of(lambda d: 1.0 / (1.2 + np.sin(d)), nm, even=even, turn_per_nm=1.0)
    assert 1 < len(asked) < 4
    assert asked[-1] > asked[0]
    np.testing.assert_allclose(found[0, :, 0], 1.0 / (1.2 + np.sin(nm)), rtol=1e-13)


@pytest.mark.parametrize("even", [True, False])
@pytest.mark.parametrize("sharp", [lambda d: np.abs(d - 4.3), lambda d: d * np.nan])
def test_a_function_that_is_not_smooth_is_left_alone(sharp, even):
    found, asked = count_of(sharp, np.linspace(0.0, 10.0, 3_000), even=even, turn_per_nm=1.0)
    assert found is None
    assert sum(asked) < 3_000


def test_few_thicknesses_are_not_worth_a_series():
    found, asked = count_of(np.sin, np.linspace(0.0, 1.0, 127), even=True, turn_per_nm=1.0)
    assert (found, asked) == (None, [])
    found, asked = count_of(np.sin, np.linspace(0.0, 1.0, 128), even=True, turn_per_nm=1.0)
    assert found is not None
    assert asked == [32]
