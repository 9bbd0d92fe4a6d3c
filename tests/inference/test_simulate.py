"""Films and readings drawn from the model have the spread the model states."""

import numpy as np
import pytest

from benchmarks.drawn import draw_films, draw_readings
from oxhue.optics.colour.colour import to_colour
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.illuminants import white_xyz
from oxhue.optics.colour.spaces import delta_e_76, xyz_to_lab
from oxhue.optics.errors import OutOfRangeError
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.films.stack import Layer, Stack
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.simulate import SampledFilms, film_spectra, film_xyz, seen_lab
from oxhue.optics.inference.uncertainty import Uncertainty

PAIRS = list_film_models(("TiO2",), "Ti")


def test_films_are_drawn_from_the_prior():
    films = draw_films(PAIRS, (50.0, 150.0), 0.04, count=20_000, rng=np.random.default_rng(4))
    share = np.bincount(films.pair, minlength=len(PAIRS)) / 20_000
    # Five standard errors of a share, a mean and a standard deviation of 20,000.
    np.testing.assert_allclose(share, [pair.weight for pair in PAIRS], atol=0.011)
    assert films.thickness_nm.min() >= 50.0
    assert films.thickness_nm.max() <= 150.0
    assert films.thickness_nm.mean() == pytest.approx(100.0, abs=5 * 28.9 / 141)
    assert films.index_error.std() == pytest.approx(0.04, rel=5 / 200)


def test_no_films_at_all_is_refused():
    with pytest.raises(OutOfRangeError, match="1 or more"):
        draw_films(PAIRS, (0.0, 1.0), 0.0, count=0, rng=np.random.default_rng(1))


def one(thickness_nm):
    return SampledFilms(np.zeros(1, dtype=np.intp), np.array([thickness_nm]), np.zeros(1))


@pytest.mark.parametrize(
    ("film", "on", "view", "stack", "side"),
    [
        ("TiO2(siefke2016)", "Ti(johnson1974)", "front", "{film} 80nm / {on}", "front"),
        ("Ti(johnson1974)", "glass 2mm", "front", "{film} 80nm / {on}", "front"),
        ("Ti(johnson1974)", "glass 2mm", "back", "{film} 80nm / {on}", "back"),
        (
            "TiO2(siefke2016)",
            "Ti(johnson1974) 50nm / glass 2mm",
            "back",
            "{film} 80nm / {on}",
            "back",
        ),
    ],
)
def test_colours_are_those_of_the_stack(film, on, view, stack, side):
    pairs = list_film_models((film,), on)
    xyz = film_xyz(one(80.0), pairs[:1], np.asarray(20.0), viewing=ViewingConditions(), view=view)
    seen = to_colour(solve(parse_stack(stack.format(film=film, on=on)), angle_deg=20.0, side=side))
    np.testing.assert_allclose(xyz[0], seen.xyz, atol=1e-9)


def test_light_through_is_the_transmitted_colour():
    pairs = list_film_models(("Ti(johnson1974)",), "glass 2mm")
    xyz = film_xyz(
        one(20.0), pairs[:1], np.asarray(0.0), viewing=ViewingConditions(), view="through"
    )
    seen = to_colour(solve(parse_stack("Ti(johnson1974) 20nm / glass 2mm")), of="transmitted")
    np.testing.assert_allclose(xyz[0], seen.xyz, atol=1e-9)


def test_a_veil_pales_and_an_exposure_scales():
    xyz = np.array([20.0, 15.0, 40.0])
    plain = seen_lab(xyz, np.asarray(0.0), ViewingConditions())
    veiled = seen_lab(xyz, np.asarray(0.2), ViewingConditions())
    assert np.hypot(*veiled[1:]) < np.hypot(*plain[1:])
    brighter = seen_lab(xyz, np.asarray(0.0), ViewingConditions(), exposure=1.1)
    np.testing.assert_allclose(brighter, seen_lab(1.1 * xyz, np.asarray(0.0), ViewingConditions()))
    # To first order gain moves Lab along (L + 16, a, b)/3.
    moved = plain + 0.01 * (plain + np.array([16.0, 0.0, 0.0])) / 3.0
    np.testing.assert_allclose(
        seen_lab(xyz, np.asarray(0.0), ViewingConditions(), exposure=1.01), moved, atol=0.002
    )


def test_readings_scatter_as_stated():
    pairs = list_film_models(("TiO2(siefke2016)",), "Ti(johnson1974)")
    count = 20_000
    films = SampledFilms(np.zeros(count, dtype=np.intp), np.full(count, 60.0), np.zeros(count))
    doubts = Uncertainty(noise_de=3.0, discrepancy_de=0.0, white_balance_de=4.0)
    drawn = draw_readings(
        films, pairs, doubts=doubts, viewing=ViewingConditions(), rng=np.random.default_rng(9)
    )
    seen = to_colour(solve(parse_stack("TiO2(siefke2016) 60nm / Ti(johnson1974)")))
    spread = np.sqrt([3.0, 11.0, 11.0])
    np.testing.assert_allclose(drawn.mean(axis=0), seen.lab, atol=5 * 3.4 / 141)
    np.testing.assert_allclose(drawn.std(axis=0), spread, rtol=5 / 200)


def test_a_film_on_endless_glass_is_seen_through_by_what_enters_it():
    pairs = list_film_models(("TiO2(siefke2016)",), "glass")
    films = SampledFilms(np.zeros(2, dtype=np.intp), np.array([40.0, 90.0]), np.zeros(2))
    for view, part in (("front", "R"), ("through", "T")):
        seen = film_spectra(films, pairs, np.asarray(30.0), view=view)
        for row, nm in zip(seen, films.thickness_nm, strict=True):
            layer = Layer(pairs[0].film, np.array(nm))
            whole = solve(Stack((layer,), pairs[0].substrate), angle_deg=30.0)
            np.testing.assert_allclose(row, getattr(whole, part), atol=1e-12)


@pytest.mark.parametrize(("film", "on"), [("TiO2", "Ti"), ("Cu", "glass 4mm"), ("Fe3O4", "steel")])
def test_every_second_wavelength_shows_the_colour_nearly(film, on):
    pairs = list_film_models([film], on)
    nm = np.arange(0.0, 251.0, 10.0)
    films = SampledFilms(np.zeros(nm.size, dtype=int), nm, np.zeros(nm.size))
    white = white_xyz("D65", 2)
    whole, half = (
        xyz_to_lab(
            film_xyz(films, pairs, np.asarray(20.0), viewing=ViewingConditions(), every=every),
            white,
        )
        for every in (1, 2)
    )
    off = delta_e_76(whole, half).max()
    assert 0.0 < off < 0.1
