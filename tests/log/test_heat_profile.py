"""A logged heat as text: as close as is said, one heat a run, and learnt from like a steady one."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.log.heat_profile import format_profile, heat_of, parse_profile
from oxhue.optics.log.log import Log
from oxhue.optics.oxidation.log_file import read_log
from oxhue.optics.oxidation.schedule import HeatSchedule
from tests.cli.within import run


def heat(time_s, temperature_C):
    return HeatSchedule(np.array(time_s, dtype=float), np.array(temperature_C, dtype=float), "")


def test_a_heat_comes_back_with_the_points_it_needs():
    time_s = np.arange(0.0, 1801.0, 10.0)
    degrees = np.interp(time_s, [0.0, 600.0, 1800.0], [20.0, 450.0, 455.0])
    text = format_profile(heat(time_s, degrees))
    assert text == "0s 20C, 600s 450C, 1800s 455C"
    back = parse_profile(text)
    assert back.words == "a logged heat over 30 min, up to 455 °C"
    np.testing.assert_allclose(
        np.interp(time_s, back.time_s, back.temperature_C), degrees, atol=0.05
    )


def test_a_controller_that_swings_is_kept_within_half_a_degree():
    time_s = np.arange(0.0, 3601.0, 5.0)
    degrees = 450.0 + 3.0 * np.sin(2.0 * np.pi * time_s / 600.0)
    back = parse_profile(format_profile(heat(time_s, degrees)))
    off = np.interp(time_s, back.time_s, back.temperature_C) - degrees
    assert np.abs(off).max() < 0.6
    assert back.time_s.size < 100


def test_noise_is_left_out_before_a_profile_grows_too_long():
    rng = np.random.default_rng(4)
    text = format_profile(heat(np.arange(5000.0), 450.0 + 4.0 * rng.standard_normal(5000)))
    assert len(text) < 2000
    assert parse_profile(text).temperature_C.mean() == pytest.approx(450.0, abs=6.0)


def test_a_profile_is_read_from_what_a_thermocouple_wrote(tmp_path):
    (tmp_path / "kiln.csv").write_text("time_min,temperature_C\n0,20\n10,450\n30,455\n")
    assert format_profile(read_log(tmp_path / "kiln.csv")) == "0s 20C, 600s 450C, 1800s 455C"


@pytest.mark.parametrize("text", ["0s 20C, 600s", "20C 0s, 450C 600s", "600s 450C, 0s 20C", "450C"])
def test_what_is_no_profile_is_refused(text):
    with pytest.raises(InputError):
        parse_profile(text)


def test_a_run_without_a_heat_has_none():
    assert heat_of({"metal": "Ti", "at": "450C"}) is None


def test_a_run_has_one_heat(tmp_path):
    with Log.open(tmp_path / "kiln.sqlite") as log:
        log.setup("kiln", kind="kiln")
        steady = log.record("kiln", metal="Ti", at="440C", time="30min").run
        logged = log.record("kiln", like=steady, profile="0s 20C, 9min 450C, 30min 450C")
        assert set(logged.done) == {"metal", "profile"}
        again = log.record("kiln", like=logged.run, at="460C", time="20min")
        assert again.done == {"metal": "Ti", "at": "460C", "time": "20min"}
        with pytest.raises(InputError, match="says the whole heat"):
            log.record("kiln", metal="Ti", profile="0s 20C, 9min 450C", time="9min")
        assert "a logged heat over 30 min, up to 450 °C" in log.show(logged.run).summary()


def test_a_logged_hold_teaches_as_much_as_the_same_stated(tmp_path):
    learnt = []
    for number, said in enumerate(
        ({"at": "440C", "time": "30min"}, {"profile": "0s 440C, 1800s 440C"})
    ):
        with Log.open(tmp_path / f"{number}.sqlite") as log:
            log.setup("kiln", kind="kiln")
            run = log.record("kiln", metal="Ti", **said).run
            log.saw(run, piece="plate", on="Ti", thickness="38nm")
            learnt.append(log.learn("kiln").residuals[0].predicted_nm)
    assert learnt[0] == pytest.approx(learnt[1], rel=1e-9)


def test_what_is_taken_for_granted_of_a_file_is_told(tmp_path, monkeypatch, capsys):
    """Recorded, it was dropped; the verb that answers from such a file tells it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "heat.csv").write_text("time_s,temp_C,room_C\n0,20,20\n600,450,21\n900,452,21\n")
    assert run(capsys, "log", "setup", "kiln", "--kind", "kiln")[0] == 0
    line = ("log", "run", "kiln", "--metal", "Ti", "--heat-log", "heat.csv", "--for", "5min")
    code, out, err = run(capsys, *line)
    assert (code, out, err.count("\n")) == (2, "", 1)
    line = ("log", "run", "kiln", "--metal", "Ti", "--heat-log", "heat.csv")
    (tmp_path / "heat.csv").write_text("time_s,temp_C,count\n0,20,1\n600,450,2\n900,452,3\n")
    assert run(capsys, *line)[2] == (
        "note: of the columns of heat.csv, 'time_s' and 'temp_c' are taken\n"
    )
    assert run(capsys, *line, "--json")[2] == ""
    rows = "".join(f"{nm},{40 + nm / 100},{9}\n" for nm in range(400, 720, 10))
    (tmp_path / "plate.csv").write_text(f"wavelength_nm,R%,T%\n{rows}")
    line = ("log", "saw", "1", "--piece", "dial", "--spectrum", "plate.csv")
    told = run(capsys, *line, "--measured", "reflectance")[2]
    assert told.startswith("note: ")


@pytest.mark.parametrize(("off_C", "kept"), [(0.5, 2), (0.75, 3)])
def test_a_point_half_a_degree_off_is_left_out(off_C, kept):
    swung = heat([0.0, 10.0, 20.0], [20.0, 20.0 + off_C, 20.0])
    assert len(format_profile(swung).split(", ")) == kept
