"""Numbers with units as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.errors import InputError
from oxhue.optics.units import (
    as_quantity,
    parse_quantity,
    parse_range,
    parse_whole_numbers,
    units_of,
)

GOOD = [
    ("45nm", "length_nm", 45.0),
    ("45 nm", "length_nm", 45.0),
    ("  45  nm  ", "length_nm", 45.0),
    ("0.5um", "length_nm", 500.0),
    ("0.5µm", "length_nm", 500.0),  # micro sign
    ("0.5μm", "length_nm", 500.0),  # Greek mu
    ("500Å", "length_nm", 50.0),
    ("500 A", "length_nm", 50.0),
    ("4mm", "length_nm", 4e6),
    ("30cm", "length_nm", 3e8),
    ("1m", "length_nm", 1e9),
    (".5nm", "length_nm", 0.5),
    ("5.nm", "length_nm", 5.0),
    ("+1.5e-2 um", "length_nm", 15.0),
    ("-0nm", "length_nm", 0.0),
    ("450C", "temperature_C", 450.0),
    ("450 °C", "temperature_C", 450.0),
    ("0K", "temperature_C", -273.15),
    ("842F", "temperature_C", 450.0),
    ("-40°F", "temperature_C", -40.0),
    ("212 F", "temperature_C", 100.0),
    ("90s", "time_s", 90.0),
    ("20min", "time_s", 1200.0),
    ("1.5h", "time_s", 5400.0),
    ("2d", "time_s", 172800.0),
    ("60", "angle_deg", 60.0),
    ("60deg", "angle_deg", 60.0),
    ("60 °", "angle_deg", 60.0),
    ("30cm", "length_mm", 300.0),
    ("0.8mm", "length_mm", 0.8),
    ("800um", "length_mm", 0.8),
    ("2in", "length_mm", 50.8),
    ("1.5cm²", "area_cm2", 1.5),
    ("50 mm2", "area_cm2", 0.5),
    ("0.3m2", "area_cm2", 3000.0),
    ("1nm/s", "rate_nm_s", 1.0),
    ("12 Å/s", "rate_nm_s", 1.2),
    ("6A/s", "rate_nm_s", 0.6),
    ("30nm/min", "rate_nm_s", 0.5),
    ("1e-5mbar", "pressure_mbar", 1e-5),
    ("1e-3 Pa", "pressure_mbar", 1e-5),
    ("2hPa", "pressure_mbar", 2.0),
    ("760Torr", "pressure_mbar", 1013.25),
    ("7.5mtorr", "pressure_mbar", 1013.25 / 760.0 * 7.5e-3),
    ("25A", "current_A", 25.0),
    ("800mA", "current_A", 0.8),
    ("180m3/h", "pumping_l_s", 50.0),
    ("60 L/s", "pumping_l_s", 60.0),
]


@pytest.mark.parametrize(("text", "dimension", "value"), GOOD)
def test_reads_numbers_with_units(text, dimension, value):
    assert parse_quantity(text, dimension, "value") == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    [
        ("1,5h", "time_s", "'1,5h' has a comma in it; if 1,5 is one number, write 1.5"),
        ("0,25", "time_s", "'0,25' has a comma in it; if 0,25 is one number, write 0.25"),
        ("-20min", "time_s", "'-20min' cannot be negative; write it as 20min"),
        ("450", "temperature_C", "has no unit; use one of C, °C, K, F, °F"),
        ("450 Celsius", "temperature_C", "has the unknown unit 'Celsius'; use one of C"),
        ("450c", "temperature_C", "unknown unit 'c'"),
        ("20minutes", "time_s", "unknown unit 'minutes'; use one of s, min, h, d"),
        ("45in", "length_nm", "unknown unit 'in'; use one of nm, um"),
        ("45nm", "time_s", "unknown unit 'nm'"),
        ("1nm", "rate_nm_s", "unknown unit 'nm'; use one of nm/s, Å/s"),
        ("1e-5", "pressure_mbar", "has no unit; use one of mbar, hPa, Pa, Torr"),
        ("30cm2", "length_mm", "unknown unit 'cm2'; use one of mm, cm, m"),
        ("hot", "temperature_C", "is not a number with a unit"),
        ("", "time_s", "'' is not a number with a unit"),
        ("nan s", "time_s", "is not a number with a unit"),
        ("inf s", "time_s", "is not a number with a unit"),
        ("1e999 s", "time_s", "is not a number with a unit"),
        ("1..5h", "time_s", "unknown unit '..5h'"),
        ("4 5 nm", "length_nm", "is not a number with a unit"),
        ("60rad", "angle_deg", "unknown unit 'rad'; use one of deg, °"),
    ],
)
def test_refusals_say_what_would_be_right(text, dimension, words):
    with pytest.raises(InputError) as caught:
        parse_quantity(text, dimension, "the soak")
    assert str(caught.value).startswith("the soak ")
    assert words in str(caught.value)


def test_a_long_text_is_quoted_short():
    with pytest.raises(InputError) as caught:
        parse_quantity("x" * 10_000, "time_s", "time")
    assert len(str(caught.value)) < 200


@given(st.text(max_size=30), st.sampled_from(["length_nm", "temperature_C", "time_s", "angle_deg"]))
def test_any_text_is_a_number_or_refused(text, dimension):
    try:
        value = parse_quantity(text, dimension, "value")
    except InputError:
        return
    assert isinstance(value, float)


NOTHING_OR_NOT_TINY = st.floats(0.0, 1e12).filter(lambda one: one == 0.0 or one > 1e-90)


@given(NOTHING_OR_NOT_TINY, st.sampled_from(["nm", "um", "Å", "mm"]))
def test_repr_reads_back(number, unit):
    factor = {"nm": 1.0, "um": 1e3, "Å": 0.1, "mm": 1e6}[unit]
    assert parse_quantity(f"{number!r}{unit}", "length_nm", "d") == number * factor


SIGNED = {"temperature_C", "angle_deg"}
DIMENSIONS = [
    "length_nm", "temperature_C", "time_s", "angle_deg", "length_mm", "area_cm2", "rate_nm_s",
    "pressure_mbar", "current_A", "pumping_l_s",
]  # fmt: skip


@pytest.mark.parametrize("dimension", DIMENSIONS)
@given(value=NOTHING_OR_NOT_TINY | st.floats(-200.0, -1e-90), data=st.data())
@settings(deadline=None, max_examples=20)
def test_a_value_written_in_any_unit_reads_back(dimension, value, data):
    unit = data.draw(st.sampled_from(units_of(dimension)))
    zero, one = (parse_quantity(f"{n}{unit}", dimension, "value") for n in (0, 1))
    value = value if dimension in SIGNED else abs(value)
    written = f"{(value - zero) / (one - zero)!r} {unit}"
    assert parse_quantity(written, dimension, "value") == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("dimension", DIMENSIONS)
@given(numbers=st.tuples(st.integers(-1000, 10**6), st.floats(1e-3, 1e6)), data=st.data())
@settings(deadline=None, max_examples=20)
def test_more_of_a_unit_is_more_and_spaces_do_not_count(dimension, numbers, data):
    unit = data.draw(st.sampled_from(units_of(dimension)))
    numbers = numbers if dimension in SIGNED else (abs(numbers[0]), numbers[1])
    low = parse_quantity(f"{numbers[0]!r}{unit}", dimension, "value")
    high = parse_quantity(f"  {numbers[0] + numbers[1]!r}  {unit} ", dimension, "value")
    assert low < high
    ends = parse_range(f"{numbers[0]!r} .. {numbers[0] + numbers[1]!r}{unit}", dimension, "value")
    assert ends == (low, high)


@given(st.lists(st.integers(0, 999_999), min_size=1, max_size=6))
@settings(deadline=None, max_examples=30)
def test_whole_numbers_read_back(numbers):
    text = " , ".join(map(str, numbers))
    assert parse_whole_numbers(text, len(numbers), "the place") == tuple(numbers)
    with pytest.raises(InputError, match="whole numbers separated by commas"):
        parse_whole_numbers(text, len(numbers) + 1, "the place")
    with pytest.raises(InputError, match="is not 1 whole numbers"):
        parse_whole_numbers(f"-{text}", 1, "the place")


def test_whole_numbers_are_read_to_their_last_digit():
    assert parse_whole_numbers("00000000000012,999999999,000", 3, "the place") == (12, 999999999, 0)
    with pytest.raises(InputError, match="'1,1000000000' holds a number of more than nine digits"):
        parse_whole_numbers("1,1000000000", 2, "the place")


@pytest.mark.parametrize("dimension", ["length_nm", "leak_mbar_l_s", "resistance_ohm"])
def test_sizes_whose_products_are_no_numbers_are_refused(dimension):
    unit = units_of(dimension)[0]
    for number, size in (("1e-320", "small"), ("9e-101", "small"), ("1.1e100", "large")):
        for value in (number + unit, float(number)):
            with pytest.raises(InputError, match=f"too {size} to calculate with"):
                as_quantity(value, dimension, "it")
    assert as_quantity(-1e-320, "temperature_C", "it") == -1e-320  # a place on a scale
    for number in (0.0, 1e-100, 1e100):
        assert parse_quantity(f"{number!r}{unit}", dimension, "it") == number
        assert as_quantity(number, dimension, "it") == number


def test_units_are_listed_without_the_empty_one():
    assert units_of("angle_deg") == ["deg", "°"]
    assert units_of("time_s") == ["s", "min", "h", "d"]


def test_what_looks_alike_is_named_once():
    micro = [unit for unit in units_of("length_nm") if unit.endswith("m") and len(unit) == 2]
    assert micro == ["nm", "um", "µm", "mm", "cm"]
    assert parse_quantity("1\u03bcm", "length_nm", "value") == 1000.0


@pytest.mark.parametrize(
    ("text", "dimension", "ends"),
    [
        ("0..250nm", "length_nm", (0.0, 250.0)),
        ("0.5..2.5um", "length_nm", (500.0, 2500.0)),
        ("10Å..0.2um", "length_nm", (1.0, 200.0)),
        (" 420 .. 680 nm ", "length_nm", (420.0, 680.0)),
        ("-40..0C", "temperature_C", (-40.0, 0.0)),
        ("0..60", "angle_deg", (0.0, 60.0)),
    ],
)
def test_reads_ranges(text, dimension, ends):
    assert parse_range(text, dimension, "range") == pytest.approx(ends)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("250nm", "is not a range such as 0..250nm"),
        ("250..0nm", "must run upwards"),
        ("50..50nm", "must run upwards"),
        ("0..250", "has no unit"),
        ("0..250in", "unknown unit 'in'"),
        ("a..250nm", "is not a number with a unit"),
        ("0..nan nm", "is not a number with a unit"),
        ("..", "is not a range"),
    ],
)
def test_refused_ranges(text, words):
    with pytest.raises(InputError, match=words):
        parse_range(text, "length_nm", "the span")
