"""Colour spaces: values, shapes, round trips and what is refused."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from oxhue.optics.colour import spaces
from oxhue.optics.errors import InputError

WHITE = spaces.SRGB_WHITE_XYZ
IN_SRGB = arrays(np.float64, (5, 3), elements=st.floats(0.0, 1.0))
BEYOND_SRGB = arrays(np.float64, (5, 3), elements=st.floats(-0.5, 1.5))

ONE_COLOUR = {
    "xyz_to_lab": lambda c: spaces.xyz_to_lab(c, WHITE),
    "lab_to_xyz": lambda c: spaces.lab_to_xyz(c, WHITE),
    "xyz_to_srgb_linear": lambda c: spaces.xyz_to_srgb_linear(c, WHITE),
    "srgb_encode": spaces.srgb_encode,
    "srgb_decode": spaces.srgb_decode,
    "srgb_to_xyz": spaces.srgb_to_xyz,
    "srgb_to_lab": spaces.srgb_to_lab,
    "srgb_to_oklab": spaces.srgb_to_oklab,
    "srgb_linear_to_oklab": spaces.srgb_linear_to_oklab,
    "oklab_to_srgb_linear": spaces.oklab_to_srgb_linear,
    "oklab_to_oklch": spaces.oklab_to_oklch,
    "oklch_to_oklab": spaces.oklch_to_oklab,
}
TWO_COLOURS = {"delta_e_2000": spaces.delta_e_2000, "delta_e_76": spaces.delta_e_76}


@pytest.mark.parametrize("convert", ONE_COLOUR.values(), ids=ONE_COLOUR.keys())
@pytest.mark.parametrize("shape", [(3,), (4, 3), (2, 5, 3), (0, 3)])
def test_conversions_keep_the_shape_and_treat_each_colour_alone(convert, shape):
    colours = np.random.default_rng(1).uniform(0.1, 0.9, shape)
    result = convert(colours)
    assert result.shape == shape
    for index in np.ndindex(shape[:-1]):
        np.testing.assert_allclose(result[index], convert(colours[index]), rtol=1e-12, atol=1e-13)


@pytest.mark.parametrize("differ", TWO_COLOURS.values(), ids=TWO_COLOURS.keys())
def test_differences_broadcast_and_vanish_for_equal_colours(differ):
    lab = np.random.default_rng(2).uniform([0, -60, -60], [100, 60, 60], (4, 3))
    table = differ(lab[:, None], lab[None, :])
    assert table.shape == (4, 4)
    np.testing.assert_allclose(np.diag(table), 0.0, atol=1e-12)
    np.testing.assert_allclose(table, table.T, rtol=1e-12)
    assert differ(lab[0], lab[1]) == pytest.approx(table[0, 1])


@pytest.mark.parametrize("bad", [np.nan, np.inf])
@pytest.mark.parametrize("convert", ONE_COLOUR.values(), ids=ONE_COLOUR.keys())
def test_what_is_not_a_number_is_refused(convert, bad):
    with pytest.raises(InputError, match="finite numbers"):
        convert([[0.2, 0.3, 0.4], [0.2, bad, 0.4]])


@pytest.mark.parametrize("wrong", [0.5, [0.1, 0.2], [[0.1, 0.2, 0.3, 0.4]]])
def test_other_than_three_components_are_refused(wrong):
    with pytest.raises(InputError, match="srgb must have 3 components on its last axis"):
        spaces.srgb_to_oklab(wrong)


@settings(deadline=None)
@given(BEYOND_SRGB)
def test_encode_and_decode_undo_each_other_with_the_sign_kept(colours):
    np.testing.assert_allclose(
        spaces.srgb_decode(spaces.srgb_encode(colours)), colours, rtol=2e-4, atol=2e-8
    )
    np.testing.assert_array_equal(np.sign(spaces.srgb_encode(colours)), np.sign(colours))


def test_the_two_parts_of_the_transfer_curve_meet():
    # IEC 61966-2-1 rounds the cut, so the parts meet within 1e-7 in code value, no closer.
    below, above = spaces.srgb_encode([0.0031308, 0.0031308 * (1 + 1e-12)])
    assert abs(above - below) < 1e-7


@settings(deadline=None)
@given(IN_SRGB)
def test_lab_and_xyz_undo_each_other(colours):
    xyz = 100.0 * colours
    lab = spaces.xyz_to_lab(xyz, WHITE)
    np.testing.assert_allclose(spaces.lab_to_xyz(lab, WHITE), xyz, atol=1e-10)


@settings(deadline=None)
@given(IN_SRGB)
def test_oklab_and_linear_srgb_undo_each_other(colours):
    oklab = spaces.srgb_linear_to_oklab(colours)
    np.testing.assert_allclose(spaces.oklab_to_srgb_linear(oklab), colours, atol=1e-12)
    oklch = spaces.oklab_to_oklch(oklab)
    assert np.all((oklch[:, 2] >= 0) & (oklch[:, 2] < 360))
    np.testing.assert_allclose(spaces.oklch_to_oklab(oklch), oklab, atol=1e-14)


@settings(deadline=None)
@given(IN_SRGB)
def test_srgb_to_xyz_is_the_inverse_of_xyz_to_srgb(colours):
    linear = spaces.xyz_to_srgb_linear(spaces.srgb_to_xyz(colours), WHITE)
    np.testing.assert_allclose(linear, spaces.srgb_decode(colours), atol=1e-12)


@pytest.mark.parametrize("white", [WHITE, [109.85, 100.0, 35.585], [99.19, 100.0, 67.39]])
def test_the_white_of_any_light_is_white(white):
    np.testing.assert_allclose(spaces.xyz_to_lab(white, white), [100.0, 0.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(spaces.xyz_to_srgb_linear(white, white), 1.0, atol=1e-12)


def test_oklab_of_white_and_black_is_neutral():
    np.testing.assert_allclose(spaces.srgb_to_oklab([[1, 1, 1], [0, 0, 0]])[:, 1:], 0, atol=1e-14)


def test_a_hue_a_hair_below_zero_is_zero_and_not_360():
    hue = spaces.oklab_to_oklch([[0.5, 0.1, -1e-20], [0.5, 0.1, 0.0], [0.5, 0.1, -1e-3]])[:, 2]
    assert hue[:2].tolist() == [0.0, 0.0]
    assert 359.0 < hue[2] < 360.0


def test_every_hex_survives_a_round_trip():
    levels = np.arange(0, 256, 5)
    cube = np.stack(np.meshgrid(levels, levels, levels, indexing="ij"), axis=-1).reshape(-1, 3)
    written = spaces.srgb_to_hex(cube / 255.0)
    assert written[0] == "#000000"
    assert written[-1] == "#ffffff"
    step = 7  # the whole path, over a thinned set, to keep it quick
    read = np.array([spaces.parse_hex(text) for text in written[::step]])
    np.testing.assert_array_equal(np.rint(255 * read), cube[::step])
    back = spaces.srgb_encode(spaces.oklab_to_srgb_linear(spaces.srgb_to_oklab(cube / 255.0)))
    np.testing.assert_array_equal(spaces.srgb_to_hex(np.clip(back, 0, 1)), written)


def test_hex_of_arrays_and_of_one_colour():
    assert spaces.srgb_to_hex(np.ones((2, 4, 3))).shape == (2, 4)
    assert str(spaces.srgb_to_hex([106 / 255, 63 / 255, 160 / 255])) == "#6a3fa0"


@pytest.mark.parametrize("text", ["#6a3fa0", "6a3fa0", " #6A3FA0 "])
def test_hex_is_read_with_or_without_the_sign(text):
    np.testing.assert_array_equal(spaces.parse_hex(text) * 255, [106, 63, 160])


def test_short_hex_doubles_its_digits():
    np.testing.assert_array_equal(spaces.parse_hex("#abc"), spaces.parse_hex("#aabbcc"))


@pytest.mark.parametrize("text", ["", "#", "#12", "#12345", "#1234567", "purple", "##abc", "0xabc"])
def test_other_texts_are_not_hex(text):
    with pytest.raises(InputError, match="a hex colour looks like #6a3fa0"):
        spaces.parse_hex(text)


@pytest.mark.parametrize("outside", [-0.01, 1.01])
def test_hex_of_an_unmapped_colour_is_refused(outside):
    with pytest.raises(InputError, match="between 0 and 1"):
        spaces.srgb_to_hex([0.5, outside, 0.5])


def test_delta_e_76_is_the_distance():
    assert spaces.delta_e_76([50.0, 3.0, 0.0], [50.0, 0.0, 4.0]) == pytest.approx(5.0)


def test_ciede2000_is_that_of_colour_science():
    from colour.difference import delta_E_CIE2000

    draw = np.random.default_rng(3).uniform(-120.0, 120.0, (2, 2000, 3))
    draw[0, :50, 1:] = 0.0  # greys have no hue
    draw[1, 25:75, 1:] = 0.0
    expected = delta_E_CIE2000(*draw)
    np.testing.assert_allclose(spaces.delta_e_2000(*draw), expected, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("count", [10, 20_000])
def test_lab_of_few_and_of_many_colours_has_all_its_digits(count):
    xyz = np.exp(np.random.default_rng(3).uniform(-8.0, 5.0, (count, 3)))
    xyz[0] = 0.0, 1e35, 100.0
    for part in (xyz, xyz[1:]):
        ratio = part / WHITE
        f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), (29 / 6) ** 2 / 3 * ratio + 4 / 29)
        lab = np.stack(
            [116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=-1
        )
        np.testing.assert_allclose(
            spaces.xyz_to_lab(part, WHITE), lab, rtol=1e-14, atol=1e-12 * f.max()
        )
