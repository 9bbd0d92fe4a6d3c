"""Names for colours and regions for words: no holes, one name each, sensible neighbours."""

import numpy as np
import pytest

from oxhue.optics.colour.names import (
    MAX_POINTS,
    PEOPLE_SPREAD_DELTA_E,
    _data,
    colour_names,
    known_words,
    name_of_oklab,
    word_region,
)
from oxhue.optics.colour.spaces import (
    delta_e_76,
    oklch_to_oklab,
    parse_hex,
    srgb_to_lab,
    srgb_to_oklab,
)
from oxhue.optics.errors import InputError, UnknownNameError


def fit(word: str, hex_colour: str) -> float:
    """How well a colour fits a word: its kernel sum there as a share of the highest one."""
    region = word_region(word)

    def kernel_sum(lab):
        gap = delta_e_76(region.points_lab, lab) / region.spread_delta_e
        return float(region.weight @ np.exp(-0.5 * gap**2))

    return kernel_sum(srgb_to_lab(parse_hex(hex_colour))) / max(map(kernel_sum, region.points_lab))


def test_names_tile_all_of_srgb():
    levels = np.linspace(0.0, 1.0, 48)
    cube = np.stack(np.meshgrid(levels, levels, levels, indexing="ij"), axis=-1)
    found = set(np.unique(name_of_oklab(srgb_to_oklab(cube))))
    assert found == set(colour_names())  # nothing unnamed, and no name that no colour has


def test_sectors_close_the_circle_and_end_in_a_rule_for_all():
    sectors = sorted(_data()["sector"], key=lambda s: s["hue_deg"][0])
    starts = [s["hue_deg"][0] for s in sectors]
    ends = [s["hue_deg"][1] for s in sectors]
    assert ends[:-1] == starts[1:]
    assert ends[-1] - starts[0] == 360.0
    assert all(sector["rules"][-1][:2] == [0.0, 0.0] for sector in sectors)


def test_words_speak_only_of_names_that_exist():
    words = _data()["word"] | _data()["trade"]
    for word, cells in words.items():
        assert set(cells) <= set(colour_names()), word
        assert all(0.0 < weight <= 1.0 for weight in cells.values()), word
    assert set(_data()["synonym"].values()) <= set(words)
    assert set(colour_names()) <= set(_data()["word"])  # any answer may be given back as input


@pytest.mark.parametrize(
    ("colour", "name"),
    [
        ("#ffffff", "white"),
        ("#000000", "black"),
        ("#808080", "grey"),
        ("#c8c6c6", "silver"),
        ("#ff0000", "red"),
        ("#ffa500", "orange"),
        ("#ffff00", "yellow"),
        ("#008000", "green"),
        ("#00ffff", "blue-green"),
        ("#0000ff", "blue"),
        ("#000080", "dark blue"),
        ("#87ceeb", "light blue"),
        ("#800080", "purple"),
        ("#8a2be2", "violet"),
        ("#ff00ff", "magenta"),
        ("#ffc0cb", "pink"),
        ("#8b4513", "brown"),
        ("#e6e6fa", "lavender"),
    ],
)
def test_well_known_web_colours_have_their_names(colour, name):
    # Hex values as CSS Color 4 lists them, but for the silver, which is bare iron.
    assert name_of_oklab(srgb_to_oklab(parse_hex(colour))) == name


def test_colours_outside_srgb_have_names_too():
    vivid = oklch_to_oklab([[0.7, 0.4, 200.0], [0.4, 0.45, 300.0], [1.2, 0.0, 0.0]])
    assert list(name_of_oklab(vivid)) == ["blue-green", "violet", "white"]


@pytest.mark.parametrize("shape", [(), (4,), (2, 3), (0,)])
def test_names_keep_the_shape(shape):
    names = name_of_oklab(np.full((*shape, 3), 0.5))
    assert names.shape == shape
    assert names.dtype.kind == "U"


def test_hue_just_short_of_a_full_turn_has_a_name():
    assert name_of_oklab([0.7, 0.1, -1e-18]) == name_of_oklab([0.7, 0.1, 0.0]) == "pink"


def test_a_colour_that_is_not_a_number_has_no_name():
    with pytest.raises(InputError, match="oklab must be finite"):
        name_of_oklab([0.5, np.nan, 0.0])


def test_every_word_is_a_region():
    for word in known_words():
        region = word_region(word)
        assert region.word == word
        assert region.points_lab.shape == (len(region.weight), 3), word
        assert 20 <= len(region.weight) <= MAX_POINTS, word
        assert region.weight.min() > 0.0, word
        assert region.weight.sum() == pytest.approx(1.0), word
        assert PEOPLE_SPREAD_DELTA_E <= region.spread_delta_e < 14.0, word
        assert np.all((region.points_lab[:, 0] >= 0) & (region.points_lab[:, 0] <= 100)), word


