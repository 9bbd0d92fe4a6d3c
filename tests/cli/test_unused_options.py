"""What is typed counts or is refused, and no file that is read is written over."""

import os
import subprocess
import sys

import numpy as np
import pytest

from tests.cli.within import run
from tests.images.pictures import saved

HELD = ["tint", "Ti", "--at", "450C", "--for", "20min"]
BLUE = ["tint", "Ti", "--want", "blue"]
PURPLE = ["gauge", "--film", "TiO2", "--on", "Ti", "--seen", "purple"]
GOLD = ["assay", "--metal", "Ti", "--seen", "gold"]
EXPECT = ["assay", "--expect", "Ti 80nm / glass"]


@pytest.mark.parametrize(
    ("line", "option"),
    [
        ([*BLUE, "--angle", "60"], "--angle"),
        ([*BLUE, "--anodise", "--angle", "60"], "--angle"),
        ([*BLUE, "--for", "20min", "--along", "100mm", "--at", "450C"], "--at"),
        (["tint", "Ti", "--film", "80nm"], "--film"),
        (["tint", "Ti", "--angle", "70"], "--angle"),
        (["tint", "Ti", "--along", "100mm"], "--along"),
        (["tint", "Ti", "--anodise", "--along", "100mm"], "--along"),
        (["gauge", "--film", "TiO2", "--on", "Ti", "--seen", "purple", "--how", "instrument"],
         "--how"),
        ([*HELD, "--along", "100mm"], "--along"),
        (["tint", "Ti", "--volts", "25V", "--along", "100mm"], "--along"),
        *[([*EXPECT, option, value], option) for option, value in (
            ("--metal", "Ti"), ("--on", "glass"), ("--strip", "30mmx5mm"), ("--area", "12cm2"),
            ("--rate", "0.5nm/s"), ("--pressure", "1e-5mbar"), ("--how", "card"), ("--seed", "2"),
            ("--trouble", "peels"), ("--distance", "10cm"),
        )],
        (["design", "--on", "glass", "--goal", "R>80% 550nm", "--with", "Al", "--samples", "9"],
         "--samples"),
        (["gauge", "--film", "TiO2", "--on", "Ti", "--readings", "rows.csv", "--white", "0,0,9,9"],
         "--white"),
        *[([*line, option, value], option) for line in (PURPLE, GOLD) for option, value in (
            ("--log", "clocks.sqlite"), ("--run", "1"), ("--piece", "dial"))],
        ([*PURPLE, "--setup", "kiln", "--piece", "dial"], "--piece"),
        ([*PURPLE, "--setup", "kiln", "--record", "--light", "A"], "--light"),
        ([*GOLD, "--setup", "jar", "--record", "--observer", "10"], "--observer"),
        ([*PURPLE, "--setup", "kiln", "--between", "0..90nm"], "--setup"),
        ([*HELD, "--log", "clocks.sqlite"], "--log"),
        ([*EXPECT, "--setup", "jar"], "--setup"),
        (["sheet", "Al 90nm / glass", "--source", "boat", "--distance", "9cm", "--log", "a.sqlite"],
         "--log"),
    ],
)  # fmt: skip
def test_an_option_that_says_nothing_is_refused(line, option, capsys):
    code, out, err = run(capsys, *line)
    assert (code, out) == (2, "")
    assert option in err


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """One file of each kind that is read."""
    monkeypatch.chdir(tmp_path)
    steps = "".join(f"{t},{20 + t / 4}\n" for t in range(0, 1800, 60))
    nm = range(380, 800, 10)
    texts = {
        "log.csv": "time_s,temperature_C\n" + steps,
        "rows.csv": "id,hex\nXII,#5a3a78\n",
        "pieces.csv": "metal,temperature_C,time_min,thickness_nm,sd\nTi,440,30,28,3\n",
        "own.csv": "wavelength_nm,n,k\n" + "".join(f"{one},2.4,0\n" for one in (300, 600, 900)),
        "plate.csv": "wavelength_nm,R\n" + "".join(f"{one},{one / 2000}\n" for one in nm),
        "jar.toml": 'volume = "3l"\n',
    }
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    saved(tmp_path, np.full((20, 30, 3), [60, 79, 161], dtype=np.uint8), "map.png")
    return tmp_path


