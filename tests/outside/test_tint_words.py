"""Words that people wrote beside thicknesses and temperatures, against the words we compute."""

import numpy as np
import pytest

from oxhue.optics.colour.colour import to_colour
from oxhue.optics.colour.names import colour_names
from oxhue.optics.films.materials.catalogue import load_material
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM, Spectra

# W. A. Pliskin and E. E. Conrad, IBM J. Res. Dev. 8 (1964) 43: SiO2 on Si, seen straight down
# under fluorescent light, "subjective"; in the standard reprint of the University of Illinois
# fabrication laboratory. Thickness [nm], words.
PLISKIN_CONRAD_1964 = [
    (50, "tan"),
    (70, "brown"),
    (100, "dark violet to red violet"),
    (120, "royal blue"),
    (150, "light blue to metallic blue"),
    (170, "metallic to very light yellow-green"),
    (200, "light gold or yellow slightly metallic"),
    (220, "gold with slight yellow-orange"),
    (250, "orange to melon"),
    (270, "red-violet"),
    (300, "blue to violet-blue"),
    (310, "blue"),
    (320, "blue to blue-green"),
    (340, "light green"),
    (350, "green to yellow-green"),
    (360, "yellow-green"),
    (370, "green-yellow"),
    (390, "yellow"),
    (410, "light orange"),
    (420, "carnation pink"),
    (440, "violet-red"),
    (460, "red-violet"),
    (470, "violet"),
    (480, "blue-violet"),
    (490, "blue"),
]
# Six steps round the circle; words between two hues take the half.
HUES = {"red": 0, "orange": 1, "yellow": 2, "green": 3, "blue": 4, "violet": 5}
HUE_OF_NAME = {
    **dict.fromkeys(["red", "dark red", "pink", "rose"], 0.0),
    **dict.fromkeys(["salmon", "red-brown"], 0.5),
    **dict.fromkeys(["orange", "copper", "brown", "dark brown", "bronze"], 1.0),
    "amber": 1.5,
    **dict.fromkeys(["pale straw", "straw", "dark straw", "gold"], 2.0),
    **dict.fromkeys(["yellow", "pale yellow"], 2.0),
    "yellow-green": 2.5,
    **dict.fromkeys(["green", "light green", "pale green", "dark green", "grey-green"], 3.0),
    **dict.fromkeys(["blue-green", "pale blue-green", "dark blue-green"], 3.5),
    **dict.fromkeys(["blue", "light blue", "pale blue", "dark blue", "grey-blue"], 4.0),
    **dict.fromkeys(["violet", "lavender", "purple"], 5.0),
    **dict.fromkeys(["magenta", "red-violet"], 5.5),
    **dict.fromkeys(["white", "silver", "grey", "dark grey", "black"]),
}
HUE_OF_WORD = {**HUES, "tan": 1, "brown": 1, "melon": 0.5, "pink": 0, "gold": 2}


def listed_hues(words: str) -> list[float]:
    """Hue steps of a listed row: one for each of its words, the mean for hyphenated pairs."""
    hues = []
    for word in words.split():
        parts = [HUE_OF_WORD[part] for part in word.split("-") if part in HUE_OF_WORD]
        if parts == [0, 5] or parts == [5, 0]:
            parts = [5.5]
        if parts:
            hues.append(float(np.mean(parts)))
    return hues


def steps_apart(name: str, words: str) -> float:
    """Steps of the circle between a computed name and the nearest listed hue."""
    hue = HUE_OF_NAME[name]
    if hue is None:
        return np.inf
    gaps = np.abs(np.array(listed_hues(words)) - hue)
    return float(np.minimum(gaps, 6.0 - gaps).min())


def one_film(film, below, thickness_nm, wavelength_nm):
    """Reflectance (D, W) of one film on an opaque base, straight down: Airy's formula.

    Written out here so that these checks stand apart from the engine (M. Born and E. Wolf,
    Principles of Optics, 7th ed., section 1.6.4).
    """
    thickness = np.asarray(thickness_nm, dtype=float)[:, None]
    top, bottom = (1.0 - film) / (1.0 + film), (film - below) / (film + below)
    round_trip = bottom * np.exp(4j * np.pi * film * thickness / wavelength_nm)
    return np.abs((top + round_trip) / (1.0 + top * round_trip)) ** 2


def names_of(film_index, below: str, thickness_nm, light: str = "D65") -> list[str]:
    grid = DEFAULT_WAVELENGTH_NM
    R = one_film(film_index, load_material(below).nk(grid), thickness_nm, grid)
    return list(to_colour(Spectra.from_arrays(grid, R), light).name)


