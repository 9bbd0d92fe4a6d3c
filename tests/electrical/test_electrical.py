"""Resistivity of thin films and the geometry of what an ohmmeter touches."""

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.electrical.sheet_resistance import (
    INFINITE_SHEET,
    rectangle_factor,
    round_piece_factor,
    squares,
)
from oxhue.optics.electrical.thin_film import (
    compound_ohm_cm,
    conducting_metals,
    face_factor,
    film_metal,
    film_resistivity,
    grain_factor,
    metal_sheet_ohm,
    suboxide_ohm_cm,
)
from oxhue.optics.errors import OutOfRangeError, UnknownNameError


@pytest.mark.parametrize(("k", "p"), [(1e-3, 0.5), (0.01, 0.0), (0.3, 0.9), (2.0, 0.2)])
def test_the_face_integral_agrees_with_fifteen_digit_quadrature(k, p):
    def integrand(t):
        fading = mpmath.exp(-k * t)
        return (t**-3 - t**-5) * (1 - fading) / (1 - p * fading)

    whole = mpmath.quad(integrand, [1, 10, 100, 1e3, 1e4, mpmath.inf])
    assert face_factor(k, p) == pytest.approx(float(1 / (1 - 1.5 / k * (1 - p) * whole)), rel=1e-9)


def test_mirror_faces_and_thick_films_leave_the_bulk():
    assert face_factor(0.2, 1.0) == 1.0
    assert face_factor(1e4) == pytest.approx(1.0 + 0.375e-4, rel=1e-7)


@given(st.floats(0.01, 100.0), st.floats(0.0, 0.95))
@settings(deadline=None, max_examples=50)
def test_thinner_and_rougher_films_conduct_worse(k, p):
    assert face_factor(k, p) > face_factor(1.1 * k, p) > 1.0
    assert face_factor(k, p) > face_factor(k, min(1.0, p + 0.05))


def test_grain_factor_joins_its_series_smoothly_and_starts_at_one():
    assert grain_factor(0.0) == 1.0
    near = grain_factor([49.999, 50.001])
    assert near[1] - near[0] == pytest.approx(0.002 * 4.0 / 3.0, rel=1e-3)


@pytest.mark.parametrize("bad", [0.0, -1.0, np.nan, np.inf])
def test_face_factor_refuses_impossible_ratios(bad):
    with pytest.raises(OutOfRangeError, match="positive and finite"):
        face_factor(bad)


@pytest.mark.parametrize("bad", [-0.1, np.nan, np.inf])
def test_grain_factor_refuses_impossible_strengths(bad):
    with pytest.raises(OutOfRangeError, match="not negative"):
        grain_factor(bad)


def test_shapes_broadcast():
    metal = film_metal("Ti")
    assert film_resistivity(metal, np.ones((3, 1)) * 20.0, np.ones(4)).shape == (3, 4)


@pytest.mark.parametrize("name", conducting_metals())
def test_every_listed_metal_conducts_and_tends_to_its_bulk(name):
    metal = film_metal(name)
    assert film_resistivity(metal, 1e6) == pytest.approx(metal.bulk_uohm_cm, rel=0.01)
    assert metal.percolation_nm[0] < metal.percolation_nm[1]
    assert metal.impurity[0] < metal.impurity[1]


def test_islands_that_do_not_touch_do_not_conduct():
    silver = film_metal("Ag")
    sheet = metal_sheet_ohm(silver, [5.0, 10.5, 30.0], percolation_nm=10.0)
    assert np.isinf(sheet[0])
    assert sheet[1] > 100.0 * sheet[2]


def test_heat_adds_what_it_adds_to_the_bulk():
    metal = film_metal("Al")
    rise = film_resistivity(metal, 30.0, temperature_C=120.0) - film_resistivity(metal, 30.0)
    assert rise == pytest.approx(metal.bulk_uohm_cm * metal.coefficient_per_K * 100.0)


def test_unknown_metals_and_compounds_are_named():
    with pytest.raises(UnknownNameError, match="did you mean Ti"):
        film_metal("Tii")
    with pytest.raises(UnknownNameError, match="'XeO'"):
        compound_ohm_cm("XeO")
    assert compound_ohm_cm("TiO2(anatase)") == compound_ohm_cm("TiO2")


def test_suboxide_stays_inside_what_was_measured():
    with pytest.raises(OutOfRangeError, match=r"1\.73 and 1\.97"):
        suboxide_ohm_cm(1.5)
    assert np.all(np.diff(suboxide_ohm_cm(np.linspace(1.73, 1.97, 20))) > 0.0)


def test_a_strip_of_six_squares():
    assert squares(30.0, 5.0) == 6.0
    assert squares(0.5, 0.25) == 2.0  # under a microscope a strip may be narrow
    with pytest.raises(OutOfRangeError):
        squares(30.0, 0.0)


def test_four_points_on_a_wide_piece_see_an_infinite_sheet():
    assert rectangle_factor(4000.0, 4000.0, 1.0) == pytest.approx(INFINITE_SHEET, abs=1e-5)
    assert round_piece_factor(4000.0) == pytest.approx(INFINITE_SHEET, abs=1e-5)


def test_four_points_on_a_narrow_strip_see_one_strip():
    """Between the inner points the current fills the width: V/I is R times spacing over width."""
    assert 1.0 / rectangle_factor(100.0, 1.0, 5.0) == pytest.approx(5.0, rel=1e-6)


def test_points_that_do_not_fit_are_refused():
    with pytest.raises(OutOfRangeError, match="do not fit"):
        rectangle_factor(3.0, 3.0, 1.0)
    with pytest.raises(OutOfRangeError, match="three spacings"):
        round_piece_factor(2.9)


@pytest.mark.parametrize("d", [5e-324, 1e-300, 1e-12, 1e12, 1e300])
def test_no_thickness_overflows_a_sheet(d):
    with np.errstate(all="raise", under="ignore"):
        sheet = metal_sheet_ohm(film_metal("Ti"), d, 1.0, percolation_nm=2.0)
    assert sheet == (np.inf if d < 2.0 else pytest.approx(420.0 / d, rel=1e-6))


@pytest.mark.parametrize(("d", "grain"), [(5e-324, None), (10.0, 5e-324), (np.inf, 10.0)])
def test_no_film_is_that_thin_or_that_thick(d, grain):
    with pytest.raises(OutOfRangeError, match="must pass"):
        film_resistivity(film_metal("Ti"), d, grain_nm=grain)


def test_faces_and_grains_at_the_ends_of_what_is_a_number():
    with np.errstate(all="raise", under="ignore"):
        assert face_factor(1e300) == pytest.approx(1.0, abs=1e-15)
        assert grain_factor(1e300) == pytest.approx(4.0 / 3.0 * 1e300)