@pytest.mark.parametrize(
    ("line", "read"),
    [
        (["tint", "Ti", "--profile", "log.csv"], "log.csv"),
        (["gauge", "--film", "TiO2", "--on", "Ti", "--readings", "rows.csv"], "rows.csv"),
        (["coupons", "pieces.csv"], "pieces.csv"),
        (["look", '"own.csv" 45nm / Ti'], "own.csv"),
        (["spectrum", "plate.csv", "--film", "TiO2(siefke2016)", "--on", "Ti(johnson1974)",
          "--model", "table", "--between", "0..200nm"], "plate.csv"),
        (["chamber", "--jar", "jar.toml", "--pumping", "2l/s"], "jar.toml"),
    ],
)  # fmt: skip
def test_no_report_is_written_over_what_the_answer_rests_on(line, read, folder, capsys):
    page = (folder / read).with_suffix(".html")
    page.symlink_to(folder / read)
    before = (folder / read).read_bytes()
    code, _, err = run(capsys, *line, "--report", page.name)
    assert (code, (folder / read).read_bytes()) == (2, before)
    assert "the answer rests on it" in err


def test_neither_a_kiln_nor_a_map_is_written_over_what_it_was_made_from(folder, capsys):
    inputs = {name: (folder / name).read_bytes() for name in ("pieces.csv", "map.png")}
    code, _, err = run(capsys, "coupons", "pieces.csv", "--save", "pieces.csv")
    assert code == 2, err
    code, _, err = run(
        capsys, "map", "map.png", "--film", "TiO2", "--on", "Ti", "--how", "card", "--out", "."
    )
    assert (code, "the answer rests on it" in err) == (2, True)
    assert {name: (folder / name).read_bytes() for name in inputs} == inputs


def test_no_two_parts_of_an_answer_go_to_one_file(folder, capsys):
    (folder / "kiln.html").symlink_to(folder / "kiln.svg")
    for other in ("--chart=kiln.svg", "--report=kiln.html"):
        code, out, err = run(capsys, "coupons", "pieces.csv", "--save", "kiln.svg", other)
        assert (code, out) == (2, "")
        assert "another part of the answer goes there" in err
    assert not (folder / "kiln.svg").exists()


@pytest.mark.slow
def test_a_chart_is_drawn_as_shipped_whatever_the_settings(tmp_path):
    """A notebook exports a backend that is not installed here; a folder may hold a matplotlibrc."""
    names = "a.png", "a.html"
    written = []
    for settings in ("", "text.usetex: True\nfont.size: 50\naxes.facecolor: red\n"):
        (tmp_path / "matplotlibrc").write_text(settings, "utf-8")
        program = "import sys; from oxhue.cli.main import run; run(sys.argv[1:])"
        line = ["look", "TiO2 0..3nm / Ti", "--chart", names[0], "--report", names[1]]
        subprocess.run(
            [sys.executable, "-c", program, *line], check=True, cwd=tmp_path, capture_output=True,
            env=os.environ | {"MPLBACKEND": "module://not_installed.backend"},
        )  # fmt: skip
        written.append([(tmp_path / name).read_bytes() for name in names])
    assert written[0] == written[1]


def test_a_report_that_cannot_be_written_is_refused_in_a_sentence(tmp_path, capsys):
    for name in ("x" * 300 + ".html", f"{tmp_path}/none/a.html"):
        code, out, err = run(capsys, "look", "TiO2 45nm / Ti", "--report", name)
        assert (code, out) == (2, "")
        assert err.startswith("oxhue: cannot write ")
