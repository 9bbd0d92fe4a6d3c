"""Colours of heated and anodised metals as published, against the forward answer.

Each row: what was done, and the word that was published. A row counts where the names that make up
the word are among the five likeliest of the answer, and where some thickness that shows the word
lies in the 90 % interval. The figures are what was found. The rows of steel are among those its law
was fitted to, so they show how well one law can fit them all.
"""

from collections import defaultdict
from functools import cache

import numpy as np
import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.names import colour_names, fine_colours, word_share
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.tint.kiln import shipped_kiln
from oxhue.optics.tint.shades import palette_for
from oxhue.optics.tint.targets import find_targets, parse_wanted_colour
from oxhue.optics.tint.tint import anodise, tint

# Bars of carbon steel held for an hour each (gdgwsteel.org, primidi.com, postheaven.net). These
# rows are among the lists that the law is a fit to, as are those of ovens and flames.
OVEN_BARS = [
    ("176C", "1h", "faint yellow"), ("205C", "1h", "light straw"), ("226C", "1h", "dark straw"),
    ("260C", "1h", "brown"), ("282C", "1h", "purple"), ("310C", "1h", "dark blue"),
    ("337C", "1h", "light blue"),
]  # fmt: skip
# Kitchen ovens and flames (bladesmithsforum.com 34526, bladeforums.com 1635079 and 1136956).
FORUMS = [
    ("400F", "2h", "dark straw"), ("400F", "3h", "straw to gold"), ("400F", "4h", "straw"),
    ("320C", "1min", "blue"),
]  # fmt: skip
# Machinists' handbooks state no time; taken as 20 min.
HANDBOOK = [
    ("227C", "20min", "light yellow"), ("249C", "20min", "dark yellow"),
    ("266C", "20min", "red brown"), ("282C", "20min", "purple"), ("293C", "20min", "blue"),
    ("299C", "20min", "dark blue"), ("338C", "20min", "light blue"),
]  # fmt: skip


@cache
def names_of(word):
    """Names that make up a word, those with a seventh of the largest share or more."""
    held = defaultdict(float)
    for name, share in zip(fine_colours().name, word_share(word), strict=True):
        held[colour_names()[name]] += share
    return {name for name, share in held.items() if share > max(held.values()) / 7.0}


@cache
def palette_of(metal):
    return palette_for(shipped_kiln(find_metal(metal)), ViewingConditions())


@cache
def agrees(metal, temperature, time, word):
    """Whether the word, and its thickness, agree with the answer."""
    answer = tint(metal, temperature, time)
    low, high = answer.interval90_nm
    shown_nm = find_metal(metal).shown_nm
    reach = find_targets(palette_of(metal), parse_wanted_colour(word), shown_nm)
    films = [one.between_nm[1] >= low and one.between_nm[0] <= high for one in reach.targets]
    return bool(names_of(word) & {shade.name for shade in answer.names[:5]}), any(films)


def agreement(metal, rows):
    """Shares of rows whose word, and whose thickness for the word, agree with the answer."""
    return np.mean([agrees(metal, *row) for row in rows], axis=0)


@pytest.mark.source("gdgwsteel.org, bladesmithsforum.com and others", "read", "a row either way")
@pytest.mark.parametrize(
    ("rows", "words", "films"),
    [
        pytest.param(OVEN_BARS, 6 / 7, 1.0, id="oven bars"),
        pytest.param(FORUMS, 0.75, 0.75, id="forums"),
        pytest.param(HANDBOOK, 1.0, 1.0, id="handbook", marks=pytest.mark.slow),
    ],
)
def test_temper_colours_of_steel(rows, words, films):
    got = agreement("steel", rows)
    np.testing.assert_allclose(got, (words, films), atol=1.0 / len(rows) + 1e-9)


STEEL = [*OVEN_BARS, *FORUMS, *HANDBOOK]


@pytest.mark.slow
@pytest.mark.source("gdgwsteel.org, bladesmithsforum.com and others", "read", "85 % of 18 rows")
def test_the_interval_holds_the_thickness_of_the_published_word():
    assert agreement("steel", STEEL)[1] >= 0.85


@pytest.mark.slow
@pytest.mark.source("gdgwsteel.org, bladesmithsforum.com and others", "read", "80 % of 18 rows")
def test_the_published_word_is_among_the_five_likeliest():
    # Two of 18 miss: light blue at 337 °C for an hour comes out grey, the blue of a flame straw.
    assert agreement("steel", STEEL)[0] >= 0.80


