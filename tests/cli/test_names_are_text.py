"""Names of files and pieces come from elsewhere: no face takes them for commands or formulas."""

import csv
import io

import pytest

from oxhue.optics.look.look import look
from oxhue.optics.look.plots import chart_look
from tests.cli.within import run

OWN = "wavelength_nm,n,k\n" + "".join(f"{one},2.4,0\n" for one in (300, 600, 900))
GAUGE = ["gauge", "--film", "TiO2", "--on", "Ti"]
ESCAPES = "\x1b]0;taken\x07\x1b[2J\u202egnp.\x9b1m"
NAMES = ["$\\frac$", "$x^2$ and $", "<b onclick='x'>&amp;", "[bold]red[/bold]", "%s {0}"]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", NAMES)
def test_a_name_of_a_table_is_shown_as_it_is(name, folder, capsys):
    if "/" in name:
        name = name.replace("/", "|")
    (folder / f"{name}.csv").write_text(OWN)
    line = ["look", f'"{name}.csv" 0..9nm / Ti', "--chart", "a.png", "--report", "a.html"]
    code, out, err = run(capsys, *line)
    assert code == 0, err
    assert name in " ".join(out.split())
    page = (folder / "a.html").read_text("utf-8")
    assert "<b onclick" not in page


@pytest.mark.parametrize("name", NAMES[:1])
def test_a_name_of_a_piece_is_drawn_as_it_is(name, folder, capsys):
    rows = f'"{name}",Ti,440,30,28,3\nb,Ti,480,30,40,3\n'
    (folder / "pieces.csv").write_text(f"id,metal,temperature_C,time_min,thickness_nm,sd\n{rows}")
    code, out, err = run(capsys, "coupons", "pieces.csv", "--chart", "a.svg")
    assert code == 0, err
    assert name in " ".join(out.split())


def test_a_chart_drawn_by_a_program_reads_no_formulas_either(folder):
    (folder / "$\\frac$.csv").write_text(OWN)
    figure = chart_look(look('"$\\frac$.csv" 0..90nm / Ti', spectrum=True))
    figure.savefig(io.BytesIO())


def test_no_name_commands_a_terminal(folder, capsys):
    (folder / "rows.csv").write_text(f"id,hex\n{ESCAPES},#50a1c8\n", "utf-8")
    for end in ([], ["--csv"]):
        code, out, _ = run(capsys, *GAUGE, "--readings", "rows.csv", *end)
        assert code == 0
        assert not {"\x1b", "\x07", "\u202e", "\x9b"} & set(out)
        assert "\\x1b]0;taken\\x07" in out
    code, out, err = run(capsys, *GAUGE, "--readings", f"{ESCAPES}.csv")
    assert (code, out) == (2, "")
    assert not {"\x1b", "\x07", "\u202e", "\x9b"} & set(err)


def test_no_name_is_computed_by_a_spreadsheet(folder, capsys):
    (folder / "rows.csv").write_text("id;hex\n=cmd|' /C calc'!A0;#50a1c8\n-2+3;#50a1c8\n-2;#50a1c8")
    _, out, _ = run(capsys, *GAUGE, "--readings", "rows.csv", "--csv")
    assert [row[0] for row in csv.reader(out.splitlines())] == [
        "id", "'=cmd|' /C calc'!A0", "'-2+3", "-2",
    ]  # fmt: skip
