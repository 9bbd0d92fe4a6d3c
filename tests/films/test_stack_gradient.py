"""Derivatives and fields of a stack by name, against differences and the engine."""

import numpy as np
import pytest

import oxhue
from oxhue.optics.errors import InputError
from oxhue.optics.numerics.integrate import trapezoid

GRID = np.array([450.0, 620.0])


@pytest.mark.parametrize(
    "text", ["TiO2 {}nm / Al 9nm / Ti", "Al 9nm / glass 3mm | SiO2 {}nm / MgF2 80nm",
             "Al 9nm / TiO2->SiO2 {}nm / glass"],
)  # fmt: skip
def test_slopes_are_those_of_differences(text):
    at = ["{}nm" in part for part in text.replace(" | ", " / ").split(" / ")]
    at = [kept for kept, part in zip(at, text.replace(" | ", " / ").split(" / "), strict=True)
          if "glass" not in part and part != "Ti"]  # fmt: skip
    found = oxhue.gradient(text.format(50.2), GRID, 30.0)
    up, down = (oxhue.solve(text.format(50.2 + d), GRID, 30.0) for d in (1e-3, -1e-3))
    for name in "RT":
        slope = (getattr(up, name) - getattr(down, name)) / 2e-3
        row = getattr(found, f"d{name}_dd")[at.index(True)]
        np.testing.assert_allclose(row, slope, rtol=1e-5, atol=1e-9)
    assert len(repr(found)) < 200


def test_the_field_of_a_stack_absorbs_what_its_layers_do():
    stack = "SiO2 40nm / Al 8nm / TiO2 60nm / glass"
    inside = oxhue.field_profile(stack, 550.0, step_nm=0.02)
    whole = trapezoid(inside.absorption_per_nm, inside.depth_nm)
    np.testing.assert_allclose(whole, oxhue.solve(stack, [550.0]).layer_A.sum(), rtol=1e-4)
    with pytest.raises(InputError, match="not a sweep"):
        oxhue.field_profile("TiO2 0..9nm / Ti")
