"""One film over many thicknesses: even grids, uneven ones and all views against the engine."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.films.engine import thickness_scan as onefilm
from oxhue.optics.films.engine.thickness_scan import base_of, thickness_scan
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.films.stack import Layer, Stack

WAVELENGTHS = np.array([400.0, 512.0, 640.0, 777.0])
EVEN = np.linspace(0.0, 400.0, 150)
GRIDS = {
    "even": EVEN,
    "even, shorter than the fine part": 30.0 + 0.7 * np.arange(9),
    "even, longer than a block": np.linspace(10.0, 300.0, 2_500),
    "falling": EVEN[::-1],
    "uneven": EVEN**1.1,
    "one": np.array([55.0]),
    "all the same": np.full(5, 80.0),
    "none": np.empty(0),
}


@pytest.mark.parametrize("grid", GRIDS)
@pytest.mark.parametrize("angle_deg", [0.0, 55.0])
@pytest.mark.parametrize(
    ("below", "view"),
    [
        ("Ti", "front"),
        ("SiO2 90nm / n=1.52", "through"),
        ("Al 8nm / glass 2mm | MgF2 90nm", "front"),
        ("Al 8nm / glass 2mm | MgF2 90nm", "through"),
        ("Al 8nm / glass 2mm | MgF2 90nm", "back"),
    ],
)
def test_shares_are_those_of_the_engine(below, view, angle_deg, grid):
    base, film = parse_stack(below), parse_stack("TiO2(rutile) 1nm / Ti").layers[0].medium
    thickness = GRIDS[grid]
    stack = Stack(
        (Layer(film, thickness, axis=0), *base.layers),
        base.substrate,
        base.slab_nm,
        base.back_layers,
    )
    asked = film.nk(WAVELENGTHS), [base_of(base, WAVELENGTHS)], thickness
    lit = {"wavelength_nm": WAVELENGTHS, "angle_deg": angle_deg, "view": view}
    found = thickness_scan(*asked, **lit)
    weights = np.array([[1.0, 0.0], [2.0, 0.5], [-1.0, 3.0], [0.25, 1.0]])
    sums = thickness_scan(*asked, **lit, weights=weights)
    np.testing.assert_allclose(sums, found @ weights, rtol=0, atol=1e-14)
    # Glass absorbs a trace, so that power does not cross its faces quite alike both ways, as is
    # taken for granted here: 1.1e-12 from behind.
    side = "back" if view == "back" else "front"
    expected = solve(stack, WAVELENGTHS, angle_deg, side=side)
    assert found.shape == (1, thickness.size, WAVELENGTHS.size)
    np.testing.assert_allclose(
        found[0], expected.T if view == "through" else expected.R, rtol=0, atol=3e-12
    )


def test_only_a_grid_that_is_even_to_the_last_digits_is_taken_as_even():
    coarse, fine = onefilm._split(EVEN)
    np.testing.assert_allclose((coarse[:, None] + fine).ravel()[:150], EVEN, rtol=1e-15)
    assert 1 < fine.size <= onefilm._FINE
    bent = EVEN.copy()
    bent[70] += 1e-9
    assert onefilm._split(bent)[1].size == 1


@pytest.mark.parametrize("view", ["front", "through", "back"])
def test_bases_worked_out_together_are_those_worked_out_alone(view):
    below = ["Al 8nm / glass 2mm | MgF2 90nm", "Ti 11nm / glass 2mm | SiO2 90nm", "glass 2mm"]
    bases = [base_of(parse_stack(one), WAVELENGTHS) for one in (*below, below[0])]
    film = parse_stack("TiO2(rutile) 1nm / Ti").layers[0].medium.nk(WAVELENGTHS)
    lit = {"wavelength_nm": WAVELENGTHS, "angle_deg": 30.0, "view": view}
    together = thickness_scan(film, bases, EVEN, **lit)
    for base, found in zip(bases, together, strict=True):
        np.testing.assert_allclose(found, thickness_scan(film, [base], EVEN, **lit)[0], rtol=1e-13)
