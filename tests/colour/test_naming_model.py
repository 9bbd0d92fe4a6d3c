"""Chances of words over colour space: they add up, and agree with the regions of words."""

import numpy as np
import pytest

from oxhue.optics.colour.illuminants import tristimulus_weights, white_xyz
from oxhue.optics.colour.names import LATTICE_SHAPE, single_words, word_region
from oxhue.optics.colour.naming_model import blur, interpolate_field, word_chance
from oxhue.optics.colour.spaces import xyz_to_lab
from oxhue.optics.errors import UnknownNameError


def test_the_words_for_a_colour_never_add_up_to_more_than_one():
    total = sum(word_chance(word) for word in single_words())
    assert total.shape == LATTICE_SHAPE
    assert total.max() <= 1.0 + 1e-9
    assert total.min() > 0.2  # some word fits every colour


@pytest.mark.parametrize("word", ["gold", "grey", "blue", "pale straw", "brown-purple"])
def test_a_word_is_likeliest_within_its_region(word):
    region = word_region(word)
    middle = region.points_lab[np.argmax(region.weight)]
    field = word_chance(word)
    assert interpolate_field(field, middle) > 0.25 * field.max()
    assert (
        interpolate_field(field, middle * [1.0, -1.0, -1.0] + [0.0, 40.0, -40.0])
        < 0.5 * field.max()
    )


def test_colours_no_film_shows_are_named_as_the_nearest():
    beyond = interpolate_field(
        word_chance("white"), np.array([[100.0, 0.0, 0.0], [109.0, 1.0, -1.0]])
    )
    assert beyond[1] == pytest.approx(beyond[0])
    vivid = np.array([88.0, -120.0, 120.0])
    assert interpolate_field(word_chance("green"), vivid) > interpolate_field(
        word_chance("purple"), vivid
    )


def test_chances_are_shared_and_so_read_only():
    with pytest.raises(ValueError, match="read-only"):
        word_chance("gold")[0, 0, 0] = 1.0


def test_blurring_keeps_the_volume_of_what_lies_inside():
    field = np.zeros(LATTICE_SHAPE)
    field[15, 40, 45] = 2.0
    spread = blur(field, [5.0, 6.0, 7.0])
    assert spread.sum() == pytest.approx(2.0, rel=1e-3)
    place = np.stack(np.unravel_index(np.arange(spread.size), LATTICE_SHAPE), axis=-1) * 3.0
    mean = spread.ravel() @ place / spread.sum()
    width = np.sqrt(spread.ravel() @ (place - mean) ** 2 / spread.sum())
    np.testing.assert_allclose(width, [5.0, 6.0, 7.0], rtol=0.02)


def test_amber_covers_the_glass_of_brown_bottles():
    """Transmittance of a wall of brown bottle glass, in percent at nm (from memory). A
    thinner wall is gold, of which amber is one word of many."""
    nm = np.arange(380.0, 781.0, 5.0)
    points_nm = [380, 400, 450, 500, 550, 600, 650, 700, 780]
    percent = [0.5, 1, 4, 12, 25, 40, 52, 60, 65]
    wall = np.interp(nm, points_nm, percent) / 100.0
    weights, white = tristimulus_weights(nm), white_xyz()
    field = word_chance("amber")
    for times, least in ((0.75, 0.1), (1.0, 0.3), (1.5, 0.3)):
        lab = xyz_to_lab(wall**times @ weights, white)
        assert interpolate_field(field, lab) > least * field.max()


def test_an_unknown_word_is_refused():
    with pytest.raises(UnknownNameError, match="colour word"):
        word_chance("wobbly")
