"""Heats: what they refuse, how they add up, and logs of thermocouples."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError, LimitError, TableError
from oxhue.optics.numerics.integrate import trapezoid
from oxhue.optics.oxidation.log_file import MOST_ROWS, read_log
from oxhue.optics.oxidation.schedule import (
    HeatSchedule,
    cool,
    hold,
    pass_spot,
    ramp,
)


def test_hold_ramp_and_cooling_follow_each_other():
    heat = ramp(20.0, 450.0, 1800.0).then(hold(450.0, 1200.0)).then(cool(450.0, 20.0, 600.0))
    assert heat.peak_C == 450.0
    assert heat.duration_s == 1800.0 + 1200.0 + 6000.0
    assert heat.temperature_C[-1] == pytest.approx(20.0, abs=0.5)
    assert np.all(np.diff(heat.time_s) >= 0.0)


def test_cooling_halves_the_distance_every_half_time():
    heat = cool(420.0, 20.0, 600.0)
    at = np.interp([600.0, 1200.0], heat.time_s, heat.temperature_C)
    np.testing.assert_allclose(at, [220.0, 120.0], rtol=1e-9)


def test_a_passing_spot_is_above_half_its_rise_for_the_stated_time():
    heat = pass_spot(620.0, 20.0, 20.0)
    above = np.diff(heat.time_s)[0] * np.sum(heat.temperature_C > 320.0)
    assert heat.peak_C == pytest.approx(620.0)
    assert above == pytest.approx(20.0, rel=0.03)


def test_a_flame_that_is_cooler_somewhere_starts_from_the_same_room():
    spot = pass_spot(795.0, 20.0, 72.8)
    cooler = spot.with_peak(300.0)
    assert cooler.peak_C == pytest.approx(300.0)
    assert cooler.temperature_C.min() == pytest.approx(spot.temperature_C.min())
    same = pass_spot(300.0, 20.0, 72.8).temperature_C
    np.testing.assert_allclose(cooler.temperature_C, same, atol=2.0)  # the tail is not quite cold
    held = hold(450.0, 600.0).with_peak(300.0)
    np.testing.assert_array_equal(held.temperature_C, 300.0)


@pytest.mark.parametrize("span_C", [0.5, 4.0, 30.0, 600.0])
def test_nodes_integrate_a_rate(span_C):
    heat = ramp(600.0 - span_C, 600.0, 100.0)
    temperature_C, weight_s = heat.nodes
    fine = np.linspace(600.0 - span_C, 600.0, 200_001) + 273.15
    expected = 100.0 * trapezoid(np.exp(-2e4 / fine), np.arange(fine.size)) / (fine.size - 1)
    assert weight_s.sum() == pytest.approx(100.0)
    assert np.exp(-2e4 / (temperature_C + 273.15)) @ weight_s == pytest.approx(expected, rel=1e-8)


def test_a_long_log_is_joined_without_changing_its_rates():
    time = np.linspace(0.0, 3600.0, 5001)
    heat = HeatSchedule(time, 400.0 + 150.0 * np.sin(time / 500.0), "log")
    fine = np.linspace(0.0, 3600.0, 2_000_001)
    kelvin = 673.15 + 150.0 * np.sin(fine / 500.0)
    expected = trapezoid(np.exp(-1.5e4 / kelvin), fine)
    temperature_C, weight_s = heat.nodes
    assert temperature_C.size < 2500
    assert np.exp(-1.5e4 / (temperature_C + 273.15)) @ weight_s == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: hold(-300.0, 60.0), "absolute zero"),
        (lambda: hold(np.nan, 60.0), "`temperature` must be text with a unit"),
        (lambda: hold(9000.0, 60.0), "metals melt"),
        (lambda: hold(400.0, -60.0), "from 0 to a century"),
        (lambda: hold(400.0, np.nan), "`time` must be text with a unit"),
        (lambda: hold([400.0], 60.0), "`temperature` must be text with a unit"),
        (lambda: hold("400", 60.0), "has no unit"),
        (lambda: ramp("20C", "400C", "5 nm"), "unknown unit"),
        (lambda: ramp(20.0, 400.0, -1.0), "from 0 to a century"),
        (lambda: HeatSchedule(np.array([0.0, -1.0]), np.array([20.0, 20.0]), ""), "not fall"),
        (lambda: HeatSchedule(np.array([0.0]), np.array([20.0]), ""), "two or more pairs"),
        (lambda: hold(400.0, 1.0).then(hold(400.0, 1e99)), "century"),
    ],
)
def test_impossible_heats_are_refused(make, words):
    with pytest.raises(InputError, match=words):
        make()


def written(tmp_path, text):
    path = tmp_path / "kiln.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("head", "first", "celsius"),
    [
        ("time_s,temperature_C", "0,20", 20.0),
        ("time (s),temp (°F)", "0,68", 20.0),
        ("Time [s],Temperature [K]", "0,293.15", 20.0),
        ("seconds;channel;T_C", "0;1;20", 20.0),
        ("time_s,temperature_C", "0,20,", 20.0),
    ],
)
def test_logs_with_their_units(head, first, celsius, tmp_path):
    second = first.replace("0", "10", 1)
    third = first.replace("0", "20", 1)
    heat = read_log(written(tmp_path, f"# logger 3\n{head}\n{first}\n{second}\n{third}\n"))
    np.testing.assert_allclose(heat.time_s, [0.0, 10.0, 20.0])
    np.testing.assert_allclose(heat.temperature_C, celsius)


def test_minutes_count_from_the_first_row(tmp_path):
    heat = read_log(written(tmp_path, "time_min,temperature_C\n5,20\n6,30\n7,40\n"))
    np.testing.assert_allclose(heat.time_s, [0.0, 60.0, 120.0])


GAP = "\n".join(f"{t},{20 + t}" for t in (0, 1, 2, 3, 4, 5, 400, 401))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("time_s,temperature\n0,20\n1,20\n", "temperature column with its unit"),
        ("time,temperature_C\n0,20\n1,20\n", "time column with its unit"),
        ("time_s,temperature_C\n0,20\n2,21\n1,22\n", "line 4: the time does not rise"),
        ("time_s,temperature_C\n0,20\n1,nan\n2,20\n", "line 3: expected a finite number"),
        ("time_s,temperature_C\n0,20\n1\n2,20\n", "line 3: expected a finite number, got ''"),
        (
            "time_s,temperature_C\n0,0,20,5\n60,0,60,5\n",
            "has 4 cells, the first line names 2",
        ),
        ("time_s,temp_C,T_C\n0,20,21\n1,20,21\n", "more than once, as temp_c and t_c"),
        (f"time_s,temperature_C\n{GAP}\n", "gap of 6.58 min after line 7"),
        ("time_s,temperature_C\n0,-300\n1,20\n2,20\n", "absolute zero"),
        ("", "two rows or more"),
    ],
)
def test_broken_logs_are_refused(text, words, tmp_path):
    with pytest.raises(InputError, match=words):
        read_log(written(tmp_path, text))


def test_a_log_too_long_or_not_there(tmp_path):
    rows = "\n".join(f"{i},20" for i in range(MOST_ROWS + 1))
    with pytest.raises(LimitError, match="thin it out"):
        read_log(written(tmp_path, f"time_s,temperature_C\n{rows}\n"))
    with pytest.raises(TableError, match="there is no file"):
        read_log(tmp_path / "absent.csv")


def test_a_log_with_decimal_commas(tmp_path):
    heat = read_log(written(tmp_path, "time_s;temperature_C\n0;20,5\n60;100,25\n"))
    np.testing.assert_array_equal(heat.temperature_C, [20.5, 100.25])
