"""Lights, observers and the weights made of them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.colour.illuminants import (
    illuminant_names,
    illuminant_power,
    observer_functions,
    tristimulus_weights,
    white_xyz,
)
from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError

GRID_NM = np.arange(380.0, 781.0, 5.0)


@pytest.mark.parametrize("light", illuminant_names())
def test_every_light_named_has_a_table_that_covers_the_visible(light):
    power = illuminant_power(light, GRID_NM)
    assert power.shape == GRID_NM.shape
    assert np.all(power >= 0)
    assert white_xyz(light)[1] == pytest.approx(100.0, abs=1e-9)


def test_the_usual_lights_are_there_and_d65_comes_first():
    assert illuminant_names()[0] == "D65"
    assert {"D50", "A", "LED-B1", "LED-RGB1", "FL2", "FL11", "FL12", "E"} <= set(illuminant_names())


@pytest.mark.parametrize(
    ("spoken", "cie"),
    [("d65", "D65"), (" led-b3 ", "LED-B3"), ("F1", "FL1"), ("F2", "FL2"), ("f12", "FL12")],
)
def test_case_and_the_short_lamp_names_do_not_matter(spoken, cie):
    np.testing.assert_array_equal(illuminant_power(spoken, GRID_NM), illuminant_power(cie, GRID_NM))


@pytest.mark.parametrize("name", ["D66", "FL13", "daylight", ""])
def test_an_unknown_light_is_refused_with_a_way_out(name):
    with pytest.raises(UnknownNameError, match=r"light .* is not one we know; (did you mean|try) "):
        illuminant_power(name, GRID_NM)


@pytest.mark.parametrize("observer", [0, 5, 64, "2"])
def test_only_two_observers(observer):
    with pytest.raises(InputError, match="observer must be 2 or 10"):
        observer_functions(observer, GRID_NM)


@pytest.mark.parametrize("shape", [(), (4,), (2, 3), (0,)])
def test_shapes(shape):
    wavelength_nm = np.full(shape, 550.0)
    assert illuminant_power("D65", wavelength_nm).shape == shape
    assert observer_functions(2, wavelength_nm).shape == (*shape, 3)


@pytest.mark.parametrize("bad", [299.0, 900.0, np.nan, np.inf])
def test_tables_are_not_extrapolated(bad):
    with pytest.raises(OutOfRangeError, match=r"between 300 and 780 nm for light D65; 1 of 2"):
        illuminant_power("D65", [550.0, bad])
    with pytest.raises(OutOfRangeError, match=r"observer; 1 of 2"):
        observer_functions(10, [550.0, bad])


def test_tables_are_linear_between_their_rows():
    ends = illuminant_power("FL2", [545.0, 550.0])
    assert illuminant_power("FL2", 547.0) == pytest.approx(0.6 * ends[0] + 0.4 * ends[1])


@pytest.mark.parametrize("light", ["D65", "A", "FL11", "LED-B3"])
@pytest.mark.parametrize("observer", [2, 10])
@pytest.mark.parametrize(
    "grid",
    [
        np.arange(380.0, 781.0),
        np.arange(380.0, 781.0, 20.0),
        np.arange(300.0, 2500.0, 7.3),
        np.r_[np.arange(350.0, 500.0, 3.0), np.linspace(500.0, 800.0, 41)],
    ],
    ids=["1 nm", "20 nm", "beyond the visible", "uneven"],
)
def test_the_white_does_not_depend_on_the_grid(light, observer, grid):
    white = tristimulus_weights(grid, light, observer).sum(axis=0)
    np.testing.assert_allclose(white, white_xyz(light, observer), rtol=1e-12)


def test_wavelengths_far_from_the_visible_weigh_nothing():
    grid = np.arange(200.0, 2000.0, 10.0)
    weights = tristimulus_weights(grid)
    assert not weights[(grid < 330) | (grid > 810)].any()


def test_weights_are_shared_and_so_read_only():
    weights = tristimulus_weights(GRID_NM, "d65")
    assert weights is tristimulus_weights(GRID_NM.copy(), "D65")
    with pytest.raises(ValueError, match="read-only"):
        weights[0, 0] = 1.0


@settings(deadline=None, max_examples=40)
@given(st.floats(0.5, 19.0), st.lists(st.floats(-1, 1), min_size=4, max_size=4))
def test_even_grids_are_exact_for_cubics(step_nm, coefficients):
    grid = 375.0 + step_nm * np.arange(int(np.ceil(410.0 / step_nm)) + 1)
    fine = np.arange(375.0, 800.0)
    cubic = np.polynomial.Polynomial(coefficients, domain=[380, 780])
    coarse_xyz = cubic(grid) @ tristimulus_weights(grid)
    np.testing.assert_allclose(coarse_xyz, cubic(fine) @ tristimulus_weights(fine), atol=1e-3)


@pytest.mark.parametrize(
    ("grid", "sentence"),
    [
        (np.arange(400.0, 781.0, 5.0), "must cover 380 to 780 nm"),
        (np.arange(380.0, 771.0, 5.0), "must cover 380 to 780 nm"),
        (np.arange(370.0, 800.0, 25.0), "no step wider than 20 nm between 380 and 780 nm"),
        (GRID_NM[::-1], "finite, increasing"),
        (np.r_[GRID_NM, 780.0], "finite, increasing"),
        (np.r_[GRID_NM, np.nan], "finite, increasing"),
        (np.array([550.0]), "finite, increasing"),
    ],
)
def test_a_grid_that_carries_no_colour_is_refused(grid, sentence):
    with pytest.raises(OutOfRangeError, match=sentence):
        tristimulus_weights(grid)


def test_a_wide_step_outside_the_visible_does_no_harm():
    grid = np.r_[200.0, 300.0, GRID_NM, 900.0, 1500.0]
    assert tristimulus_weights(grid).sum(axis=0)[1] == pytest.approx(100.0)
