"""Every verb by its own example, in this process: answers, JSON, charts."""

import json
import re
import shlex
from itertools import pairwise
from pathlib import Path

import pytest
from typer.main import get_command

from oxhue.cli.main import app
from tests.cli.within import answer, run

ROOT = Path(__file__).parents[2]
VERBS = [command.name for command in app.registered_commands]
LONG = {"design", "spectrum", "map", "coupons"}  # README and guide ask them too
EXAMPLE = re.compile(r"Example: oxhue (.+)")
SURE = ["--film", "TiO2(siefke2016)", "--on", "Ti(johnson1974)"]  # one pair of data sets: quick


def example_of(capsys, verb):
    _, out, _ = run(capsys, verb, "--help")
    found = EXAMPLE.search(" ".join(line.strip(" │") for line in out.splitlines()))
    return shlex.split(found[1].split("  ")[0])


def test_the_program_without_a_verb_says_where_to_start(capsys):
    code, out, err = run(capsys)
    assert (code, err) == (0, "")
    shown = re.findall(r"^  oxhue (.+?)   ", out, re.MULTILINE)
    assert shown[0] == 'look "TiO2 45nm / Ti"'
    for command in shown:
        if command not in ("page", "demo"):  # which serve, and write files
            assert run(capsys, *shlex.split(command))[0] == 0
    code, listed, _ = run(capsys, "--help")
    assert code == 0
    assert all(verb in listed for verb in VERBS)


def test_version(capsys):
    code, out, _ = run(capsys, "--version")
    assert code == 0
    assert re.fullmatch(r"oxhue \d+\.\d+\.\d+\n", out)


@pytest.mark.parametrize("verb", VERBS)
def test_help_starts_with_the_answer_and_ends_with_an_example(verb, capsys):
    code, out, err = run(capsys, verb, "--help")
    assert (code, err) == (0, "")
    words, _, options = out.partition("╭─")
    assert "Example: oxhue" in words.rstrip().split("\n \n" if "\n \n" in words else "\n\n")[-1]
    headings = re.findall(r"─ ([A-Z][^─]*?) ─", f"─{options}")
    if "How the answer leaves" in headings:
        assert headings.index("Options") < headings.index("How the answer leaves")
    assert "[[" not in out
    for paragraph in re.split(r"\n\s*\n", words.strip()):
        for line, after in pairwise(
            paragraph.splitlines()
        ):  # each is filled before the next begins
            assert len(f"{line.rstrip()} {after.split()[0]}") > 78


@pytest.mark.parametrize("verb", VERBS)
def test_every_option_says_what_belongs_after_it(verb):
    parameters = get_command(app).commands[verb].params
    valued = [one for one in parameters if not getattr(one, "is_flag", False)]
    assert [one.name for one in valued if not one.metavar] == []


@pytest.mark.parametrize(
    "verb",
    [
        pytest.param(verb, marks=pytest.mark.slow) if verb in LONG else verb
        for verb in VERBS
        if verb != "demo"  # test_demo.py
    ],
)
def test_the_example_of_the_help_runs(verb, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "docs").symlink_to(ROOT / "docs")
    arguments = example_of(capsys, verb)
    assert arguments[0] == verb
    if verb == "page":  # it serves until Ctrl-C
        arguments.append("--help")
    code, out, err = run(capsys, *arguments)
    assert (code, err) == (0, "")
    assert out.strip()
    assert "\x1b" not in out


def test_look_in_json(capsys):
    code, plain = answer(capsys, "look", "TiO2 45nm / Ti", "--light", "a", "--observer", "10")
    assert code == 0
    assert (plain["light"], plain["observer"], plain["angle_deg"]) == ("A", 10, 0.0)
    assert "R" not in plain
    _, spectrum = answer(capsys, "look", "TiO2 45nm / Ti", "--spectrum", "--angle", "60deg")
    assert len(spectrum["R"]) == len(spectrum["wavelength_nm"]) == 81
    assert spectrum["angle_deg"] == 60.0


def test_look_from_behind(capsys):
    stack = "Ti 100nm / glass 3mm"
    _, front = answer(capsys, "look", stack)
    _, back = answer(capsys, "look", stack, "--from", "back")
    assert (front["side"], back["side"]) == ("front", "back")
    assert front["reflected"] != back["reflected"]


