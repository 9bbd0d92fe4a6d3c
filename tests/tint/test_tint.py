"""From heat to oxide and colour, and from a colour back to the heat."""

from functools import partial

import numpy as np
import pytest

from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.oxidation.metals import find_metal, metal_names
from oxhue.optics.oxidation.schedule import hold, pass_spot, ramp
from oxhue.optics.tint.calibrate import coupons
from oxhue.optics.tint.heat_strip import heat_strip, plate_hold
from oxhue.optics.tint.recipes import anodic_recipes, recipes
from oxhue.optics.tint.tint import anodise, tint


def test_titanium_after_twenty_minutes():
    found = tint("Ti", hold(450.0, 1200.0))
    low, high = found.interval90_nm
    assert low < found.thickness_nm < high
    assert found.oxide == "TiO2"
    assert found.metal_used_nm == pytest.approx(
        (found.thickness_nm - found.native_nm) / found.volume_ratio, rel=0.03
    )
    assert found.srgb_hex is not None
    assert sum(shade.probability for shade in found.names) > 0.85
    assert any("fit" in warning for warning in found.warnings)
    assert any("titanium" in text.casefold() for text in found.cautions)
    assert tint("Ti", hold(450.0, 1200.0)).thickness_nm == found.thickness_nm


@pytest.mark.parametrize("metal", metal_names())
def test_every_metal_answers_amid_its_range(metal):
    low, high = tint(metal, hold(20.0, 0.0)).interval90_nm
    assert low > 0.5

    middle = float(np.mean(find_metal(metal).range_C))
    found = tint(metal, hold(middle, 1800.0))
    assert found.interval90_nm[1] > high * 0.9
    assert found.source
    assert found.law
    assert found.cautions
    assert (found.srgb_hex is None) == (metal == "Ta")
    assert ("below the range" in " ".join(tint(metal, hold(19.0, 60.0)).warnings)) == (
        find_metal(metal).range_C[0] > 19.0
    )


def test_aluminium_stays_silver():
    found = tint("Al", hold(450.0, 3600.0))
    assert [shade.name for shade in found.names] == ["silver"]


def test_a_metal_film_is_used_up():
    thin = tint("Ti", hold(500.0, 3600.0), film_nm=25.0)
    assert thin.metal_left_nm is not None
    assert thin.metal_left_nm < 6.0
    assert any("stops conducting" in warning for warning in thin.warnings)
    thick = tint("Ti", hold(400.0, 600.0), film_nm=400.0)
    assert thick.metal_left_nm == pytest.approx(400.0 - thick.metal_used_nm)
    assert not any("used up" in warning for warning in thick.warnings)
    with pytest.raises(OutOfRangeError, match="metal film"):
        tint("Ti", hold(400.0, 600.0), film_nm=-1.0)


def test_a_ramp_and_a_passing_flame_give_less_than_a_hold_at_their_peak():
    steady = tint("Ti", hold(500.0, 600.0)).thickness_nm
    assert tint("Ti", ramp(20.0, 500.0, 600.0)).thickness_nm < steady
    assert tint("Ti", pass_spot(500.0, 20.0, 600.0)).thickness_nm < 1.3 * steady


def test_a_plate_gets_thicker_towards_its_hot_end():
    points = tint("Ti", hold(550.0, 1200.0), plate_C=np.linspace(250.0, 550.0, 7)).plate
    assert [point.position for point in points] == pytest.approx(np.linspace(0.0, 1.0, 7).tolist())
    films = [point.thickness_nm for point in points]
    assert films == sorted(films)
    assert points[0].name == "silver"


def test_the_gauge_reads_the_tint_back():
    found = tint("Ti", hold(450.0, 1800.0))
    estimate = gauge(["TiO2"], "Ti", [parse_reading(str(found.srgb_hex), "instrument")])
    low, high = estimate.interval90_nm
    assert low - 5.0 < found.thickness_nm < high + 5.0


def test_recipes_give_the_colour_they_promise():
    found = recipes("Ti", "blue", times=[1200.0])
    assert found.attainable
    assert found.recipes
    first = found.recipes[0]
    assert (first.order, first.time_min, first.solved_for) == (1, 20.0, "temperature")
    back = tint("Ti", hold(float(first.temperature_C or 0.0), 1200.0))
    assert back.thickness_nm == pytest.approx(first.thickness_nm, rel=0.06)
    assert "blue" in str(back.name)
    assert 0.0 < first.chance <= 1.0


def test_times_for_a_temperature_fall_as_it_rises():
    minutes = [
        recipes("steel", "purple", temperatures=[degrees]).recipes[0].time_min
        for degrees in (240.0, 270.0, 300.0)
    ]
    assert minutes == sorted(minutes, reverse=True)