def tint_names(film: str, below: str, thickness_nm, light: str = "D65") -> list[str]:
    return names_of(load_material(film).nk(DEFAULT_WAVELENGTH_NM), below, thickness_nm, light)


@pytest.mark.source("our own words", "computed", "none")
def test_every_name_has_a_place_on_the_circle_or_none_by_intent():
    assert set(HUE_OF_NAME) == set(colour_names())


# How much this says: the borders of the words were drawn with this ramp, among others, in view,
# and so was the table of hue steps above, so it is no blind check. Undoing the four borders that
# were moved because of this ramp leaves every count as it is; pairing computed and listed words
# at random gives 10 of 25 within a step and 6 within half, at most 18 and 13 in 500 draws.
#
# Rows more than one step off, and why:
# 50, 70 nm (tan, brown): the colour is a near-neutral grey (a*, b* about 1 to 3), but bare silicon
#   is bluish (b* = -6), and a person sees the film beside it as warm. We name colours by
#   themselves, without such contrast.
# 170 nm (metallic to very light yellow-green): a pale blue-grey (C* = 9) on its way to yellow.
#   The listed hue comes 15 to 20 nm later; "metallic" is the better half of the row.
FAR_ROWS = [50, 70, 170]
WITHIN_ONE_STEP = 22  # of 25, as found, for each light and index


@pytest.mark.source(
    "Pliskin and Conrad, IBM J. Res. Dev. 8, 43 (1964)",
    "read",
    "a hue step of six round the circle; not blind",
)
@pytest.mark.parametrize(
    ("light", "film", "within_half_a_step"),
    [
        ("FL2", "n=1.46", 21),
        ("FL2", "SiO2(malitson1965)", 21),
        ("D65", "n=1.46", 20),
        ("D65", "SiO2(malitson1965)", 21),
        ("FL11", "n=1.46", 19),
    ],
)
def test_silica_on_silicon_agrees_with_pliskin_and_conrad(light, film, within_half_a_step):
    thickness_nm = [row[0] for row in PLISKIN_CONRAD_1964]
    names = silica_names(film, thickness_nm, light)
    rows = list(zip(PLISKIN_CONRAD_1964, names, strict=True))
    apart = {d: steps_apart(name, words) for (d, words), name in rows}
    assert [d for d, gap in apart.items() if gap > 1.0] == FAR_ROWS, rows
    assert sum(gap <= 1.0 for gap in apart.values()) == WITHIN_ONE_STEP, rows
    assert sum(gap <= 0.5 for gap in apart.values()) == within_half_a_step, rows


def silica_names(film: str, thickness_nm, light: str) -> list[str]:
    if film == "n=1.46":
        return names_of(np.full(DEFAULT_WAVELENGTH_NM.size, 1.46 + 0j), "Si", thickness_nm, light)
    return tint_names(film, "Si", thickness_nm, light)


def first_thickness_nm(names: list[str], wanted: set[str], after: int = 0) -> int:
    """The first thickness [nm] past ``after`` that bears one of the names."""
    return next(d for d, name in enumerate(names) if d > after and name in wanted)


STRAW = {"pale straw", "straw", "dark straw"}
BROWN = {"brown", "red-brown", "dark brown", "bronze"}
BLUES = {"blue", "light blue", "dark blue"}

# The order below, too, was known when the borders were drawn; what the borders cannot make is the
# order of the computed colours along the film.
# Order of temper colours on plain carbon steel, the same in every list: straw 204-230 °C, brown
# 240-260, purple 260-282, violet 280, dark blue 290-310, light blue or grey-blue 310-371, grey
# beyond (Great Soviet Encyclopedia, "Temper colour"; a steel stockholder's chart at
# sheffieldgaugeplate.co.uk; and Machinery's Handbook as quoted in public code).
STEEL_ORDER = [
    *(STRAW, BROWN, {"purple"}, {"violet"}),
    *({"dark blue"}, {"blue"}, {"grey-blue"}, {"grey"}),
]


@pytest.mark.source(
    "Great Soviet Encyclopedia; sheffieldgaugeplate.co.uk; Machinery's Handbook",
    "read",
    "the order alone; not blind",
)
def test_magnetite_on_steel_runs_through_the_temper_colours_in_order():
    names = tint_names("Fe3O4", "steel", np.arange(0.0, 101.0))
    reached = [first_thickness_nm(names, wanted) for wanted in STEEL_ORDER]
    assert names[0] == "silver"
    assert reached == sorted(set(reached)), list(zip(STEEL_ORDER, reached, strict=True))


