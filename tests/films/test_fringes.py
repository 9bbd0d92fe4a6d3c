"""How far apart fringes lie, against what a plain layer has by the textbook."""

import numpy as np
import pytest

from oxhue import parse_stack
from oxhue.optics.films.fringes import fringe_spacing_nm, least_fringe_spacing_nm, take_rows

NM = np.arange(380.0, 781.0, 5.0)


def spacing(text, **seen):
    return fringe_spacing_nm(parse_stack(text).prepare(NM, **seen))


@pytest.mark.parametrize(
    ("n", "um", "angle_deg"), [(1.5, 20.0, 0.0), (2.3, 3.0, 0.0), (1.5, 50.0, 60.0)]
)
def test_fringes_of_a_layer_are_as_far_apart_as_its_round_trip_says(n, um, angle_deg):
    path_nm = 2.0 * 1e3 * um * np.sqrt(n**2 - np.sin(np.radians(angle_deg)) ** 2)
    expected = 400.0**2 / path_nm  # Δλ = λ²/(2 n d cos θ), least where the light is shortest
    assert spacing(f"n={n} {um}um / Si", angle_deg=angle_deg) == pytest.approx(expected, rel=5e-3)


def test_layers_count_together_and_what_absorbs_does_not():
    one, two = spacing("n=1.5 20um / Si"), spacing("n=1.5 10um / Ag 5nm / n=1.5 10um / Si")
    assert two == pytest.approx(one, rel=1e-2)
    assert spacing("Cu 20um / glass") == np.inf
    assert spacing("Ti") == np.inf


def test_each_point_of_a_sweep_and_each_face_has_its_own():
    np.testing.assert_allclose(
        spacing("n=1.5 5,10um / Si")[0], 2.0 * spacing("n=1.5 5,10um / Si")[1]
    )
    assert spacing("glass 1mm | n=1.5 20um") == pytest.approx(float(spacing("n=1.5 20um / Si")))
    assert spacing("n=1.5 5um / n=2 1,2,3um / Si").shape == (3,)


def test_dispersion_brings_fringes_nearer_together():
    path_nm = 2.0 * 10_000.0 * parse_stack("TiO2 10um / Ti").layers[0].medium.nk([400.0]).real[0]
    assert spacing("TiO2 10um / Ti") < 0.8 * 400.0**2 / path_nm


def test_rows_of_a_sweep_are_a_smaller_sweep():
    cut = take_rows(parse_stack("SiO2 1,2,3um / TiO2 20,30nm / Si"), np.array([0, 2]))
    assert cut.sweep_shape == (2, 2)
    np.testing.assert_array_equal(cut.layers[0].thickness_nm, [1000.0, 3000.0])


@pytest.mark.parametrize("angle_deg", [0.0, 60.0])
@pytest.mark.parametrize(
    "text",
    [
        "TiO2 0..900nm step 100nm / Ti",
        "TiO2 40nm / SiO2 0..9um step 1um / n=2 1,2,3um / Si",
        "glass 1mm | n=1.5 5,20um",
        "Cu 1um / glass",
        "Ti",
    ],
)
def test_the_least_spacing_of_a_sweep_is_a_bound_and_no_idle_one(text, angle_deg):
    ready = parse_stack(text).prepare(NM, angle_deg=angle_deg)
    least, each = least_fringe_spacing_nm(ready), fringe_spacing_nm(ready)
    assert least <= each.min()
    if np.isfinite(each).any():
        assert least > 0.3 * each.min()
