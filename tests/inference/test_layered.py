"""Films of two layers that share their thickness, against the general engine."""

import numpy as np
import pytest

from oxhue.optics.colour.colour import to_colour
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.illuminants import tristimulus_weights
from oxhue.optics.colour.spaces import xyz_to_lab
from oxhue.optics.films.engine.thickness_scan import base_of, thickness_scan
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.inference.hypotheses import FilmModel, list_film_models
from oxhue.optics.inference.layered import Bilayer, layers_of, scan_layers, scan_scales
from oxhue.optics.inference.simulate import SampledFilms, film_xyz, normal_incidence_xyz

SHARE = 0.3
FILM = Bilayer(parse_medium("Fe2O3"), parse_medium("Fe3O4(querry1985)"), SHARE)


def model(base):
    return FilmModel("hematite over magnetite", FILM, parse_stack(base), 1.0)


@pytest.mark.parametrize("base", ["steel", "SiO2 20nm / steel", "glass 1mm"])
@pytest.mark.parametrize("angle_deg", [0.0, 40.0])
def test_colours_are_those_of_the_stack_written_out(base, angle_deg):
    nm = np.array([12.0, 40.0, 85.0])
    films = SampledFilms(np.zeros(3, dtype=int), nm, np.zeros(3))
    got = film_xyz(films, (model(base),), np.asarray(angle_deg), viewing=ViewingConditions())
    for row, one in zip(got, nm, strict=True):
        upper, lower = SHARE * one, (1.0 - SHARE) * one
        stack = parse_stack(f"Fe2O3 {upper:.12g}nm / Fe3O4(querry1985) {lower:.12g}nm / {base}")
        expected = to_colour(solve(stack, angle_deg=angle_deg)).xyz
        np.testing.assert_allclose(row, expected, rtol=1e-9)


def test_the_kept_ramp_gives_the_same_colours():
    films = SampledFilms(np.zeros(5, dtype=int), np.array([0.0, 0.3, 20.0, 60.2, 1e3]), np.zeros(5))
    one_by_one = film_xyz(films, (model("steel"),), np.asarray(0.0), viewing=ViewingConditions())
    read = normal_incidence_xyz(films, (model("steel"),), ViewingConditions())
    np.testing.assert_allclose(read, one_by_one, rtol=1e-6)


def test_films_of_one_and_of_two_layers_are_drawn_together():
    pairs = list_film_models(["Fe3O4"], "steel")
    assert {len(layers_of(pair.film)[1]) for pair in pairs} == {1, 2}
    films = SampledFilms(np.arange(len(pairs)), np.full(len(pairs), 40.0), np.zeros(len(pairs)))
    together = film_xyz(films, pairs, np.asarray(0.0), viewing=ViewingConditions())
    for j in range(len(pairs)):
        alone = SampledFilms(np.array([j]), np.array([40.0]), np.zeros(1))
        own = film_xyz(alone, pairs, np.asarray(0.0), viewing=ViewingConditions())
        np.testing.assert_allclose(together[j], own[0], rtol=1e-12)


def test_the_mean_index_lies_between_the_layers():
    upper, lower = (part.nk(550.0).real for part in (FILM.first, FILM.second))
    assert lower < FILM.nk(550.0).real < upper
    assert FILM.label == "Fe2O3(querry1985), 30% of the film, over Fe3O4(querry1985)"


@pytest.mark.parametrize("view", ["front", "through", "back"])
@pytest.mark.parametrize("film", ["Cu", "Al", "Fe3O4"])
def test_films_too_thick_to_see_through_look_like_the_first_that_is(film, view):
    nm = np.arange(0.0, 1000.0, 0.5)
    base = base_of(parse_stack("glass 1mm"), DEFAULT_WAVELENGTH_NM)
    weights = tristimulus_weights(DEFAULT_WAVELENGTH_NM, "D65", 2)
    index = layers_of(parse_medium(film))[0]
    films = index[None], np.ones(1)
    xyz = scan_layers(films, [base], nm, angle_deg=20.0, view=view, weights=weights)[0]
    each = thickness_scan(
        index[0], [base], nm,
        wavelength_nm=DEFAULT_WAVELENGTH_NM, angle_deg=20.0, view=view, weights=weights,
    )  # fmt: skip
    white = weights.sum(axis=0)
    np.testing.assert_allclose(xyz_to_lab(xyz, white), xyz_to_lab(each, white), atol=3e-3)


def test_several_films_at_once_are_those_one_by_one():
    bases = [base_of(parse_stack(one), DEFAULT_WAVELENGTH_NM) for one in ("Ti", "SiO2 20nm / Ti")]
    weights = tristimulus_weights(DEFAULT_WAVELENGTH_NM, "D65", 2)
    errors, angles, scale = (
        np.array([-0.05, 0.0, 0.03]),
        np.array([0.0, 30.0]),
        np.arange(0, 200, 2.0),
    )
    for film in (parse_medium("TiO2"), FILM):
        found = scan_scales(
            film, bases, scale, index_error=errors, angle_deg=angles, weights=weights
        )
        index, share = layers_of(film)
        for e, a in ((0, 0), (2, 1)):
            one = scan_layers(
                (index[None] * (1.0 + errors[e]), share), bases, scale / (1.0 + errors[e]),
                angle_deg=angles[a], weights=weights,
            )[0]  # fmt: skip
            np.testing.assert_allclose(found[e, a], one, rtol=1e-7)