@pytest.mark.source(
    "the same lists of temper colours", "read", "the order without purple: a distance on record"
)
def test_magnetite_on_the_darker_iron_table_loses_its_purple():
    # A distance on record: with the iron of Johnson and Christy (Y = 51) in place of Querry's
    # (Y = 57), and the estimated magnetite, the 33 to 42 nm where every list says red-brown to
    # purple come out grey. The order of the other words holds.
    names = tint_names("Fe3O4", "Fe(johnson1974)", np.arange(0.0, 66.0))
    order = [STRAW, {"brown"}, {"grey"}, {"violet"}, {"dark blue"}, {"blue"}]
    reached = [first_thickness_nm(names, wanted) for wanted in order]
    assert reached == sorted(set(reached)), list(zip(order, reached, strict=True))
    assert "purple" not in names


# Thicknesses printed for iron do not agree with a film of magnetite on iron: U. R. Evans has
# yellow 46, red-brown 58, purple 63, violet 68, blue 72 nm (from memory), a lecture by Bhadeshia
# straw 30, purple 55, blue 70 nm for n = 2.4 (as quoted in public code). Ours are 15 to 25 nm less
# because reflection at the metal shifts the phase: a quarter wave at 550 nm in n = 2.4 is 57 nm,
# but the first dark fringe lies near 40. The test records the distance, it does not mend it.
@pytest.mark.source(
    "Evans from memory; a lecture of H. Bhadeshia",
    "from memory",
    "1.5 nm about the distance on record: the phase at the metal",
)
@pytest.mark.parametrize(
    ("wanted", "printed_nm", "short_by_nm"), [({"purple"}, 55, 17), (BLUES, 70, 25)]
)
def test_printed_thicknesses_for_steel_leave_out_the_phase_at_the_metal(
    wanted, printed_nm, short_by_nm
):
    names = tint_names("Fe3O4", "steel", np.arange(0.0, 101.0))
    assert printed_nm - first_thickness_nm(names, wanted) == pytest.approx(short_by_nm, abs=1.5)


# Titanium in air for half an hour (titanium-piping.com): silver white 200, light yellow 300,
# golden yellow 400, blue 500, purple 600 °C, then grey scale. Blue comes before purple there since
# the purple meant is that of the second order; a film reaches purple twice.
TITANIUM_HALF_AN_HOUR = [
    {"silver"},
    {"pale straw", "straw", "pale yellow"},
    {"gold"},
    BLUES,
    {"magenta", "purple", "violet"},
]
# Titanium anodised from 0 to 140 V (chart at carlesso.net): the hue words in their order.
TITANIUM_VOLTS = [
    {"straw", "gold", "yellow"},
    {"purple"},
    BLUES,
    {"light blue", "pale blue"},
    {"silver"},
    {"pale yellow", "yellow"},
    {"pink", "rose"},
    {"violet"},
    BLUES,
    {"blue-green", "green", "light green"},
    {"yellow-green"},
    {"pink", "rose"},
]


@pytest.mark.source(
    "titanium-piping.com; chart at carlesso.net", "read", "the order alone; not blind"
)
@pytest.mark.parametrize("order", [TITANIUM_HALF_AN_HOUR, TITANIUM_VOLTS], ids=["air", "volts"])
def test_titania_on_titanium_runs_through_its_colours_in_order(order):
    names = tint_names("TiO2", "Ti", np.arange(0.0, 251.0))
    at_nm = -1
    for wanted in order:
        at_nm = first_thickness_nm(names, wanted, after=at_nm)
    assert at_nm > 130  # the last word of either list belongs to the second order or later


# Bare metals by their trade words (common practice, no source).
@pytest.mark.source("trade words for bare metals", "common practice", "the name")
@pytest.mark.parametrize(
    ("metal", "name"),
    [
        ("Al", "silver"),
        ("Ag", "silver"),
        ("Cr", "silver"),
        ("Ni", "silver"),
        ("Pt", "silver"),
        ("Ti", "silver"),
        ("Au", "gold"),
        ("TiN", "gold"),
        ("Cu", "copper"),
    ],
)
def test_bare_metals_have_their_trade_names(metal, name):
    grid = DEFAULT_WAVELENGTH_NM
    index = load_material(metal).nk(grid)
    R = np.abs((1.0 - index) / (1.0 + index)) ** 2
    assert to_colour(Spectra.from_arrays(grid, R, 1.0 - R)).name == name
