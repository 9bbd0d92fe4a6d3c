"""A film that varies over the spot reads as the mean of what it is made of, fringes or none."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.spectrum.sample import Sample
from oxhue.optics.spectrum.spot import Build

READ_NM = np.arange(400.0, 701.0, 10.0)


def piece_on(base):
    return Sample.on(parse_stack(base), READ_NM, kind="reflectance", angle_deg=0.0, role="film")


@pytest.mark.parametrize(("film", "base"), [("TiO2", "Ti"), ("SiO2", "Si"), ("TiO2", "Si")])
@pytest.mark.parametrize("thickness_nm", [50.0, 400.0, 1700.0])
def test_the_mean_is_that_of_many_thicknesses(film, base, thickness_nm):
    piece, nk = piece_on(base), parse_medium(film).nk(READ_NM)
    off = np.linspace(-5.0, 5.0, 1601)
    for spread in (0.003, 0.01, 0.03, 0.06, 0.15):
        weight = np.exp(-0.5 * off**2)
        met = np.maximum(thickness_nm * (1.0 + spread * off), 0.0)
        each = piece.powers(np.broadcast_to(nk, (off.size, nk.size)), Build(met))
        uneven = Build(np.array([thickness_nm]), spread=np.array([spread]))
        found = piece.powers(nk[None], uneven)[0]
        np.testing.assert_allclose(found, weight @ each / weight.sum(), atol=6e-4)


@pytest.mark.parametrize("base", ["Ti", "Al 100nm / glass 1mm"])
@pytest.mark.parametrize("thickness_nm", [400.0, 1200.0])
def test_films_that_absorb_fade_by_the_thickness_they_have(base, thickness_nm):
    piece, nk = piece_on(base), parse_medium("TiO2").nk(READ_NM) + 0.03j
    off = np.linspace(-5.0, 5.0, 1601)
    for spread in (0.03, 0.06):
        weight = np.exp(-0.5 * off**2)
        each = piece.powers(
            np.broadcast_to(nk, (off.size, nk.size)), Build(thickness_nm * (1.0 + spread * off))
        )
        uneven = Build(np.array([thickness_nm]), spread=np.array([spread]))
        found = piece.powers(nk[None], uneven)[0]
        np.testing.assert_allclose(found, weight @ each / weight.sum(), atol=1e-3)


def test_slopes_of_films_that_need_other_numbers_of_thicknesses_stand_in_their_places():
    piece, nk = piece_on("Ti"), parse_medium("TiO2").nk(READ_NM)
    d = np.array([40.0, 1500.0, 200.0, 600.0])
    spread, film = np.array([0.02, 0.05, 0.03, 0.01]), np.broadcast_to(nk, (4, nk.size))

    def power(d, spread):
        return piece.powers(film, Build(d, spread=spread))

    found = piece.gradient(film, Build(d, spread=spread))
    np.testing.assert_allclose(found.power, power(d, spread), atol=1e-13)
    to_d = (power(d + 1e-4, spread) - power(d - 1e-4, spread)) / 2e-4
    to_spread = (power(d, spread + 1e-6) - power(d, spread - 1e-6)) / 2e-6
    np.testing.assert_allclose(found.to_thickness, to_d, atol=1e-8)
    np.testing.assert_allclose(found.to_spread, to_spread, atol=1e-5)
    alone = piece.powers(nk[None], Build(d[1:2], spread=spread[1:2]))
    np.testing.assert_allclose(found.power[1], alone[0], atol=1e-13)


def test_a_thick_film_of_many_thicknesses_has_no_fringes():
    """A few thicknesses would have: each its own."""
    piece, nk = piece_on("Ti"), parse_medium("TiO2").nk(READ_NM)
    even = piece.powers(nk[None], Build(np.array([2000.0])))[0]
    uneven = piece.powers(nk[None], Build(np.array([2000.0]), spread=np.array([0.08])))[0]
    assert np.abs(np.diff(even, 3)).max() > 0.1
    assert np.abs(np.diff(uneven, 3)).max() < 4e-3
