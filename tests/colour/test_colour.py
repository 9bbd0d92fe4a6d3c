"""From a response to a colour: the whole path, one colour or many."""

import numpy as np
import pytest

from oxhue.optics.colour.colour import spectra_to_xyz, to_colour, xyz_to_colour
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.gamut import map_to_srgb
from oxhue.optics.colour.illuminants import illuminant_names, white_xyz
from oxhue.optics.colour.spaces import srgb_decode, srgb_encode, srgb_to_hex
from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError
from oxhue.optics.films.spectra import Spectra

GRID_NM = np.arange(380.0, 781.0, 5.0)


def response_of(R: np.ndarray, T: np.ndarray | None = None) -> Spectra:
    return Spectra.from_arrays(GRID_NM, R, T)


def edge(at_nm: float, low: float = 0.05, high: float = 0.6) -> np.ndarray:
    """A smooth step up in wavelength: yellow, orange or red."""
    return low + (high - low) / (1.0 + np.exp(-(GRID_NM - at_nm) / 10.0))


@pytest.mark.parametrize("observer", [2, 10])
@pytest.mark.parametrize("light", illuminant_names())
def test_the_perfect_mirror_is_white_under_any_light(light, observer):
    seen = to_colour(response_of(np.ones(81)), light, observer)
    np.testing.assert_allclose(seen.lab, [100.0, 0.0, 0.0], atol=1e-10)
    np.testing.assert_allclose(seen.srgb_unmapped, 1.0, atol=1e-12)
    assert seen.srgb_hex == "#ffffff"
    assert seen.in_gamut is True
    assert seen.name == "silver"


def test_an_even_grey_has_the_lightness_of_its_reflectance():
    seen = to_colour(response_of(np.full(81, 0.18418651851244416)))
    np.testing.assert_allclose(seen.lab, [50.0, 0.0, 0.0], atol=1e-9)
    assert seen.name == "grey"


def test_nothing_reflected_is_black():
    seen = to_colour(response_of(np.zeros(81)))
    assert (seen.srgb_hex, seen.name) == ("#000000", "black")
    np.testing.assert_allclose(seen.lab, 0.0, atol=1e-12)


@pytest.mark.parametrize(("at_nm", "name"), [(500.0, "yellow"), (560.0, "orange"), (605.0, "red")])
def test_steps_in_the_spectrum_have_the_names_one_expects(at_nm, name):
    assert to_colour(response_of(edge(at_nm, low=0.02))).name == name


def test_one_colour_gives_plain_values_and_many_give_arrays():
    one = to_colour(response_of(edge(560.0)))
    assert (one.xyz.shape, one.lab.shape, one.srgb.shape) == ((3,), (3,), (3,))
    assert isinstance(one.srgb_hex, str)
    assert isinstance(one.name, str)
    assert isinstance(one.in_gamut, bool)
    many = to_colour(response_of(np.tile(edge(560.0), (2, 4, 1))))
    assert many.xyz.shape == many.lab.shape == many.srgb.shape == (2, 4, 3)
    assert many.srgb_hex.shape == many.name.shape == many.in_gamut.shape == (2, 4)
    assert set(many.srgb_hex.ravel()) == {one.srgb_hex}
    assert set(many.name.ravel()) == {one.name}


def test_an_empty_sweep_is_an_empty_answer():
    seen = to_colour(response_of(np.empty((0, 81))))
    assert seen.lab.shape == (0, 3)
    assert seen.srgb_hex.shape == seen.name.shape == (0,)


def test_the_mapped_colour_belongs_to_the_unmapped_one():
    narrow = np.exp(-(((GRID_NM - 510.0) / 15.0) ** 2))
    seen = to_colour(response_of(narrow))
    assert seen.in_gamut is False
    assert seen.srgb_unmapped.min() < 0.0
    mapped, _ = map_to_srgb(srgb_decode(seen.srgb_unmapped))
    np.testing.assert_allclose(seen.srgb, mapped, atol=1e-6)
    np.testing.assert_allclose(srgb_encode(seen.srgb_linear), seen.srgb_unmapped, atol=1e-12)
    assert seen.srgb_hex == str(srgb_to_hex(seen.srgb))


