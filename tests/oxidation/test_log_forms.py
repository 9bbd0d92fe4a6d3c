"""Logs as loggers write them: clock times, dates, semicolons, no column names."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError, TableError
from oxhue.optics.oxidation.clock_times import is_clock_time, read_clock_times
from oxhue.optics.oxidation.log_file import read_log

HEAT = [0.0, 300.0, 900.0]
DEGREES = [20.5, 130.0, 452.25]
SAME_HEAT = {
    "clock": "time,temp (°C)\n14:00:00,20.5\n14:05:00,130.0\n14:15:00,452.25\n",
    "whole minutes": "Time;T_C\n14:00;20,5\n14:05;130\n14:15;452,25\n",
    "afternoon": "time,temp [C]\n11:55 AM,20.5\n12:00 PM,130\n12:10 PM,452.25\n",
    "past midnight": "time,temp_C\n23:58:00,20.5\n00:03:00,130\n00:13:00,452.25\n",
    "dates": "when,temp_C\n2026-03-01 23:58:00,20.5\n2026-03-02T00:03:00,130\n"
    "2026-03-02 00:13:00,452.25\n",
    "German export": "Gerät;T\nNr;4711\nDatum;Uhrzeit;Temperatur [°C]\n"
    "01.03.2026;14:00:00;20,5\n01.03.2026;14:05:00;130,0\n01.03.2026;14:15:00;452,25\n",
    "dots and commas": "Datum und Uhrzeit;Temp. °C\n01.03.2026 14:00;20,5\n01.03.2026 14:05;130,0\n"
    "01.03.2026 14:15;452,25\n",
    "slashes": "stamp,kiln (°F)\n02/28/2026 11:58 PM,68.9\n03/01/2026 12:03 AM,266\n"
    "03/01/2026 12:13 AM,846.05\n",
    "no names": "14:00:00;20,5\n14:05:00;130,0\n14:15:00;452,25\n",
    "no unit": "time;temperature\n14:00:00;20,5\n14:05:00;130,0\n14:15:00;452,25\n",
    "no names, spaces": "2026-03-01 14:00:00 20.5C\n2026-03-01 14:05:00 130C\n"
    "2026-03-01 14:15:00 452.25C\n",
    "units in cells": '"14:00:00","20.5 °C"\n"14:05:00","130.0 °C"\n"14:15:00","452.25 °C"\n',
    "minutes and seconds": "elapsed mm:ss,T_C\n00:00,20.5\n05:00,130\n15:00,452.25\n",
    "numbers": "Logger 3\n\nelapsed [min];PV [°C];SP\n0;20,5;20\n5;130,0;130\n15;452,25;450\n",
}  # fmt: skip


@pytest.mark.parametrize("way", SAME_HEAT)
def test_one_heat_in_many_forms(way, tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(SAME_HEAT[way], encoding="utf-8")
    heat = read_log(path)
    np.testing.assert_allclose(heat.time_s, HEAT)
    np.testing.assert_allclose(heat.temperature_C, DEGREES)
    unsaid = way in ("no names", "no unit")
    notes = ["taken as °C"] * unsaid
    notes += ["'elapsed [min]' and 'pv [°c]' are taken"] * (way == "numbers")
    assert [said in note for said, note in zip(notes, heat.notes, strict=True)] == [True] * len(
        notes
    )
    assert ("over 15 min" in heat.words) == (way != "numbers")


def test_columns_are_named_where_the_file_names_none(tmp_path):
    path = tmp_path / "bare.csv"
    path.write_text("0,x,68\n5,x,266\n15,x,845.6\n", encoding="utf-8")
    with pytest.raises(TableError, match="has no line of column names") as refused:
        read_log(path)
    assert refused.value.parameter == "columns"
    heat = read_log(path, "time_min, -, temperature_F")
    np.testing.assert_allclose(heat.time_s, HEAT)
    np.testing.assert_allclose(heat.temperature_C, [20.0, 130.0, 452.0])


def test_rows_of_one_minute_are_averaged(tmp_path):
    path = tmp_path / "minutes.csv"
    path.write_text("time,T_C\n10:00,20\n10:00,22\n10:01,30\n10:02,40\n", encoding="utf-8")
    heat = read_log(path)
    np.testing.assert_allclose(heat.temperature_C, [21.0, 30.0, 40.0])
    assert "averaged" in heat.notes[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("time,T_C\n10:00:00,20\nsoon,30\n10:02:00,40\n", "line 3: expected a time such as"),
        ("time,T_C\n10:00:00,20\n09:59:00,30\n10:02:00,40\n", "line 3: the time does not rise"),
        ("10:00;20;21\n10:01;30;31\n10:02;40;41\n", "2 columns of numbers"),
        ("time,kiln,set\n10:01,30,31\n10:02,40,41\n", "no temperature column with its unit"),
        ("when,T_C\n45.13.2026 10:00,20\n45.13.2026 10:01,30\n", "is no date"),
        ("when,T_C\n2026-03-01 10:00,20\n10:01,30\n", "some of its times have a date"),
    ],
)
def test_what_is_no_log_is_refused(text, words, tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_log(path)


def test_elapsed_hours_may_pass_a_day():
    np.testing.assert_allclose(read_clock_times(["23:00:00", "30:00:00"]), [0.0, 7 * 3600.0])
    assert is_clock_time("7:05")
    assert not is_clock_time("2026-03-01")
    assert not is_clock_time("12.5")


@pytest.mark.parametrize(("stray", "told"), [(750, True), (380, True), (490, False), (410, False)])
def test_a_reading_that_stands_alone_is_told(stray, told, tmp_path):
    """One slip of a thermocouple to 750 °C made 41 nm of 30, in silence."""
    rows = [(10 * i, min(20 + 5 * i, 440)) for i in range(120)]
    rows[100] = (1000, stray)
    path = tmp_path / "log.csv"
    path.write_text("time_s,temperature_C\n" + "".join(f"{s},{C}\n" for s, C in rows))
    notes = read_log(path).notes
    alone = f"log.csv line 102 stands alone, {stray} °C between 440 and 440 °C"
    assert bool(notes) is told
    assert not told or notes[0].startswith(alone)
