"""Verbs as forms: every field is there, answers are the command line's, no file is named."""

import json
import os
from collections import Counter
from contextlib import chdir
from pathlib import Path

import pytest

from oxhue.cli.forms import (
    FACES,
    LEFT_OUT,
    LEFT_OUT_OF,
    WITHOUT_FORM,
    WRITES,
    describe_verbs,
    list_offered,
    run_verb,
)
from oxhue.cli.main import _parser, exit_code
from oxhue.optics.errors import InputError
from tools import snapshots

FORMS = {form["verb"]: form for form in describe_verbs()}
SLOW = (
    "one-piece",
    "map/",
    "spectrum/",
    "made",
    "robust",
    "coupons/",
    "assay/",
    "gauge/",
    "design/",
    "everything",
)
KEPT = ("gauge/purple", "gauge/photo", "design/easy")
EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


def commands():
    """Every command by its words, those of the log too."""
    found = {}
    for name, command in _parser().commands.items():
        parts = getattr(command, "commands", {})
        found |= {f"{name} {one}": part for one, part in parts.items()} or {name: command}
    return found


def quick_questions():
    """Questions of the kept answers that are quick, as their words after the program's name."""
    found = {}
    for one in snapshots.read_questions():
        words = one.arguments
        left = {"--chart", "--report", "--save", "--cluster", "--csv", "--lines", "--help", "--out"}
        if one.form != "json" or words[:1] == [] or words[0] not in list_offered():
            continue
        own_table = any('.csv"' in word for word in words)  # a form names no file of this machine
        slow = any(part in one.name for part in SLOW) and one.name not in KEPT
        if own_table or slow or left & set(words):
            continue
        found[one.name] = words
    return found


QUICK = quick_questions()
FEW = 3  # of each verb; the others with the slow tests


def few_of_each_verb():
    told = Counter()
    for name, words in QUICK.items():
        told[words[0]] += 1
        more = told[words[0]] > FEW and name not in KEPT
        yield pytest.param(name, marks=pytest.mark.slow if more else ())


def as_form(words):
    """A command line as what a form holds, its files as their text."""
    command = commands()[words[0]]
    context = command.make_context("oxhue", [*words[1:]], obj=words)
    given, files, photo = {}, {}, None
    for field in FORMS[words[0]]["fields"]:
        value = context.params[field["name"]]
        source = context.get_parameter_source(field["name"])
        if value is None or source is None or source.name == "DEFAULT":
            continue
        if field["kind"] == "file":
            files[field["name"]] = {"name": Path(value).name, "text": Path(value).read_text()}
        elif field["kind"] == "photo":
            photo = Path(value).resolve()
        else:
            given[field["name"]] = value if field["kind"] == "flag" else (
                [str(one) for one in value] if field["kind"] == "texts" else str(value)
            )  # fmt: skip
    return given, files, photo


@pytest.mark.parametrize("verb", list_offered())
def test_every_parameter_is_a_field_or_left_out_for_a_reason(verb):
    fields = {field["name"] for field in FORMS[verb]["fields"]}
    parameters = {one.name for one in commands()[verb].params}
    left_out = LEFT_OUT | LEFT_OUT_OF.get(verb, {})
    assert parameters - fields <= set(left_out)
    assert not fields & set(left_out)
    assert all(left_out.values())


def test_every_verb_is_offered_or_has_a_room_or_is_none_of_the_page():
    assert set(WITHOUT_FORM) == {"demo", "page", "schema", "log export", "log import"}
    assert set(commands()) - set(list_offered()) == set(WITHOUT_FORM)


def test_there_are_enough_questions_to_compare():
    assert len(QUICK) >= 40


@pytest.mark.parametrize("name", list(few_of_each_verb()))
def test_a_form_is_answered_as_the_command_line_does(name, tmp_path, capsys):
    for path in (path for folder in snapshots.INPUTS for path in folder.iterdir()):
        if path.is_file():
            (tmp_path / path.name).write_bytes(path.read_bytes())
    with chdir(tmp_path):
        code = exit_code(QUICK[name])
        told = capsys.readouterr()
        if code == 2:
            return
        found = run_verb(QUICK[name][0], *as_form(QUICK[name]))
    assert json.dumps(found["answer"]) == json.dumps(json.loads(told.out))
    assert found["trusted"] == (code == 0)
    assert found["document"]["headline"]


@pytest.mark.parametrize("face", FACES)
def test_an_answer_has_every_face(face):
    given = {"film": "TiO2", "on": "Ti", "seen": ["purple"]}
    found = run_verb("gauge", given, {}, None, face=face)
    assert found["command"] == "oxhue gauge --film=TiO2 --on=Ti --seen=purple"
    text = found["document" if face == "page" else face]
    marks = {"page": "purple", "report": "<!DOCTYPE html>", "chart": "<svg", "csv": "37 nm,27"}
    assert marks[face] in (json.dumps(text) if face == "page" else text)