def test_the_other_side_is_looked_at_on_request():
    response = response_of(edge(560.0), T=np.full(81, 0.9))
    assert to_colour(response, of="transmitted").xyz[1] == pytest.approx(90.0)
    assert to_colour(response, of="transmitted").name == "clear"
    assert to_colour(response).name == to_colour(response_of(edge(560.0))).name


@pytest.mark.parametrize("share", [0.60, 0.75])
def test_grey_that_is_silver_on_a_mirror_is_grey_in_a_pane(share):
    response = response_of(np.full(81, share), T=np.full(81, share))
    assert to_colour(response).name == "silver"
    assert to_colour(response, of="transmitted").name == "grey"


def test_where_nothing_is_said_daylight_and_two_degrees_are_meant_everywhere():
    seen = to_colour(response_of(edge(560.0)))
    assert (seen.light, seen.observer) == ("D65", 2)
    assert ViewingConditions() == ViewingConditions(seen.light, seen.observer)
    np.testing.assert_array_equal(white_xyz(), white_xyz("D65", 2))
    np.testing.assert_array_equal(seen.xyz, spectra_to_xyz(edge(560.0), GRID_NM, "D65", observer=2))


def test_light_and_observer_change_the_colour_and_are_reported():
    seen = to_colour(response_of(edge(560.0)), "fl11", 10)
    assert (seen.light, seen.observer, seen.of) == ("FL11", 10, "reflected")
    assert np.abs(seen.lab - to_colour(response_of(edge(560.0))).lab).max() > 1.0


def test_darker_and_lighter_scale_the_tristimulus_values():
    R = edge(520.0)
    np.testing.assert_allclose(
        spectra_to_xyz(0.5 * R, GRID_NM), 0.5 * spectra_to_xyz(R, GRID_NM), rtol=1e-13
    )


def test_percent_in_place_of_fractions_is_refused():
    with pytest.raises(OutOfRangeError, match=r"between 0 and 1 .not percent.* reaches 40"):
        spectra_to_xyz(np.full((2, 81), 40.0), GRID_NM)
    with pytest.raises(OutOfRangeError, match=r"reaches 1\.005"):
        spectra_to_xyz(np.full(81, 1.005), GRID_NM)
    with pytest.raises(OutOfRangeError, match=r"reaches -0\.005"):
        spectra_to_xyz(np.full(81, -0.005), GRID_NM)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_what_is_not_a_number_is_refused(bad):
    R = np.full((3, 81), 0.5)
    R[1, 40] = bad
    with pytest.raises(InputError, match="fraction must be finite"):
        spectra_to_xyz(R, GRID_NM)


@pytest.mark.parametrize("R", [np.float64(0.5), np.full(80, 0.5), np.full((81, 2), 0.5)])
def test_spectrum_and_wavelengths_must_fit(R):
    with pytest.raises(InputError, match="one value for each of the 81 wavelengths"):
        spectra_to_xyz(R, GRID_NM)


def test_bad_choices_are_refused_in_a_sentence():
    response = response_of(np.full(81, 0.5))
    with pytest.raises(InputError, match="of must be 'reflected' or 'transmitted', not 'both'"):
        to_colour(response, of="both")
    with pytest.raises(UnknownNameError, match="did you mean D65"):
        to_colour(response, light="D6")
    with pytest.raises(InputError, match="observer must be 2 or 10"):
        to_colour(response, observer=4)
    short = Spectra.from_arrays(GRID_NM[10:], *np.full((2, 71), 0.5))
    with pytest.raises(OutOfRangeError, match="must cover 380 to 780 nm"):
        to_colour(short)


def test_tristimulus_values_look_like_the_spectrum_they_came_from():
    R = np.stack([edge(500.0), edge(605.0)])
    direct = to_colour(response_of(R), "A", 10)
    through = xyz_to_colour(spectra_to_xyz(R, GRID_NM, "A", observer=10), "A", 10)
    np.testing.assert_array_equal(through.lab, direct.lab)
    assert list(through.srgb_hex) == list(direct.srgb_hex)
    assert list(through.name) == list(direct.name)


def test_bad_tristimulus_values_are_refused():
    with pytest.raises(InputError, match="xyz must be finite"):
        xyz_to_colour([20.0, np.nan, 20.0])
    with pytest.raises(InputError, match="of must be 'reflected' or 'transmitted'"):
        xyz_to_colour([20.0, 20.0, 20.0], of="both")
