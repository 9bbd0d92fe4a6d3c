"""A slit means a curve over its width, however narrow the fringes are."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.spectrum_worlds import blurred
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.spectrum.seen import even_steps, list_grids, nearest_known, path_nm, reaches
from oxhue.optics.spectrum.slit import Slit

READ_NM = np.arange(430.0, 701.0, 10.0)
TITANIA = "TiO2(siefke2016)"


def reflected(thickness_nm, wavelength_nm):
    return solve(parse_stack(f"{TITANIA} {thickness_nm}nm / Ti"), wavelength_nm).R


def meant(thickness_nm, fwhm_nm):
    """Reflectance by a mean over a bell of the slit's variance, in small steps."""
    off = np.linspace(-4.0, 4.0, 161)
    weight = np.exp(-0.5 * off**2)
    each = [reflected(thickness_nm, READ_NM + one * fwhm_nm / np.sqrt(6.0)) for one in off]
    return weight @ np.array(each) / weight.sum()


@pytest.mark.parametrize("step", [5.0, 10.0])
def test_a_slit_blurs_as_its_mean_does(step):
    """The mean is over a triangle here, of which the bell has the variance."""
    fine, read = np.arange(330.0, 821.0), np.arange(400.0, 751.0, step)

    def fringes(nm):
        return 0.4 + 0.2 * np.cos(4.0 * np.pi * 2.4 * 245.0 / nm)

    due = np.interp(read, fine, blurred(fringes(fine), 10.0))
    seen = even_steps(read, step)
    found, slope = Slit.of(seen, read, None).blur(fringes(seen)[None], np.array([10.0]))
    assert np.abs(due - fringes(read)).max() > 3e-3
    np.testing.assert_allclose(found[0], due, atol=3e-4)
    known = fringes(seen) @ Slit.of(seen, read, 10.0).known_blur
    np.testing.assert_allclose(known, found[0], rtol=1e-12)
    ahead, _ = Slit.of(seen, read, None).blur(fringes(seen)[None], np.array([10.001]))
    np.testing.assert_allclose((ahead - found) / 1e-3, slope, rtol=1e-3, atol=1e-7)


@pytest.mark.parametrize("thickness_nm", [60.0, 300.0, 900.0, 2000.0])
@pytest.mark.parametrize("fwhm_nm", [2.0, 10.0, 20.0])
def test_readings_ten_nanometres_apart_are_means_over_fringes_of_any_width(thickness_nm, fwhm_nm):
    """Of a film of 2 µm they are 13 nm wide in the blue."""
    grids = list_grids(READ_NM, [parse_medium(TITANIA)], below_nm=0.0, between_nm=(0.0, 2000.0))
    own = next(grid for grid in grids if grid.between_nm[1] >= thickness_nm)
    slit = Slit.of(own.wavelength_nm, READ_NM, fwhm_nm)
    found = reflected(thickness_nm, own.wavelength_nm) @ slit.known_blur
    np.testing.assert_allclose(found, meant(thickness_nm, fwhm_nm), atol=3e-3)


def test_a_slit_is_as_wide_as_a_colour_meters_steps():
    coarse, fine = np.arange(400.0, 701.0, 10.0), np.arange(400.0, 701.0, 1.0)
    assert Slit.of(coarse, coarse, None).fwhm_nm == 10.0
    assert Slit.of(fine, fine, None).fwhm_nm == 2.0


def test_thick_films_are_seen_more_finely_and_every_thickness_once():
    film = [parse_medium(TITANIA)]
    grids = list_grids(READ_NM, film, below_nm=0.0, between_nm=(0.0, 2000.0))
    edges = [end for grid in grids for end in grid.between_nm]
    assert edges == sorted(edges)
    assert (edges[0], edges[-1]) == (0.0, 2000.0)
    assert sum(grid.share_of((0.0, 2000.0)) for grid in grids) == pytest.approx(1.0)
    steps = [grid.wavelength_nm[1] - grid.wavelength_nm[0] for grid in grids]
    assert steps == sorted(steps, reverse=True)
    assert steps[-1] < 0.4 * steps[0]
    for grid in grids:
        assert grid.wavelength_nm[0] < READ_NM[0]
        assert grid.wavelength_nm[-1] > READ_NM[-1]
        np.testing.assert_allclose(np.diff(grid.wavelength_nm, 2), 0.0, atol=1e-9)
    assert len(list_grids(READ_NM, film, below_nm=0.0, between_nm=(0.0, 100.0))) == 1
    below = path_nm(parse_stack("SiO2 3000nm / Si").layers, READ_NM)
    (under_silica,) = list_grids(READ_NM, film, below_nm=below, between_nm=(0.0, 100.0))
    assert under_silica.wavelength_nm.size > 3 * READ_NM.size


def test_past_its_data_a_medium_is_as_at_their_end():
    medium = parse_medium(TITANIA)
    low = medium.wavelength_nm[0]
    asked = np.array([low - 20.0, low - 1.0, low + 5.0, 500.0])
    assert not reaches(medium, asked)
    known = nearest_known(medium, asked)
    np.testing.assert_array_equal(known, [low + 5.0, low + 5.0, low + 5.0, 500.0])
    np.testing.assert_array_equal(nearest_known(medium, READ_NM), READ_NM)