def test_a_spectrum_is_drawn_though_no_json_lists_it():
    found = run_verb("look", {"stack": "TiO2 45nm / Ti"}, {}, None, face="chart")
    assert "wavelength" in found["chart"]


def test_a_file_is_given_by_what_stands_in_it():
    text = (EXAMPLES / "pieces.csv").read_text()
    found = run_verb("coupons", {}, {"file": {"name": "../my pieces.csv", "text": text}}, None)
    assert found["command"] == "oxhue coupons -- _my_pieces.csv"
    assert found["answer"]["metal"] == "Ti"


@pytest.mark.parametrize(
    ("verb", "given", "files", "said"),
    [
        ("gauge", {"film": "TiO2"}, {}, "Missing option “On”"),
        ("gauge", {"fim": "TiO2"}, {}, "did you mean film"),
        ("gauge", {"film": "TiO2", "on": "Ti", "photo": "/etc/passwd"}, {}, "not a file's name"),
        ("tint", {"metal": "Ti", "coupons": "/etc/passwd"}, {}, "not a file's name"),
        ("sheet", {"stack": "Al 80nm / glass", "source": "boat", "distance": "9cm",
                   "made": ["1:/etc/hostname.json"]}, {}, "files of this machine"),
        ("assay", {"metal": "Ti", "jar": "/etc/passwd"}, {}, "not a file's name"),
        ("page", {}, {}, "the page asks one of"),
        ("look", {"stack": "TiO2 45nm / Ti", "as_json": True}, {}, "no field"),
        ("look", {"stack": "--chart=x.svg"}, {}, "expected a material"),
        ("look", {"stack": ["a"] * 300}, {}, "at most 200"),
        ("look", {"stack": "x" * 3000}, {}, "at most 2,000"),
        ("look", "TiO2", {}, "a table of fields"),
        ("tint", {"metal": "Ti"}, {"profile": "text"}, "the name and the text of a file"),
    ],
)  # fmt: skip
def test_what_a_form_may_not_hold_is_refused_in_one_sentence(verb, given, files, said):
    with pytest.raises(InputError, match=said) as refused:
        run_verb(verb, given, files, None)
    assert "\n" not in str(refused.value)
    assert "--" not in str(refused.value)


def test_no_file_of_this_machine_is_read(tmp_path):
    secret = tmp_path / "secret.json"
    secret.write_text('{"candidates": [{"thickness_nm": 90}]}')
    given = {"stack": "Al 80nm / glass", "source": "boat", "distance": "9cm", "rate": ["1nm/s"]}
    with pytest.raises(InputError, match="files of this machine"):
        run_verb("sheet", given | {"made": [f"1:{secret}"]}, {}, None)
    with pytest.raises(InputError):
        run_verb("look", {"stack": f'"{secret}" 20nm / Ti'}, {}, None)


def test_a_log_is_kept_by_forms_as_by_commands(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OXHUE_LOG", str(tmp_path / "clocks.sqlite"))
    run_verb("log setup", {"name": "kiln", "kind": "kiln"}, {}, None)
    done = {"name": "kiln", "metal": "Ti", "at": "450C", "time": "20min", "remarks": "first"}
    found = run_verb("log run", done, {}, None)
    assert found["command"].startswith("oxhue log run --metal=Ti --for=20min")
    seen = {"run": "1", "on": "Ti", "seen": ["purple"], "wipe": "stays"}
    run_verb("log saw", seen, {}, None)
    shown = run_verb("log show", {"run": "1"}, {}, None)["answer"]
    assert exit_code(["log", "show", "1", "--json"]) == 0
    assert shown == json.loads(capsys.readouterr().out)
    assert "stays" in json.dumps(shown)
    assert "first" in json.dumps(shown)
    run_verb("log undo", {}, {}, None)
    assert "stays" not in json.dumps(run_verb("log list", {}, {}, None)["answer"])


@pytest.mark.parametrize("verb", WRITES)
def test_what_records_something_is_not_asked_again_for_a_report(verb):
    for face in set(FACES) - {"page"}:
        with pytest.raises(InputError, match="records something"):
            run_verb(verb, {}, {}, None, face=face)


def test_nothing_is_left_behind(tmp_path, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    import tempfile

    monkeypatch.setattr(tempfile, "tempdir", None)
    with chdir(tmp_path):
        run_verb("tint", {"metal": "Ti", "at": "450C", "for_": "20min"}, {}, None, face="report")
    assert os.listdir(tmp_path) == []
