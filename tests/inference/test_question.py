"""Clear layers under a film whose fringes are finer than an eye resolves."""

import numpy as np
import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.fringe_sums import sum_light
from oxhue.optics.colour.illuminants import tristimulus_weights, white_xyz
from oxhue.optics.colour.spaces import delta_e_76, xyz_to_lab
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.films.stack_arrays import base_of
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.layered import film_shares, layers_of, scan_film
from oxhue.optics.inference.question import doubt_fringes

GRID = DEFAULT_WAVELENGTH_NM


@pytest.mark.parametrize(("light", "angle_deg"), [("D65", 0.0), ("A", 50.0), ("LED-B3", 20.0)])
@pytest.mark.parametrize(
    "base",
    [
        "SiO2 20um / Si", "SiO2 4um / Ti", "PMMA 21um / TiO2 45nm / Ti", "n=1.5 40um / Cu",
        "TiO2 3um / Ti", "Al2O3 12um / Al", "SiO2 100nm / PMMA 33um / Ti",
    ],
)  # fmt: skip
def test_a_film_over_a_thick_clear_layer_is_weighed_by_its_true_colour(base, angle_deg, light):
    film, weights = parse_medium("TiO2"), tristimulus_weights(GRID, light, 2)
    below, white = base_of(parse_stack(base), GRID), white_xyz(light, 2)
    nm = np.array([20.0, 60.0, 110.0])
    scanned = scan_film(film, [below], nm, angle_deg=angle_deg, weights=weights)[0]
    index, share = layers_of(film)
    each = film_shares(
        index[None], nm[:, None] * share, below, angle_deg=np.asarray(angle_deg), view="front"
    )
    np.testing.assert_allclose(each @ weights, scanned, rtol=1e-9)
    whole = solve(parse_stack(f"TiO2 20,60,110nm / {base}"), GRID, angle_deg)
    (exact,) = sum_light(whole, ["R"], light=light, observer=2)
    off_de = delta_e_76(xyz_to_lab(scanned, white), xyz_to_lab(exact, white))
    # Largest of 60 drawn bases each from 3 µm on: 1.0; a grid of 5 nm is up to 27 off.
    assert np.max(off_de) < 1.0


@pytest.mark.parametrize(
    "base", ["SiO2 1um / Si", "TiO2->SiO2 8um / Si", "Ti 8um / glass", "glass 1mm"]
)
def test_only_thick_clear_layers_are_averaged(base):
    stack = parse_stack(base)
    assert base_of(stack, GRID).slab_nm == stack.slab_nm


@pytest.mark.parametrize("base", ["Si", "glass 1mm", "SiO2 1um / Si", "SiO2 20um / Si"])
def test_bases_whose_colour_is_right_are_not_doubted(base):
    assert _doubts(base) == ()


def test_how_far_off_bands_of_a_lamp_make_a_base_is_said():
    (said,) = _doubts("SiO2 5um / Si", "FL11")
    assert "5 µm" in said
    assert "ΔE wrong" in said


def test_the_doubt_reaches_who_asks():
    conditions = ViewingConditions(light="FL11")
    found = gauge("TiO2", on="SiO2 5um / Si", seen="violet", conditions=conditions)
    assert any("fringes are finer" in warning for warning in found.warnings)
    plain = gauge("TiO2", on="SiO2 20um / Si", seen="violet")
    assert not any("fringes" in said for said in plain.warnings)


def _doubts(base, light="D65"):
    return doubt_fringes(list_film_models(("TiO2",), base)[0], ViewingConditions(light=light))
