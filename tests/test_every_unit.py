"""Every unit of every dimension, by its definition in the SI, and what is said of a wrong one."""

import pytest
from scipy import constants as si

from oxhue.optics import units
from oxhue.optics.errors import InputError

TORR = si.atm / 760.0  # [Pa], by definition
SCCM = si.atm * 1e-6 / 60.0 * 293.15 / 273.15 * 10.0  # [mbar l/s] of gas at 20 °C
TRUTH = {
    "length_nm": {"nm": 1.0, "um": 1e3, "µm": 1e3, "μm": 1e3, "Å": 0.1, "A": 0.1, "mm": 1e6,
                  "cm": 1e7, "m": 1e9},
    "temperature_C": {"C": 1.0, "°C": 1.0, "K": 1.0 - si.zero_Celsius, "F": (1.0 - 32.0) / 1.8,
                      "°F": (1.0 - 32.0) / 1.8},
    "time_s": {"s": 1.0, "min": si.minute, "h": si.hour, "d": si.day},
    "angle_deg": {"": 1.0, "deg": 1.0, "°": 1.0},
    "length_mm": {"mm": 1.0, "cm": 10.0, "m": 1e3, "um": 1e-3, "µm": 1e-3, "μm": 1e-3,
                  "in": si.inch * 1e3},
    "area_cm2": {"cm2": 1.0, "cm²": 1.0, "mm2": 0.01, "mm²": 0.01, "m2": 1e4, "m²": 1e4},
    "mass_g": {"g": 1.0, "mg": 1e-3, "ug": 1e-6, "µg": 1e-6},
    "rate_nm_s": {"nm/s": 1.0, "Å/s": 0.1, "A/s": 0.1, "nm/min": 1 / 60, "Å/min": 1 / 600,
                  "A/min": 1 / 600},
    "pressure_mbar": {"mbar": 1.0, "hPa": 1.0, "Pa": 0.01, "Torr": TORR / 100, "torr": TORR / 100,
                      "mTorr": TORR / 1e5, "mtorr": TORR / 1e5},
    "voltage_V": {"V": 1.0, "kV": 1e3},
    "current_A": {"A": 1.0, "mA": 1e-3},
    "resistance_ohm": {"ohm": 1.0, "Ω": 1.0, "mohm": 1e-3, "mΩ": 1e-3},
    "volume_l": {"l": 1.0, "L": 1.0, "ml": 1e-3, "mL": 1e-3, "cm3": 1e-3, "cm³": 1e-3, "dm3": 1.0,
                 "dm³": 1.0, "m3": 1e3, "m³": 1e3},
    "leak_mbar_l_s": {"mbar.l/s": 1.0, "mbar·l/s": 1.0, "mbar*l/s": 1.0, "mbarl/s": 1.0,
                      "Pa.m3/s": 10.0, "Pa·m³/s": 10.0, "Torr.l/s": TORR / 100,
                      "Torr·l/s": TORR / 100, "sccm": SCCM},
    "pumping_l_s": {"l/s": 1.0, "L/s": 1.0, "m3/h": 1e3 / 3600, "m³/h": 1e3 / 3600,
                    "l/min": 1 / 60, "L/min": 1 / 60},
}  # fmt: skip
CASES = [(name, unit, value) for name, table in TRUTH.items() for unit, value in table.items()]


@pytest.mark.parametrize(("dimension", "unit", "value"), CASES)
def test_one_of_each_unit(dimension, unit, value):
    assert units.parse_quantity(f"1{unit}", dimension, "it") == pytest.approx(value, rel=1e-12)
    twice = units.parse_quantity(f" 2 {unit} ", dimension, "it")
    zero = units.parse_quantity(f"0{unit}", dimension, "it")
    assert twice - value == pytest.approx(value - zero, rel=1e-9)


def test_no_unit_is_left_out_here():
    assert {name: set(table) for name, table in units._UNITS.items()} == {
        name: set(table) for name, table in TRUTH.items()
    }


@pytest.mark.parametrize("dimension", TRUTH)
def test_what_lies_below_nothing(dimension):
    unit = next(iter(TRUTH[dimension]))
    if dimension in ("temperature_C", "angle_deg"):
        assert units.parse_quantity(f"-1{unit}", dimension, "it") == -1.0
    else:
        with pytest.raises(InputError, match=f"cannot be negative; write it as 1{unit}"):
            units.parse_quantity(f"-1{unit}", dimension, "it")


@pytest.mark.parametrize(
    ("text", "words"),
    [("5", "it '5' has no unit; use one of l, L"), ("5V", "has the unknown unit 'V'; use one of l"),
     ("5,5l", "has a comma in it; if 5,5 is one number, write 5.5"), ("l", "is not a number"),
     ("1e400l", "is not a number"), ("1e306m3", "is too large to calculate with")],
)  # fmt: skip
def test_what_is_said_of_a_wrong_quantity(text, words):
    with pytest.raises(InputError) as refused:
        units.parse_quantity(text, "volume_l", "it")
    assert words in str(refused.value)


def test_numbers_at_the_door_are_in_the_base_unit():
    assert units.as_quantity(3, "volume_l", "volume") == 3.0
    assert units.as_quantity("3ml", "volume_l", "volume") == 3e-3
    for wrong in (True, float("nan"), float("inf"), 10**400, None, [3]):
        with pytest.raises(
            InputError, match=r"must be text with a unit .* or a number \[l\]"
        ) as no:
            units.as_quantity(wrong, "volume_l", "volume")
        assert no.value.parameter == "volume"


@pytest.mark.parametrize(
    ("text", "ends"),
    [("0..250nm", (0.0, 250.0)), ("1um .. 2um", (1e3, 2e3)), ("1..2um", (1e3, 2e3)),
     ("500nm..1um", (500.0, 1e3)), ("1..1nm", None), ("2..1nm", None), ("1nm", None),
     ("1..", None), ("..1nm", None), ("1V..2nm", None)],
)  # fmt: skip
def test_ranges_rise(text, ends):
    if ends is not None:
        assert units.parse_range(text, "length_nm", "it") == ends
        return
    with pytest.raises(InputError):
        units.parse_range(text, "length_nm", "it")


@pytest.mark.parametrize(
    ("text", "numbers"),
    [("1,2", (1, 2)), (" 1 , 02 ", (1, 2)), ("1,2,3", None), ("1", None), ("1,-2", None),
     ("1,2.0", None), ("1,٢", None), ("9" * 30 + ",1", None)],
)  # fmt: skip
def test_whole_numbers(text, numbers):
    if numbers is not None:
        assert units.parse_whole_numbers(text, 2, "it") == numbers
        return
    with pytest.raises(InputError, match=r"is not 2 whole numbers|more than nine digits"):
        units.parse_whole_numbers(text, 2, "it")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(9.99, "10 s"), (10.0, "10 s"), (119.4, "119 s"), (119.6, "2 min"), (120.0, "2 min"),
     (3599.0, "59 min 59 s"), (3600.0, "1 h"), (3629.0, "1 h"), (3660.0, "1 h 1 min")],
)  # fmt: skip
def test_the_borders_of_a_duration(seconds, words):
    assert units.format_duration(seconds) == words