def test_easy_and_touchy_heats_are_told_apart():
    straw = recipes("steel", "straw", times=[600.0]).recipes[0].spread
    purple = recipes("Ti", "purple", times=[1800.0]).recipes[0].spread
    assert straw is not None
    assert purple is not None
    assert straw.ten_degrees_de < purple.ten_degrees_de
    assert (straw.rating, purple.rating) == ("easy", "touchy")


def test_a_colour_the_metal_does_not_show_names_the_nearest():
    found = recipes("steel", "#00c040")
    assert not found.attainable
    assert found.recipes == ()
    assert found.nearest.delta_e > 30.0
    assert found.nearest.srgb_hex.startswith("#")


def test_second_orders_out_of_reach_are_said():
    found = recipes("Ti", "purple", times=[60.0])
    assert {one.order for one in found.recipes} == {1}
    assert any("the 2nd order" in warning for warning in found.warnings)


def test_a_plate_from_straw_to_blue():
    held = plate_hold("Ti", "straw", "blue", time="20min")
    assert held.first_C < held.last_C
    names = [point.name for point in held.plate]
    assert "straw" in str(names[0])
    assert "blue" in str(names[-1])
    assert any(name in ("purple", "violet") for name in names)
    with pytest.raises(InputError, match="does not show '#00ff00'"):
        plate_hold("stainless", "straw", "#00ff00", time="1h")
    with pytest.raises(InputError, match="out of reach"):
        plate_hold("Ti", "straw", "yellow-green", time=60.0)


def test_a_plate_may_be_followed_by_its_own_temperatures():
    heat, degrees = hold("320C", "10min"), np.array([220.0, 270.0, 320.0])
    points = tint("steel", heat, plate_C=degrees, along_mm=180.0).plate
    assert [point.position_mm for point in points] == [0.0, 90.0, 180.0]
    assert points[0].thickness_nm < points[1].thickness_nm < points[2].thickness_nm


def test_anodising():
    found = anodise("Ti", "25V")
    assert found.thickness_nm == anodise("Ti", 25.0).thickness_nm
    assert found.thickness_nm == pytest.approx(55.0, rel=0.05)
    assert any("acid" in text for text in found.cautions)
    volts = anodic_recipes("Ti", "blue").recipes[0]
    assert volts.volts is not None
    assert 18.0 < volts.volts < 32.0


def test_a_strip_covers_the_range():
    strip = heat_strip("steel", rows=5, times=("10min", "1h"))
    assert strip.thickness_nm.shape == strip.name.shape == (5, 2)
    assert np.all(np.diff(strip.thickness_nm, axis=0) > 0.0)
    assert np.all(np.diff(strip.thickness_nm, axis=1) > 0.0)


@pytest.mark.parametrize(
    ("ask", "error", "words"),
    [
        (lambda: tint("unobtainium", hold(400.0, 60.0)), UnknownNameError, "no law of oxidation"),
        (lambda: tint("Ti", hold(1700.0, 60.0)), OutOfRangeError, "melting point"),
        (lambda: tint("Ti", hold(400.0, 60.0), seed=-1), OutOfRangeError, "seed"),
        (lambda: recipes("Ti", "purple", temperatures=[950.0]), OutOfRangeError, "range"),
        (lambda: recipes("Ti", "purple", times=[0.0]), OutOfRangeError, "above 0"),
        (lambda: recipes("Ta", "purple"), InputError, "no colour of oxide on tantalum"),
        (lambda: recipes("Ti", "purpel"), InputError, "purple"),
        (lambda: heat_strip("Ta"), InputError, "tantalum"),
        (lambda: heat_strip("Ti", rows="450C"), InputError, "`rows` must be a whole number"),
        (lambda: heat_strip("Ti", times="20"), InputError, "`times` '20' has no unit"),
        (
            lambda: recipes("Ti", "purple", times=[None]),
            InputError,
            "`times` must be text with a unit",
        ),
        (lambda: recipes("Ti", 3), InputError, "`want` must be"),
        (lambda: tint(3, "450C", "20min"), InputError, "`metal` must be a name"),
        (lambda: tint("Ti", None, "20min"), InputError, "`at` must be text with a unit"),
        (lambda: tint("Ti", "450C"), InputError, "`time` is missing"),
        (lambda: tint("Ti", "450C", "20min", kiln="a"), InputError, "`kiln` must be a Kiln"),
        (lambda: anodise("Ti", [25.0]), InputError, "`volts` must be text with a unit"),
        *(
            (partial(anodise, "Ti", text), InputError, "`volts`")
            for text in ("25", "V", "25 volts", "1e999V", "nanV")
        ),
        (lambda: coupons(3), InputError, "`path` must be"),
    ],
)
def test_refusals(ask, error, words):
    with pytest.raises(error, match=words):
        ask()