def test_gauge_in_json(capsys):
    code, plain = answer(capsys, "gauge", *SURE, "--seen", "purple", "--seen", "#5f4390 angle=20")
    assert code == 0
    assert plain["fits"] is True
    assert [seen["how"] for seen in plain["seen"]] == ["word", "photo"]
    assert plain["candidates"][0]["order"] == 1


def test_gauge_takes_its_options_to_heart(capsys):
    _, plain = answer(
        capsys, "gauge", *SURE, "--seen", "#3c4fa1", "--between", "130..250nm", "--how", "card",
        "--angle", "45", "--doubt", "index_spread=0.01", "--doubt", "glare=0", "--seed", "7",
        "--light", "A", "--observer", "10",
    )  # fmt: skip
    doubts = plain["seen"][0]["doubts"]
    assert plain["interval90_nm"][0] >= 130.0
    assert (doubts["angle_low_deg"], doubts["angle_high_deg"]) == pytest.approx(
        (43.33, 46.67), 0.01
    )
    assert (doubts["index_spread"], doubts["glare"], doubts["noise_de"]) == (0.01, 0.0, 2.0)
    assert (plain["seed"], plain["light"], plain["observer"]) == (7, "A", 10)


def test_films_parted_by_commas_are_weighed(capsys):
    _, plain = answer(
        capsys, "gauge", "--film", "TiO2(siefke2016), SiO2(malitson1965)", "--on",
        "Ti(johnson1974)", "--seen", "purple",
    )  # fmt: skip
    assert set(plain["films"]) == {"TiO2(siefke2016)", "SiO2(malitson1965)"}


def test_one_seed_gives_one_answer(capsys):
    first = run(capsys, "gauge", *SURE, "--seen", "purple", "--json")
    assert run(capsys, "gauge", *SURE, "--seen", "purple", "--json") == first


def test_materials_in_json(capsys):
    code, everything = answer(capsys, "materials")
    assert code == 0
    _, titania = answer(capsys, "materials", "TiO2")
    assert 1 < len(titania["materials"]) < len(everything["materials"])
    assert {entry["name"] for entry in titania["materials"]} == {"TiO2"}


@pytest.mark.parametrize(
    ("kind", "arguments"),
    [
        ("png", ["look", "TiO2 0..50nm step 5nm / Ti"]),
        ("svg", ["look", "Al 10nm / glass 1mm"]),
        ("png", ["look", "Al 10nm / glass 1mm"]),
        ("pdf", ["look", "Al 10nm / glass 1mm"]),
        ("svg", ["gauge", *SURE, "--seen", "purple"]),
        ("pdf", ["materials", "TiO2"]),
    ],
    ids=["sweep", "look", "look", "look", "gauge", "materials"],
)
def test_charts_are_written_beside_the_answer(arguments, kind, capsys, tmp_path):
    target = tmp_path / f"chart.{kind}"
    code, out, err = run(capsys, *arguments, "--chart", str(target))
    assert code == 0
    assert out.strip()
    assert err == f"chart written: {target}\n"
    assert target.stat().st_size > 1000


def test_a_chart_and_json_leave_stderr_empty(capsys, tmp_path):
    target = tmp_path / "chart.png"
    code, plain = answer(capsys, "look", "TiO2 45nm / Ti", "--chart", str(target))
    assert code == 0
    assert plain["reflected"]["name"] == "dark blue"
    assert target.exists()


def test_many_readings_as_lines_are_those_of_the_one_object(capsys, tmp_path):
    file = tmp_path / "pieces.csv"
    file.write_text("id,hex\nrim,#6a3fa0\nhub,#00ff00\n", encoding="utf-8")
    many = ["gauge", *SURE, "--readings", str(file)]
    said = "1 of 2 readings fit no film in question\n"
    code, out, err = run(capsys, *many, "--json")
    assert (code, err) == (0, said)
    whole = json.loads(out)
    code, out, err = run(capsys, *many, "--lines")
    assert (code, err) == (0, said)
    assert [json.loads(line) for line in out.splitlines()] == whole["readings"]
    code, out, err = run(capsys, *many, "--lines", "--json")
    assert (code, out) == (2, "")
    assert "ask for one of them alone" in err
