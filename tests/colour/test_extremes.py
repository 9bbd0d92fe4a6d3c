"""Colours at the ends of what a number can be, and what is no number."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.colour.colour import spectra_to_xyz, xyz_to_colour
from oxhue.optics.colour.gamut import in_srgb, map_to_srgb
from oxhue.optics.colour.illuminants import (
    illuminant_names,
    illuminant_power,
    tristimulus_weights,
    white_xyz,
)
from oxhue.optics.colour.names import name_of_oklab
from oxhue.optics.colour.spaces import (
    delta_e_76,
    delta_e_2000,
    lab_to_xyz,
    oklab_to_oklch,
    oklab_to_srgb_linear,
    oklch_to_oklab,
    srgb_decode,
    srgb_encode,
    srgb_linear_to_oklab,
    srgb_to_hex,
    srgb_to_lab,
    srgb_to_oklab,
    srgb_to_xyz,
    xyz_to_lab,
    xyz_to_srgb_linear,
)
from oxhue.optics.errors import InputError

LOUD = {"over": "raise", "divide": "raise", "invalid": "raise", "under": "ignore"}
WHITE = white_xyz("D65", 2)
NM = np.arange(380.0, 781.0, 5.0)

tiny = st.sampled_from([0.0, -0.0, 5e-324, -5e-324, 1e-300, 1e-160, 1e-16])
value = tiny | st.floats(-0.5, 2.0)
colour = st.tuples(value, value, value).map(np.array)
light = st.sampled_from(illuminant_names())


@settings(max_examples=100, deadline=None)
@given(colour, colour)
def test_every_way_between_spaces_gives_numbers(one, other):
    with np.errstate(**LOUD):
        lab = xyz_to_lab(100.0 * one, WHITE)
        found = [
            lab, xyz_to_lab(100.0 * other, WHITE), lab_to_xyz(100.0 * one, WHITE),
            xyz_to_srgb_linear(100.0 * one, WHITE), srgb_encode(one), srgb_decode(one),
            srgb_to_xyz(one), srgb_to_lab(one), srgb_to_oklab(one), srgb_linear_to_oklab(one),
            oklab_to_srgb_linear(one), oklab_to_oklch(one), oklch_to_oklab(np.abs(one)),
            map_to_srgb(one)[0], np.asarray(delta_e_76(lab, 100.0 * other)),
            np.asarray(delta_e_2000(100.0 * one, 100.0 * other)),
        ]  # fmt: skip
        assert str(name_of_oklab(srgb_linear_to_oklab(np.abs(one))))
    assert all(np.isfinite(each).all() for each in found)
    assert found[13].min() >= 0.0
    assert found[13].max() <= 1.0


@settings(max_examples=60, deadline=None)
@given(st.tuples(tiny | st.floats(0, 1), tiny | st.floats(0, 1), tiny | st.floats(0, 1)), light)
def test_every_colour_appears_under_every_light(shares, name):
    with np.errstate(**LOUD):
        looked = xyz_to_colour(np.array(shares) * white_xyz(name, 2), name)
    assert np.isfinite(looked.lab).all()
    assert str(looked.srgb_hex).startswith("#")
    assert str(looked.name)


@settings(max_examples=30, deadline=None)
@given(tiny.map(abs) | st.floats(0.0, 1.0), light)
def test_a_grey_spectrum_is_that_share_of_white(share, name):
    with np.errstate(**LOUD):
        xyz = spectra_to_xyz(np.full(NM.size, share), NM, name)
    np.testing.assert_allclose(xyz, share * white_xyz(name, 2), rtol=2e-3, atol=1e-300)


@settings(max_examples=30, deadline=None)
@given(colour, colour)
def test_differences_do_not_mind_the_order_and_vanish_for_the_same(one, other):
    one, other = 100.0 * one, 100.0 * other
    for difference in (delta_e_76, delta_e_2000):
        assert difference(one, one) == pytest.approx(0.0, abs=1e-12)
        assert difference(one, other) == pytest.approx(float(difference(other, one)), rel=1e-9)
        assert difference(one, other) >= 0.0


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize(
    "make",
    [
        lambda c: xyz_to_lab(c, WHITE), lambda c: lab_to_xyz(c, WHITE),
        lambda c: xyz_to_srgb_linear(c, WHITE), srgb_encode, srgb_decode, srgb_to_hex,
        srgb_to_xyz, srgb_to_lab, srgb_linear_to_oklab, srgb_to_oklab, oklab_to_srgb_linear,
        oklab_to_oklch, oklch_to_oklab, in_srgb,
        lambda c: delta_e_2000(c, np.zeros(3)), lambda c: delta_e_76(np.zeros(3), c),
        map_to_srgb, name_of_oklab, xyz_to_colour, lambda c: spectra_to_xyz(c, NM[:3]),
        tristimulus_weights, lambda c: illuminant_power("D65", c),
    ],
)  # fmt: skip
def test_what_is_no_number_is_refused(make, bad):
    with pytest.raises(InputError):
        make(np.array([0.2, bad, 0.3]))


def test_opposite_hues_differ_alike_in_either_order():
    one, other = np.array([50.0, 10.0, 0.0]), np.array([50.0, -40.0, 0.0])
    assert delta_e_2000(one, other) == pytest.approx(delta_e_2000(other, one), rel=1e-14)
    one, other = np.array([50.0, 1.0, -60.0]), np.array([50.0, -0.25, 15.0])
    assert delta_e_2000(one, other) == pytest.approx(delta_e_2000(other, one), rel=1e-14)