@pytest.mark.parametrize("word", sorted(_data()["word"]))
def test_most_of_a_region_bears_a_name_the_word_covers(word):
    from oxhue.optics.colour.spaces import (
        SRGB_WHITE_XYZ,
        lab_to_xyz,
        srgb_linear_to_oklab,
        xyz_to_srgb_linear,
    )

    region = word_region(word)
    xyz = lab_to_xyz(region.points_lab, SRGB_WHITE_XYZ)
    linear = xyz_to_srgb_linear(xyz, SRGB_WHITE_XYZ)
    names = name_of_oklab(srgb_linear_to_oklab(linear))
    covered = np.isin(names, list(_data()["word"][word]))
    assert region.weight[covered].sum() > 0.8


def test_a_region_comes_out_the_same_each_time_and_cannot_be_changed():
    first, again = word_region("purple"), word_region("Purple ")
    np.testing.assert_array_equal(first.points_lab, again.points_lab)
    with pytest.raises(ValueError, match="read-only"):
        first.weight[0] = 1.0


def test_the_kernels_leave_no_gap_inside_a_region():
    region = word_region("blue")
    gaps = delta_e_76(region.points_lab[:, None], region.points_lab[None])
    nearest = np.sort(gaps, axis=0)[1]
    assert np.median(nearest) < 2.5 * region.spread_delta_e


# One colour to a shade, as a film of titanium or iron oxide shows it (computed, D65).
SHADES = {
    "pale straw": "#c5b9a6",
    "straw": "#bdac8b",
    "gold": "#b49a64",
    "brown": "#7c614c",
    "purple": "#5f3383",
    "dark blue": "#424867",
    "blue": "#2e72b5",
    "light blue": "#68a3ca",
    "yellow": "#d7cb5c",
    "magenta": "#c750c0",
    "blue-green": "#00afc2",
}


FAR = {"straw", "blue", "green", "magenta", "purple", "yellow"}


@pytest.mark.parametrize(("word", "colour"), SHADES.items())
def test_a_colour_fits_its_own_word(word, colour):
    assert name_of_oklab(srgb_to_oklab(parse_hex(colour))) == word
    assert fit(word, colour) > 0.4


@pytest.mark.parametrize("colour", SHADES.values())
def test_a_colour_fits_few_of_six_far_words(colour):
    fits = sorted((fit(word, colour) for word in FAR), reverse=True)
    assert max(fits[3:]) < 0.1  # a colour may lie between two or three of them, no more


@pytest.mark.parametrize("shade", ["dark blue", "light blue"])
def test_a_basic_word_covers_its_shades_and_a_shade_is_sharper(shade):
    assert fit("blue", SHADES[shade]) > 0.4
    assert fit(shade, SHADES[shade]) > 2.0 * fit(shade, SHADES["blue"])


def test_purple_reaches_into_violet_in_part():
    violet, purple = "#7a57c8", "#7a2a80"
    assert 0.05 < fit("purple", violet) < fit("purple", purple)
    assert fit("violet", violet) > fit("purple", violet)


@pytest.mark.parametrize(
    ("spoken", "same"),
    [
        ("gray", "grey"),
        ("GOLDEN", "gold"),
        ("teal", "blue-green"),
        ("blue green", "blue-green"),
        ("light straw", "pale straw"),
        ("deep blue", "dark blue"),
        ("sky-blue", "light blue"),
        ("very pale yellow", "pale yellow"),
        ("violet-red", "red-violet"),
    ],
)
def test_other_ways_to_say_it(spoken, same):
    np.testing.assert_array_equal(word_region(spoken).points_lab, word_region(same).points_lab)


@pytest.mark.parametrize("basic", ["purple", "gold", "bronze", "magenta"])
def test_light_and_dark_take_half_of_a_word_that_has_no_shades_of_its_own(basic):
    def lightness(word: str) -> float:
        region = word_region(word)
        return float(region.weight @ region.points_lab[:, 0])

    assert lightness(f"dark {basic}") < lightness(basic) < lightness(f"light {basic}")


def test_two_words_stand_for_both():
    both = word_region("brown-purple")
    for word in ("brown", "purple"):
        assert fit(both.word, SHADES[word]) > 0.3
    np.testing.assert_array_equal(both.points_lab, word_region("brown or purple").points_lab)


@pytest.mark.parametrize("word", ["", "blurple", "dark", "to", "light", "blue to", "purpel blu"])
def test_an_unknown_word_is_refused_with_a_way_out(word):
    with pytest.raises(UnknownNameError, match=r"is not one we know; (did you mean|try) "):
        word_region(word)


def test_a_slip_of_the_pen_is_met_with_the_right_word():
    with pytest.raises(UnknownNameError, match="did you mean purple"):
        word_region("pruple")


def test_a_page_of_words_is_refused_in_one_sentence():
    with pytest.raises(UnknownNameError, match="is not one we know"):
        word_region("blue to violet or " * 2000 + "red")
