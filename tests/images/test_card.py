"""A white card is found where one lies, nothing is proposed where none does, bad ones are named."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from oxhue.optics.images.card import check_card, find_card
from oxhue.optics.images.image import load_codes
from oxhue.optics.images.linear_light import load_picture
from oxhue.optics.images.patches import Patch

RNG = np.random.default_rng(7)


def saved(folder, pixels):
    path = folder / "photo.png"
    noisy = pixels + RNG.normal(0.0, 1.5, pixels.shape)
    Image.fromarray(np.clip(np.rint(noisy), 0, 255).astype(np.uint8)).save(path)
    return path


def bench(card=(225, 222, 218), at=(40, 60, 90, 70), height=300, width=400):
    """A dark cloth, a tinted plate in the middle, a card at x, y, w, h."""
    pixels = np.full((height, width, 3), 60.0)
    pixels[120:280, 150:380] = (90.0, 70.0, 150.0)
    x, y, w, h = at
    pixels[y : y + h, x : x + w] = card
    return pixels


@settings(max_examples=12, deadline=None)
@given(
    x=st.integers(0, 300), y=st.integers(0, 40), w=st.integers(40, 100), h=st.integers(40, 70),
    light=st.sampled_from([(225, 222, 218), (200, 190, 175), (160, 160, 165), (120, 118, 116)]),
)  # fmt: skip
def test_a_card_is_found_wherever_it_lies(tmp_path_factory, x, y, w, h, light):
    pixels = bench(light, (x, y, w, h)) * (0.5 if light[0] < 130 else 1.0)
    pixels[y : y + h, x : x + w] = light
    found = find_card(load_codes(saved(tmp_path_factory.mktemp("card"), pixels)))
    assert found is not None
    assert x <= found.x
    assert found.x + found.width <= x + w
    assert y <= found.y
    assert found.y + found.height <= y + h


def test_nothing_is_proposed_where_no_card_lies(tmp_path):
    rainbow = bench()
    rainbow[..., 0] = np.linspace(20, 250, 400)
    rainbow[..., 1] = np.linspace(250, 20, 300)[:, None]
    rainbow[..., 2] = 90.0
    assert find_card(load_codes(saved(tmp_path, rainbow))) is None


def test_the_cloth_around_everything_is_no_card(tmp_path):
    pixels = np.full((300, 400, 3), 200.0)
    pixels[100:220, 120:300] = (90.0, 70.0, 150.0)
    assert find_card(load_codes(saved(tmp_path, pixels))) is None


@pytest.mark.parametrize(
    ("card", "said"),
    [
        ((225, 222, 218), ""),
        ((180, 150, 110), ""),  # paper under a bulb, not balanced
        ((255, 255, 255), "burnt out"),
        ((60, 200, 70), "coloured"),
        ((70, 70, 72), "much darker"),
        ((2, 2, 2), "too dark"),
    ],
)
def test_a_place_marked_as_the_card_is_judged_in_words_about_the_card(tmp_path, card, said):
    found = check_card(load_picture(saved(tmp_path, bench(card))), Patch(60, 75, 50, 40))
    assert said in found
    assert bool(said) == bool(found)


def test_an_edge_of_the_card_is_uneven(tmp_path):
    picture = load_picture(saved(tmp_path, bench()))
    assert "uneven" in check_card(picture, Patch(20, 70, 60, 40))
