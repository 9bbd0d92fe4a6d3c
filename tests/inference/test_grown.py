"""What heat grows on a metal, and how thick it usually is."""

from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference.binned import binned_densities, build_binned_table
from oxhue.optics.inference.grown import UsualThickness, expand_oxide, usual_thickness
from oxhue.optics.inference.likelihood import make_prior, single_reading_density, table_for
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.numerics.integrate import trapezoid
from oxhue.optics.oxidation.metals import find_metal

WHOLE = (0.0, 250.0)


@pytest.mark.parametrize(
    ("films", "on", "between_nm", "counts"),
    [
        (("Fe3O4", "Fe2O3"), "steel", WHOLE, True),
        (("Fe3O4(querry1985):Fe2O3 25%",), "steel", WHOLE, True),
        (("Fe3O4:Cr2O3 40%", "Cr2O3"), "stainless", WHOLE, True),
        (("oxide of stainless",), "stainless", WHOLE, True),
        (("Fe3O4",), "steel", (90.0, 250.0), True),
        (("Fe3O4",), "steel", (100.0, 250.0), False),  # who asks so knows that it is thick
        (("TiO2",), "steel", WHOLE, False),  # evaporated, not grown
        (("Fe3O4", "SiO2"), "steel", WHOLE, False),
        (("TiO2",), "Ti", WHOLE, False),
        (("Fe3O4",), "steel 200nm / glass", WHOLE, False),
    ],
)
def test_only_oxide_of_tempering_is_likelier_thin(films, on, between_nm, counts):
    assert (usual_thickness(films, on, between_nm) is not None) is counts


@pytest.mark.parametrize(
    ("alloy", "metal", "oxide"),
    [("Ti-6Al-4V", "titanium", "TiO2"), ("O1", "carbon steel", "Fe3O4"), ("430", "stainless", "")],
)
def test_a_film_on_an_alloy_is_weighed_on_what_stands_for_it_and_that_is_said(alloy, metal, oxide):
    found = gauge("oxide", on=alloy, seen="blue")
    assert any("is taken as" in said and metal in said for said in found.warnings)
    assert all(oxide in film for film in found.films)
    plain = gauge(find_metal(alloy).films, on=find_metal(alloy).on, seen="blue")
    assert plain.thickness_nm == pytest.approx(found.thickness_nm)


def test_what_grows_on_bronze_is_what_grows_on_copper():
    assert expand_oxide(["oxide"], "bronze") == find_metal("Cu").films


def test_the_weight_is_level_and_then_falls_to_a_tenth():
    usual = UsualThickness("steel", 100.0, 150.0)
    np.testing.assert_allclose(
        usual.weight(np.array([0.0, 100.0, 150.0, 200.0])), [1, 1, 0.1, 0.01]
    )


def test_the_prior_has_a_mean_of_one_and_its_rows_follow_it():
    prior = make_prior(FilmQuestion.of("Fe3O4", "steel"), 0.025)
    assert trapezoid(prior.thickness_weight, prior.thickness_nm) == pytest.approx(250.0)
    rows = prior.row_weights(np.zeros((len(prior.pairs), *prior.in_range.shape)))
    thickness = prior.scale_nm / (1.0 + prior.index_error[:, None])
    below = rows.sum(axis=0)[thickness < 100.0].sum()
    level = prior.thickness_nm < 100.0
    expected = trapezoid(prior.thickness_weight * level, prior.thickness_nm) / 250.0
    assert below == pytest.approx(expected, abs=0.01)


@pytest.mark.slow
def test_every_way_to_a_density_holds_thin_films_likelier():
    question = FilmQuestion.of("Fe3O4", "steel")
    flat = replace(question, usual=None)
    reading = parse_reading("#6a3fa0", "photo")
    prior, weighed = single_reading_density(question, reading)
    _, level = single_reading_density(flat, reading)
    by_hand = level * prior.thickness_weight
    np.testing.assert_allclose(weighed, by_hand / prior.mass(by_hand), atol=1e-9)
    table = table_for(question, reading.doubts)
    whole = prior.film_density(table.log_mixture(reading.points_lab, reading.weight)[None])[0][0]
    np.testing.assert_allclose(whole, weighed, atol=2e-4 * whole.max())
    parts = [
        next(binned_densities(build_binned_table(table, own), reading.points_lab))[0][0]
        for own in (prior, make_prior(flat, reading.doubts.index_spread))
    ]
    own = prior.thickness_weight[::2]
    np.testing.assert_allclose(parts[0], parts[1] * own, rtol=1e-4, atol=1e-9)


@pytest.mark.parametrize("word", ["purple", "dark blue", "blue", "light blue"])
@pytest.mark.parametrize("film", ["Fe3O4,Fe2O3", "Fe3O4", "oxide"])
def test_temper_words_of_steel_are_of_the_first_order(film, word):
    found = gauge(film, on="steel", seen=word)
    assert found.candidates[0].order == 1
    assert found.candidates[0].thickness_nm < 90.0
    assert any("likelier on carbon steel" in said for said in found.warnings)


def test_oxide_stands_for_what_grows_on_the_metal():
    assert expand_oxide(["oxide"], "Ti") == ("TiO2",)
    assert expand_oxide(["oxide", "Fe2O3"], "steel") == ("Fe3O4", "Fe2O3")
    assert expand_oxide(["Oxide"], "stainless") == ("oxide of stainless",)
    with pytest.raises(InputError, match=r"no oxide is held for 'glass'"):
        expand_oxide(["oxide"], "glass")
