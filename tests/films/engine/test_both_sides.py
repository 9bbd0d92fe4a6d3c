"""Many filmed pieces from both sides against the general engine."""

import numpy as np
import pytest

from oxhue.optics.films.engine.both_sides import solve_both_sides
from oxhue.optics.films.engine.thickness_scan import base_of
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve

GRID = np.arange(400.0, 781.0, 40.0)


def piece(films, on, angle=0.0):
    media = [parse_medium(name).nk(GRID) for name, _ in films]
    index = np.stack(media)[None]
    nm = np.array([[thickness for _, thickness in films]])
    return solve_both_sides(
        index, nm, base_of(parse_stack(on), GRID), wavelength_nm=GRID, angle_deg=angle
    )


@pytest.mark.parametrize("angle", [0.0, 50.0])
@pytest.mark.parametrize(
    ("films", "on"),
    [
        ([("TiO2", 60.0), ("Ti", 12.0)], "glass 3mm"),
        ([("Al", 20.0)], "PET 0.05mm"),
        ([("Ti", 8.0)], "SiO2 90nm / glass 1mm | MgF2 100nm"),
    ],
)
def test_a_slab_agrees_with_the_general_engine_on_both_sides(films, on, angle):
    stack = parse_stack(" / ".join([*(f"{name} {nm}nm" for name, nm in films), on]))
    front, back, through, _ = piece(films, on, angle)
    seen, behind = solve(stack, GRID, angle), solve(stack, GRID, angle, side="back")
    np.testing.assert_allclose(front[0], seen.R, atol=1e-9)
    np.testing.assert_allclose(through[0], seen.T, atol=1e-9)
    np.testing.assert_allclose(back[0], behind.R, atol=1e-7)


def test_an_opaque_base_has_no_far_side():
    front, back, through, entering = piece([("TiO2", 60.0)], "Ti")
    seen = solve(parse_stack("TiO2 60nm / Ti"), GRID)
    np.testing.assert_allclose(front[0], seen.R, atol=1e-12)
    np.testing.assert_allclose(entering[0], seen.T, atol=1e-12)
    assert back is None
    assert through is None