@pytest.mark.parametrize(
    ("alloy", "stands", "words"),
    [
        ("316", "stainless", "same colours as 304"),
        ("430", "stainless", "no nickel"),
        ("Ti-6Al-4V", "Ti", "duller"),
        ("O1", "steel", "later"),
        ("D2", "steel", "delay"),
        ("bronze", "Cu", "browner"),
    ],
)
def test_an_alloy_says_which_metal_stands_for_it_and_what_differs(alloy, stands, words):
    found = tint(alloy, "300C", "20min")
    assert found.metal == stands
    assert any(words in warning for warning in found.warnings)
    assert f"as {find_metal(stands).name}" in found.metal_name


def test_silver_gold_and_carbon_take_no_colour_from_heat_and_say_why():
    with pytest.raises(OutOfRangeError, match="burns away"):
        tint("graphite", "200C", "1h")
    with pytest.raises(OutOfRangeError, match="sulphide"):
        tint("silver", "200C", "1h")
    with pytest.raises(OutOfRangeError, match="no oxide"):
        tint("Au", "200C", "1h")


def test_hot_titanium_ends_in_scale():
    scale = tint("Ti", "800C", "30min")
    assert (scale.name, scale.metal) == ("grey", "Ti-hot")
    assert scale.metal_name == "titanium"
    assert "900" in scale.note


@pytest.mark.parametrize(("metal", "word"), [("Cu", "purple"), ("Ni", "gold"), ("W", "blue")])
def test_a_recipe_of_a_law_in_wide_doubt_comes_out_as_the_colour_wanted(metal, word):
    first = recipes(metal, word, times="20min").recipes[0]
    assert word in first.name
    made = tint(metal, f"{first.temperature_C}C", "20min")
    assert made.thickness_nm == pytest.approx(first.thickness_nm, rel=0.06)
    assert word in made.name


def test_thick_zirconium_is_called_as_its_makers_call_it():
    scale = tint("Zr", "590C", "10h")
    assert (scale.name, scale.srgb_hex) == ("black", "#303030")
    black = recipes("Zr", "black", temperatures="580C")
    assert black.attainable
    assert black.recipes[0].thickness_nm >= 1000.0
    assert {scale.order, black.recipes[0].order} == {None}  # it shows no interference
    assert "as scale" in black.summary()
    assert recipes("Zr", "dark grey", temperatures="580C").nearest.name == "black"


def test_the_hotter_law_takes_over_without_a_cliff():
    below, above = tint("304", "619C", "1h"), tint("304", "621C", "1h")
    assert above.thickness_nm == pytest.approx(below.thickness_nm, rel=0.25)


@pytest.mark.parametrize("time", ["2s", "1min", "30min", "2h"])
def test_titanium_grows_without_a_step_where_its_hotter_law_joins(time):
    for border in (550, 650):
        below, above = (tint("Ti", f"{border + step}C", time) for step in (-0.5, 0.5))
        assert below.thickness_nm <= above.thickness_nm
        assert above.thickness_nm == pytest.approx(below.thickness_nm, rel=0.03)


def test_titanium_below_both_laws_is_told_by_the_cooler_one():
    assert "650" in tint("Ti", "600C", "30min").note
    assert "power" in tint("Ti", "600C", "30min").law
    assert "parabolic" in tint("Ti", "700C", "30min").law
    assert tint("Ti", "600C", "30min").confidence == "fit"


def test_colours_that_only_some_oxides_show_say_how_likely_they_are():
    sure, unsure = recipes("steel", "blue", times="20min"), recipes("Cu", "blue", times="20min")
    assert not any("likely to exist" in text for text in sure.warnings)
    assert any("likely to exist at all" in text for text in unsure.warnings)


def test_temper_colours_of_steel_are_of_the_first_order_and_thin():
    for word, low, high in (
        ("straw", 8, 25), ("brown", 20, 36), ("purple", 28, 46), ("dark blue", 34, 56),
        ("blue", 42, 66), ("light blue", 48, 75),
    ):  # fmt: skip
        first = recipes("steel", word, times="20min").recipes[0]
        assert first.order == 1, word
        assert low < first.thickness_nm < high, word


def test_volts_take_no_text_of_heat_and_say_what_a_volt_moves():
    found = anodise("Ti", "60V")
    assert not any("fit" in text for text in (*found.warnings, found.note))
    (one, *_) = anodic_recipes("Ti", "pink").recipes
    assert one.spread is not None
    assert one.spread.one_volt_de is not None
    assert one.spread.ten_degrees_de is None
