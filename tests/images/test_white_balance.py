"""Colours off rendered photos: how near they come, and what is said when they cannot."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from oxhue.optics.colour.spaces import (
    SRGB_WHITE_XYZ,
    lab_to_xyz,
    srgb_encode,
    xyz_to_srgb_linear,
)
from oxhue.optics.errors import InputError, OutOfRangeError
from oxhue.optics.images.icc import SRGB
from oxhue.optics.images.image import Codes
from oxhue.optics.images.linear_light import DARK_LINEAR, Picture, load_picture
from oxhue.optics.images.patches import Patch, linear_to_lab, parse_patch, read_patch
from oxhue.optics.images.white_balance import FLOOR_DE, correct_whole_photo, read_photo

FILM, WHITE, BARE = Patch(100, 60, 60, 60), Patch(200, 60, 60, 60), Patch(20, 60, 60, 60)
FULL = Patch(0, 0, 40, 40)
# Straw, purple, blue and grey as a film on titanium may show them, and titanium: from memory.
COLOURS_LAB = np.array(
    [[62.0, 12, 38], [38, 24, -28], [45, -4, -36], [60, 1, 3], [55, -14, 8], [30, 18, 2]]
)
METAL_LAB = np.array([75.0, 1, 6])


def linear_of(lab):
    return xyz_to_srgb_linear(lab_to_xyz(lab, SRGB_WHITE_XYZ), SRGB_WHITE_XYZ)


def bench(film_lab, white=0.9):
    """A film between a piece of bare metal and a white card, on a grey bench: linear light."""
    light = np.full((180, 280, 3), 0.2)
    for patch, colour in ((BARE, METAL_LAB), (FILM, film_lab)):
        light[50:130, patch.x - 10 : patch.x + 70] = linear_of(colour)
    light[50:130, WHITE.x - 10 : WHITE.x + 70] = white
    return light


def shot(light, rng=None, gain=(1, 1, 1), noise=0.0, shading=0.0):
    """Codes of 8 bits: gains on the channels, light falling off to the corners, photon noise."""
    rows, columns = np.mgrid[-1 : 1 : light.shape[0] * 1j, -1 : 1 : light.shape[1] * 1j]
    light = light * gain * (1 - shading * (rows**2 + columns**2) / 2)[..., None]
    if rng is not None:
        light = light + noise * np.sqrt(np.maximum(light, 1e-3)) * rng.normal(size=light.shape)
    return np.rint(255 * np.clip(srgb_encode(light), 0, 1)).astype(np.uint8)


def photo(tmp_path, codes, name="a.jpg"):
    Image.fromarray(codes).save(tmp_path / name, **({"quality": 75} if name == "a.jpg" else {}))
    return load_picture(tmp_path / name)


def plain(linear, clipped=None, crushed=None, valid=None):
    """A picture straight from linear light, without a file."""
    none = np.zeros(linear.shape[:2], bool)
    return Picture(
        linear=linear.astype(np.float32),
        clipped=none if clipped is None else clipped,
        crushed=none if crushed is None else crushed,
        dark=linear.max(axis=-1) < DARK_LINEAR,
        valid=~none if valid is None else valid,
        notes=(),
    )


def miss(reading, lab):
    return float(np.linalg.norm(reading.lab - lab))


@pytest.mark.parametrize("lab", COLOURS_LAB)
def test_a_good_photo_needs_no_correction(tmp_path, lab):
    picture = photo(tmp_path, shot(bench(lab), np.random.default_rng(2), noise=0.01))
    reading = read_photo(picture, FILM)
    assert miss(reading, lab) < 2.0  # 8 bits and JPEG: 0.5 in the median, 1.7 at worst
    assert reading.how == "photo"
    assert reading.adapted_by is None
    assert "white card" in reading.warnings[-1]


@pytest.mark.parametrize("lab", COLOURS_LAB)
@pytest.mark.parametrize(
    ("gain", "shading", "within"),
    [
        ((0.95, 0.9, 0.80), 0.0, 3.0),
        ((0.50, 0.6, 0.75), 0.0, 3.5),
        ((0.90, 0.9, 0.90), 0.3, 3.5),
    ],
    ids=["yellowish", "dark and blue", "light falling off"],
)
def test_a_card_or_the_bare_metal_mends_balance_and_exposure(tmp_path, lab, gain, shading, within):
    light = bench(lab)
    picture = photo(tmp_path, shot(light, np.random.default_rng(4), gain, 0.01, shading))
    raw = read_photo(picture, FILM)
    by_card = read_photo(picture, FILM, white=WHITE)
    by_metal = read_photo(picture, FILM, bare=BARE, bare_lab=METAL_LAB)
    assert miss(by_card, lab) < within
    assert miss(by_metal, lab) < within
    if shading == 0.0:
        assert miss(raw, lab) > miss(by_card, lab)
    assert (by_card.how, by_card.adapted_by) == ("card", "white")
    assert (by_metal.how, by_metal.adapted_by) == ("card", "bare")


def test_the_card_lands_on_its_reflectance_and_the_metal_on_its_colour():
    picture = plain(bench(COLOURS_LAB[1], white=0.7) * [0.9, 0.7, 0.5])
    card = read_photo(picture, Patch(210, 80, 10, 10), white=Patch(200, 60, 60, 10))
    np.testing.assert_allclose(card.lab, linear_to_lab([0.9] * 3), atol=1e-4)
    paper = read_photo(
        picture, Patch(210, 80, 10, 10), white=Patch(200, 60, 60, 10), white_reflectance=0.75
    )
    np.testing.assert_allclose(paper.lab, linear_to_lab([0.75] * 3), atol=1e-4)
    metal = read_photo(
        picture, Patch(30, 80, 10, 10), bare=Patch(20, 60, 60, 10), bare_lab=METAL_LAB
    )
    np.testing.assert_allclose(metal.lab, METAL_LAB, atol=1e-4)


def test_adaptation_of_grey_is_exact_and_of_colours_as_bradford_says():
    """As `xyz_to_srgb_linear` changes a white, which colour-science checks elsewhere."""
    seen_white, film = np.array([0.8, 0.7, 0.5]), np.array([0.3, 0.2, 0.25])
    light = np.tile(film, (40, 80, 1))
    light[:, 40:] = seen_white
    reading = read_photo(plain(light), FULL, white=Patch(50, 5, 20, 20), white_reflectance=1.0)
    to_xyz = np.linalg.inv(xyz_to_srgb_linear(np.eye(3), SRGB_WHITE_XYZ))
    expected = xyz_to_srgb_linear(film @ to_xyz, seen_white @ to_xyz)
    np.testing.assert_allclose(reading.lab, linear_to_lab(expected), atol=1e-3)


def test_with_both_references_the_metal_checks_the_card():
    light = bench(COLOURS_LAB[0])
    good = read_photo(plain(light), FILM, white=WHITE, bare=BARE, bare_lab=METAL_LAB)
    assert good.adapted_by == "white"
    assert good.bare_residual_de == pytest.approx(0.0, abs=1e-3)
    light[50:130, 10:90] *= 0.6
    off = read_photo(plain(light), FILM, white=WHITE, bare=BARE, bare_lab=METAL_LAB)
    assert off.bare_residual_de > 10
    assert "off its known colour" in off.warnings[-1]


def test_errors_are_as_large_as_the_noise_says():
    """Noise known to be normal and independent: the mean misses by its stated covariance.

    With 16 tiles the squared Mahalanobis distance is Hotelling's: 3 × 15 / 13 times F(3, 13),
    whose mean is 13 / 11.
    """
    rng = np.random.default_rng(8)
    lab = COLOURS_LAB[1]
    squares, ratios = [], []
    for _ in range(400):
        light = linear_of(lab) * (1 + 0.05 * rng.normal(size=(40, 40, 3)))
        seen = read_patch(plain(light), FULL)
        gap = seen.lab - lab
        squares.append(gap @ np.linalg.solve(seen.covariance_lab, gap))
        ratios.append(miss(seen, lab) ** 2 / np.trace(seen.covariance_lab))
    expected = 3 * 15 / 13 * 13 / 11
    assert np.mean(squares) == pytest.approx(expected, rel=0.2)
    assert np.mean(ratios) == pytest.approx(1.0, rel=0.15)


def test_readings_of_photos_scatter_as_noise_de_says(tmp_path):
    """Rendered photos with noise, JPEG and balance errors: root mean square of error / noise.

    Not below 0.5 (a reading that calls itself much worse than it is) and not above 2: what
    noise_de leaves out here is the shift that a balance error made in other channels leaves.
    """
    rng = np.random.default_rng(3)
    ratio = []
    for _ in range(30):
        lab = COLOURS_LAB[rng.integers(len(COLOURS_LAB))]
        gain = 0.85 * np.exp(rng.normal(0, [0.06, 0, 0.06]))
        picture = photo(tmp_path, shot(bench(lab), rng, gain, 0.02))
        reading = read_photo(picture, FILM, white=WHITE)
        ratio.append(miss(reading, lab) / reading.noise_de)
    assert 0.5 < np.sqrt(np.mean(np.square(ratio))) < 2.0


def test_the_noise_of_the_card_is_in_the_reading():
    rng = np.random.default_rng(1)
    light = bench(COLOURS_LAB[3])
    quiet = read_photo(plain(light), FILM, white=WHITE)
    assert quiet.noise_de == pytest.approx(FLOOR_DE, abs=0.01)
    light[50:130, 190:270] *= np.linspace(0.8, 1.0, 80)[:, None]
    light += 0.001 * rng.normal(size=light.shape)
    assert read_photo(plain(light), FILM, white=WHITE).noise_de > 1.2
    assert read_photo(plain(light), FILM).noise_de < 1.0


@pytest.mark.parametrize("gain", [(0.25, 0.25, 0.25), (0.4, 0.3, 0.2)])
def test_the_error_grows_with_the_correction_a_dark_picture_needs(gain):
    """Independent noise in both patches: the mean of 16 tiles, and their scatter once more.

    What rounding adds is taken off again; so is the shift that a balance leaves which was off in
    the channels of the camera and is mended in those of the eye.
    """
    rng = np.random.default_rng(12)
    film, card = Patch(100, 60, 16, 16), Patch(200, 60, 16, 16)
    light = bench(COLOURS_LAB[2]) * gain
    labs, stated = [], []
    for _ in range(60):
        picture = plain(light * (1.0 + 0.15 * rng.normal(size=light.shape)))
        reading = read_photo(picture, film, white=card)
        labs.append(reading.lab)
        stated.append(reading.noise_de**2 - FLOOR_DE**2)
    # 60 draws of three parts each leave a tenth or so in the variance.
    assert 17.0 * np.var(labs, axis=0).sum() == pytest.approx(np.mean(stated), rel=0.3)


@pytest.mark.parametrize("share", [0.02, 0.08])
def test_glints_and_dust_hardly_move_the_mean(share):
    rng = np.random.default_rng(7)
    light = linear_of(COLOURS_LAB[2]) * (1 + 0.02 * rng.normal(size=(40, 40, 3)))
    spots = rng.random((40, 40)) < share
    glinting = np.where(spots[..., None], 0.95, light)
    dusty = np.where(spots[..., None], 0.003, light)
    for spotted in (glinting, dusty):
        assert miss(read_patch(plain(spotted), FULL), COLOURS_LAB[2]) < 0.5
    assert np.linalg.norm(linear_to_lab(glinting.mean((0, 1))) - COLOURS_LAB[2]) > 2.0


def test_clipped_pixels_are_left_out_and_said():
    light = np.full((40, 40, 3), 0.3)
    clipped = np.zeros((40, 40), bool)
    clipped[:4] = True
    light[:4] = 1.0
    seen = read_patch(plain(light, clipped=clipped), FULL)
    np.testing.assert_allclose(seen.linear, 0.3, rtol=1e-6)
    assert seen.clipped == pytest.approx(0.1)
    assert "10% of the patch 0,0,40,40 is overexposed" in seen.warnings[0]


def test_a_corner_left_out_leaves_a_reading_with_its_error():
    light = np.random.default_rng(3).normal(0.3, 0.01, (40, 40, 3))
    clipped = np.zeros((40, 40), bool)
    clipped[28:, 28:] = True  # the last tile of four by four, and a little more
    part = read_patch(plain(light, clipped=clipped), FULL)
    whole = read_patch(plain(light), FULL)
    np.testing.assert_allclose(part.lab, whole.lab, atol=0.1)
    np.testing.assert_allclose(
        np.trace(part.covariance_lab), np.trace(whole.covariance_lab), rtol=0.7
    )


def test_patches_may_touch():
    picture = plain(bench(COLOURS_LAB[0], 0.9))
    read_photo(picture, Patch(100, 60, 60, 60), white=Patch(160, 60, 60, 60))
    read_photo(picture, Patch(100, 60, 60, 30), white=Patch(100, 90, 60, 30))


def test_too_much_of_what_tells_nothing_is_refused():
    light = np.full((40, 40, 3), 0.3)
    mask = np.zeros((40, 40), bool)
    mask[:9] = True
    with pytest.raises(InputError, match="22% overexposed"):
        read_patch(plain(light, clipped=mask), FULL)
    mask[:21] = True
    with pytest.raises(InputError, match="52% transparent"):
        read_patch(plain(light, valid=~mask), FULL)
    with pytest.raises(InputError, match="52% too dark"):
        read_patch(plain(np.where(mask[..., None], 0.001, light)), FULL)
    assert "a channel" in read_patch(plain(light, crushed=mask), FULL).warnings[0]


def test_an_uneven_patch_is_said():
    light = np.full((40, 40, 3), 0.3) * np.linspace(0.5, 1.5, 40)[:, None]
    assert "uneven" in read_patch(plain(light), FULL).warnings[0]


def test_patches_in_percent_are_those_in_pixels():
    picture = plain(np.random.default_rng(0).uniform(0.2, 0.4, (50, 200, 3)))
    one = read_patch(picture, parse_patch("40%,30%,5%,20%"))
    other = read_patch(picture, parse_patch(" 80, 15,10 ,10"))
    np.testing.assert_array_equal(one.linear, other.linear)
    assert str(one.patch) == "40%,30%,5%,20%"


@pytest.mark.parametrize(
    "text",
    ["", "1,2,3", "1,2,3,4,5", "a,b,c,d", "-1,2,3,4", "1,2,3%,4", "1.5,2,3,4", "nan,1,2,3", "1e9,",
     "9" * 400 + ",2,3,4", "1%,2%,3%," + "9" * 400 + "%"],
)  # fmt: skip
def test_what_is_no_patch_is_refused(text):
    with pytest.raises(InputError, match="patch"):
        parse_patch(text)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("30,0,20,20", "leaves the picture, which is 40 pixels wide and 40 high"),
        ("90%,0%,20%,20%", "leaves the picture"),
        ("0,0,2,4", "fewer than 9 pixels"),
        ("0%,0%,1%,1%", "fewer than 9 pixels"),
        ("99999999999999999999,0,5,5", "leaves the picture"),
    ],
)
def test_a_patch_must_lie_in_the_picture(text, match):
    with pytest.raises(InputError, match=match):
        read_patch(plain(np.full((40, 40, 3), 0.3)), parse_patch(text))


def test_no_area_is_refused():
    with pytest.raises(InputError, match="no area"):
        parse_patch("5,5,0,10")


def test_references_are_checked():
    picture = plain(bench(COLOURS_LAB[0]))
    with pytest.raises(InputError, match="overlap"):
        read_photo(picture, FILM, white=Patch(150, 60, 60, 60))
    with pytest.raises(InputError, match="needs the colour the metal has"):
        read_photo(picture, FILM, bare=BARE)
    with pytest.raises(InputError, match="lightness above 0"):
        read_photo(picture, FILM, bare=BARE, bare_lab=[0, 0, 0])
    for reflectance in (0.1, 1.1, np.nan, 90):
        with pytest.raises(OutOfRangeError, match=r"0\.2 to 1"):
            read_photo(picture, FILM, white=WHITE, white_reflectance=reflectance)


def test_a_reference_that_is_none_is_said():
    light = bench(COLOURS_LAB[0])
    light[50:130, 190:270] = [0.5, 0.1, 0.05]
    said = " ".join(read_photo(plain(light), FILM, white=WHITE).warnings)
    assert "looks strongly coloured" in said
    light[50:130, 190:270] = 0.1
    said = " ".join(read_photo(plain(light), FILM, white=WHITE).warnings)
    assert "9 times darker than it should be" in said
    assert "strongly coloured" not in said
    assert "brighter than a perfect white" in said


def test_a_doubtful_reference_is_named_by_its_place_on_the_photo():
    codes = Codes(np.full((200, 300, 3), 20, np.uint8), np.ones((200, 300), bool), SRGB, ())
    said = " ".join(correct_whole_photo(codes, white=WHITE).warnings)
    assert f"the reference at {WHITE} is 129 times darker" in said


@given(
    st.tuples(*[st.floats(0.02, 0.9)] * 3),
    st.tuples(*[st.floats(0.3, 1.0)] * 3),
)
@settings(deadline=None, max_examples=100)
def test_a_gain_common_to_film_and_card_drops_out(film, card):
    light = np.tile(np.array(film), (40, 80, 1))
    light[:, 40:] = card
    one = read_photo(plain(light), FULL, white=Patch(50, 5, 20, 20))
    other = read_photo(plain(0.6 * light), FULL, white=Patch(50, 5, 20, 20))
    np.testing.assert_allclose(one.lab, other.lab, atol=0.01)
    assert np.isfinite(one.noise_de)