# Titanium half an hour in air (titanium-piping.com) and 304 an hour (British Stainless Steel
# Association); their laws are fitted to these lists. Titanium's purple of 600 °C is the miss.
TITANIUM = [
    ("200C", "30min", "silver"), ("300C", "30min", "light yellow"),
    ("400C", "30min", "golden yellow"), ("500C", "30min", "blue"), ("600C", "30min", "purple"),
]  # fmt: skip
STAINLESS = [
    ("290C", "1h", "pale yellow"), ("340C", "1h", "straw yellow"), ("370C", "1h", "dark yellow"),
    ("390C", "1h", "brown"), ("420C", "1h", "purple brown"), ("450C", "1h", "dark purple"),
    ("540C", "1h", "blue"), ("600C", "1h", "dark blue"),
]  # fmt: skip


@pytest.mark.slow
@pytest.mark.source(
    "titanium-piping.com; British Stainless Steel Association", "read", "a row either way"
)
@pytest.mark.parametrize(
    ("metal", "rows", "words", "films"),
    [("Ti", TITANIUM, 0.8, 1.0), ("stainless", STAINLESS, 1.0, 1.0)],
)
def test_lists_of_titanium_and_stainless(metal, rows, words, films):
    got = agreement(metal, rows)
    np.testing.assert_allclose(got, (words, films), atol=1.0 / len(rows) + 1e-9)


# Miley, J. Am. Chem. Soc. 1937 (from memory): copper's film at each colour. The estimate of CuO is
# from memory as well. The first order comes out a quarter to a third thinner than the table has it
# (red-brown by half), the second 6 to 15 %; dark brown and pale blue-green are not shown by any
# film that is weighed. Brass lacks the dark brown alone.
COPPER = [
    ("dark brown", 37.5), ("red-brown", 41.5), ("dark purple", 45.0), ("violet", 48.0),
    ("dark blue", 50.0), ("pale blue-green", 83.0), ("yellow", 98.0), ("gold", 111.0),
    ("orange", 120.0), ("red", 126.0),
]  # fmt: skip


@pytest.mark.source("Miley, J. Am. Chem. Soc. 1937", "from memory", "hue words, as found")
@pytest.mark.parametrize(
    ("metal", "share"), [("Cu", 0.8), pytest.param("brass", 0.9, marks=pytest.mark.slow)]
)
def test_copper_and_brass_show_the_published_hues_of_copper(metal, share):
    shown = [bool(films_of(metal, word)) for word, _ in COPPER]
    assert np.mean(shown) == pytest.approx(share, abs=0.05)


def films_of(metal, word):
    """The films of a metal that show a word, the thinnest first."""
    most_nm = find_metal(metal).most_nm
    return find_targets(palette_of(metal), parse_wanted_colour(word), most_nm).targets


@pytest.mark.slow
@pytest.mark.source("Miley, J. Am. Chem. Soc. 1937", "from memory", "a third of it, red-brown half")
def test_films_of_copper_at_each_published_hue():
    for word, printed_nm in COPPER:
        films = [np.clip(printed_nm, *one.between_nm) for one in films_of("Cu", word)]
        for nm in sorted(films, key=lambda nm: abs(nm - printed_nm))[:1]:
            assert nm == pytest.approx(printed_nm, rel=0.5 if word == "red-brown" else 0.34), word


# As copper is coloured with a torch: orange, then red to purple, dark blue, light blue, and black
# in the end (rotaxmetals.blogspot.com; iforgeiron.com 25049; thisartistsjourney, 2010; a tarnished
# foil in this order, acemap 164245464). Their gold and pink come in the second order here.
@pytest.mark.slow
@pytest.mark.source("iforgeiron.com 25049, rotaxmetals and others", "read", "the order alone")
def test_copper_in_a_flame_takes_its_colours_in_the_order_of_the_craft():
    hues = ("orange", "red", "purple", "dark blue", "light blue")
    first = [films_of("Cu", word)[0].thickness_nm for word in hues]
    assert first == sorted(first)
    assert find_metal("Cu").scale.called == "black"


# Anodised titanium: CMU dental review 2023; BMC Oral Health 2026 (doi:10.1186/s12903-026-08118-8);
# doi:10.1002/cre2.70002. The slope at high volts is read from the first two, so they check our
# arithmetic; the third and 10 V are of their own.
VOLTS = [(10.0, "gold"), (55.0, "yellow"), (62.5, "yellow"), (63.0, "gold"), (75.0, "pink"),
         (80.0, "pink")]  # fmt: skip


@pytest.mark.slow
@pytest.mark.source("CMU review 2023; BMC Oral Health 2026; cre2.70002", "read", "a row either way")
def test_anodised_titanium_shows_the_published_word_among_its_five_likeliest():
    hits = [bool(names_of(word) & {one.name for one in anodise("Ti", volts).names[:5]})
            for volts, word in VOLTS]  # fmt: skip
    assert np.mean(hits) == pytest.approx(4.0 / 6.0, abs=1.0 / 6.0 + 1e-9)
