"""Interference orders against the minima and maxima of computed reflectance."""

import numpy as np
import pytest

from oxhue.optics.films.engine.thickness_scan import reflectance_scan
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.order import interference_order, interference_orders, order_centres_nm

NM = np.arange(0.0, 400.0, 0.25)
GREEN = np.array([550.0])
CASES = [
    ("TiO2(siefke2016)", "Ti(johnson1974)"),
    ("TiO2(rutile)", "Ti(johnson1974)"),
    ("SiO2(malitson1965)", "Si(green2008)"),
    ("Si3N4(philipp1973)", "Si(green2008)"),
    ("Ta2O5", "Ta"),
    ("Nb2O5", "Nb"),
]


def green_reflectance(pair):
    film, below = pair.film.nk(GREEN), pair.substrate.nk(GREEN)
    return reflectance_scan(film, below[None], NM, wavelength_nm=GREEN)[0, :, 0]


@pytest.mark.parametrize(("film", "on"), CASES)
def test_orders_turn_at_maxima_and_are_deepest_at_minima(film, on):
    pair = list_film_models((film,), on)[0]
    R = green_reflectance(pair)
    inner = slice(1, -1)
    maxima = NM[inner][(R[1:-1] > R[:-2]) & (R[1:-1] >= R[2:])]
    minima = NM[inner][(R[1:-1] < R[:-2]) & (R[1:-1] <= R[2:])]
    order = np.array([interference_order(pair, d) for d in NM])
    turns = NM[1:][np.diff(order) == 1]
    assert order[0] == 1
    assert np.all(np.isin(np.diff(order), [0, 1]))
    # A little absorption or several reflections shift an extremum by a few nanometres from the
    # point where two waves meet in phase.
    reached = maxima[maxima > 15.0]  # the bare metal may itself be next to a maximum
    np.testing.assert_allclose(turns, reached[: turns.size], atol=4.0)
    centres = order_centres_nm(pair, 400.0)
    np.testing.assert_allclose(centres, minima[: len(centres)], atol=4.0)
    assert [interference_order(pair, d) for d in centres] == list(range(1, len(centres) + 1))
    one_order = 550.0 / (2.0 * pair.film.nk(GREEN)[0].real)
    assert 400.0 - one_order < centres[-1] <= 400.0  # none is missing at the end


@pytest.mark.parametrize(("film", "on"), CASES)
def test_many_thicknesses_have_the_orders_of_each(film, on):
    pair = list_film_models((film,), on)[0]
    many = np.array([[0.0, np.nan, 55.0], [120.0, 300.0, 900.0]], dtype=np.float32)
    found = interference_orders(pair, many)
    assert found.dtype == np.uint8
    plain = [
        [0 if np.isnan(d) else interference_order(pair, float(d)) for d in row] for row in many
    ]
    assert found.tolist() == plain


def test_centres_end_where_asked():
    pair = list_film_models(("TiO2(siefke2016)",), "Ti(johnson1974)")[0]
    assert order_centres_nm(pair, 30.0) == []
    assert all(d <= 170.0 for d in order_centres_nm(pair, 170.0))


@pytest.mark.parametrize("film", ["TiO2(siefke2016)", "MgF2"])
def test_on_glass_an_order_is_half_a_wave_of_optical_thickness(film):
    """From minimum to minimum of a film brighter than glass, maximum to maximum of a darker."""
    pair = list_film_models((film,), "glass")[0]
    half_wave = 550.0 / (2.0 * pair.film.nk(GREEN)[0].real)
    nm = half_wave * np.array([0.0, 0.5, 0.97, 1.03, 1.97, 2.03, 2.97])
    assert [interference_order(pair, d) for d in nm] == [1, 1, 1, 2, 2, 3, 3]
    np.testing.assert_allclose(
        order_centres_nm(pair, 3.0 * half_wave), half_wave * np.array([0.5, 1.5, 2.5]), rtol=0.02
    )
