"""Clear layers under a film whose fringes are finer than the grid films are weighed on."""

import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference.question import doubt_fringes


@pytest.mark.parametrize("base", ["Si", "glass 1mm", "SiO2 1um / Si", "SiO2 8um / Si"])
def test_bases_that_the_grid_follows_are_not_doubted(base):
    assert doubt_fringes(parse_stack(base), ViewingConditions()) == ()


@pytest.mark.parametrize(("base", "off_de"), [("SiO2 20um / Si", 9), ("PMMA 20um / Ti", 7)])
def test_how_far_off_a_base_under_a_thick_clear_layer_is_said(base, off_de):
    (said,) = doubt_fringes(parse_stack(base), ViewingConditions())
    assert "20 µm" in said
    assert f"{off_de} ΔE wrong" in said


def test_the_doubt_reaches_who_asks():
    found = gauge("TiO2", on="SiO2 20um / Si", seen="violet")
    assert any("fringes are finer" in warning for warning in found.warnings)
    assert not any("fringes" in said for said in gauge("TiO2", on="Si", seen="violet").warnings)
