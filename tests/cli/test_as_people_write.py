"""What people write by habit is read: other units, separators, pipes, short options."""

import csv
import io

import pytest

from oxhue.optics.assay.inputs import parse_meter
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.tint.coupon_file import read_pieces
from tests.cli.within import answer, run

HEADS = {
    "metal;temperature_C;time_min;thickness_nm;sd": "Ti;440;30;28,5;3",
    "metal\ttemperature_F\ttime_h\tthickness_nm\tsd": "Ti\t824\t0.5\t28.5\t3",
    "metal,temperature_K,time_s,thickness_nm,sd": "Ti,713.15,1800,28.5,3",
}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_test_pieces_are_read_in_the_units_and_separators_they_come_in(folder):
    for head, row in HEADS.items():
        (folder / "pieces.csv").write_text(f"{head}\n{row}\n")
        metal, (piece,) = read_pieces(folder / "pieces.csv")
        wanted = hold(440.0, 1800.0)
        assert metal.key == "Ti"
        assert (piece.thickness_nm, piece.sd) == (28.5, 3.0)
        assert piece.heat.time_s == pytest.approx(wanted.time_s)
        assert piece.heat.temperature_C == pytest.approx(wanted.temperature_C)


@pytest.mark.parametrize(
    ("head", "row", "said"),
    [
        ("temperature_C,temperature_F,time_min", "440,824,30", "temperature_C and temperature_F"),
        ("temperature_C,time_min,time_h", "440,30,0.5", "time_min and time_h"),
        ("temperature_F,time_min", ",30", "give temperature_C and time_min"),
    ],
)
def test_a_heat_is_said_once(head, row, said, folder, capsys):
    (folder / "pieces.csv").write_text(f"metal,{head},thickness_nm,sd\nTi,{row},28,3\n")
    code, out, err = run(capsys, "coupons", "pieces.csv")
    assert (code, out) == (2, "")
    assert said in err


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_readings_are_read_as_spreadsheets_save_them(separator, encoding, folder, capsys):
    line = ["gauge", "--film", "TiO2", "--on", "Ti", "--readings"]
    rows = [["id", "hex"], ["XII", "#50a1c8"]]
    (folder / "plain.csv").write_text("id,hex\nXII,#50a1c8\n")
    text = "".join(separator.join(row) + "\r\n" for row in rows)
    (folder / "rows.csv").write_bytes(text.encode(encoding))
    assert answer(capsys, *line, "rows.csv") == answer(capsys, *line, "plain.csv")


def test_a_log_of_another_separator_is_taken_in(folder, capsys):
    assert run(capsys, "log", "setup", "kiln", "--kind", "kiln")[0] == 0
    done = ["--metal", "Ti", "--at", "440C", "--for", "30min", "--remarks", "door; ajar"]
    assert run(capsys, "log", "run", "kiln", *done)[0] == 0
    assert run(capsys, "log", "export", "all.csv")[0] == 0
    text = (folder / "all.csv").read_text("utf-8")
    assert "door; ajar" in text

    with open("other.csv", "w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, delimiter=";").writerows(csv.reader(io.StringIO(text)))
    code, _, err = run(capsys, "log", "import", "other.csv", "--log", "other.sqlite")
    assert code == 0, err
    run(capsys, "log", "export", "again.csv", "--log", "other.sqlite")
    assert (folder / "again.csv").read_text("utf-8") == text


@pytest.mark.parametrize("reading", ["OL", "ol", "O.L", "O.L."])
def test_what_a_meter_shows_beyond_its_range_is_open(reading):
    assert parse_meter(reading) == parse_meter("open")


@pytest.mark.parametrize("reading", ["120 Ohm/sq", "120Ohms/sq", "120OHM/sq", "0.12KΩ/sq"])
def test_ohms_are_read_in_any_letters(reading):
    assert parse_meter(reading).ohm == pytest.approx(120.0)


def test_help_is_shown_for_the_short_option_too(capsys):
    for verb in ([], ["look"], ["log"], ["log", "list"]):
        code, short, _ = run(capsys, *verb, "-h")
        assert (code, short) == (0, run(capsys, *verb, "--help")[1])
        assert "<bool>" not in short
