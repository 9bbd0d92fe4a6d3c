"""The fuzz runner: its judge sees what is wrong, a number gives the same run, and some runs."""

import math
import os
import sys
import warnings
from collections import defaultdict

import pytest
from typer.main import get_command

from benchmarks.fuzz import lines
from benchmarks.fuzz.judge import run
from benchmarks.fuzz.lines import VERBS
from oxhue.cli.main import app
from oxhue.optics.errors import InputError

worker = pytest.importorskip(
    "benchmarks.fuzz.worker", reason="limits of processes as Unix has them"
)
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="memory as Linux counts it")


def said(out="", err="", code=0):
    def action():
        sys.stdout.write(out)
        sys.stderr.write(err)
        return code

    return action


def refuse():
    raise InputError("it is wrong")


def warn():
    warnings.warn("overflow", RuntimeWarning, stacklevel=1)


@pytest.mark.parametrize(
    ("action", "asked"),
    [
        (said("45 nm"), ["look"]),
        (said("45 nm", "chart written: a.png\n", 3), ["look"]),
        (said('{"a": 1}\n'), ["look", "--json"]),
        (said("", "oxhue: it is wrong\n", 2), ["look"]),
        (refuse, []),
    ],
)
def test_what_is_allowed(action, asked, tmp_path):
    assert run(action, tmp_path, asked).wrong == ""


@pytest.mark.parametrize(
    ("action", "asked", "wrong"),
    [
        (said(), ["look"], "answered with nothing"),
        (said("x", "oxhue: it is wrong\n", 2), ["look"], "wrote to stdout"),
        (said("", "", 2), ["look"], "other than one sentence"),
        (said("", "oxhue: this\nand that\n", 2), ["look"], "other than one sentence"),
        (said("45 nm", "a warning\n"), ["look"], "said on stderr"),
        (said("about nan nm"), ["look"], "shows 'about nan nm'"),
        (said('{"a": NaN}\n'), ["look", "--json"], "does not parse"),
        (said("[1]\n"), ["look", "--json"], "no one object"),
        (said("45 nm", code=1), ["look"], "exit code 1"),
        (said("\ud800"), ["look"], "UnicodeEncodeError"),
        (warn, ["look"], "RuntimeWarning: overflow"),
    ],
)
def test_what_is_not(action, asked, wrong, tmp_path):
    assert wrong in run(action, tmp_path, asked).wrong


def test_files_left_behind_are_seen(tmp_path):
    def leave(name, code):
        def action():
            (tmp_path / name).write_text("x")
            return said("45 nm" if code == 0 else "", "oxhue: it is wrong\n" * (code == 2), code)()

        return action

    assert "temporary file" in run(leave(".a.png.12", 0), tmp_path, ["look"]).wrong
    assert "refused, yet wrote" in run(leave("a.png", 2), tmp_path, ["look"]).wrong


@LINUX
@pytest.mark.parametrize(("kind", "count"), [("lines", 40), ("files", 120)])
def test_some_runs_are_all_allowed(kind, count, tmp_path, monkeypatch):
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    for item in range(count):
        _, ending = worker.one(kind, 77, item, here)
        assert ending.wrong == "", f"--seed 77 --show {kind}:{item}"
    assert worker.one(kind, 77, 3, here)[0] == worker.one(kind, 77, 3, here)[0]


def test_every_option_of_every_verb_is_reached():
    reached = defaultdict(set)
    for name, (_, _, options) in VERBS.items():
        reached[" ".join(name.split()[:1])] |= set(options)
    verbs = get_command(app).commands
    assert set(reached) <= {*verbs, ""}
    for name, verb in verbs["log"].commands.items():
        given = lines.all_verbs()[f"log {name}"][2]
        options = {one for parameter in verb.params for one in parameter.opts if one[:2] == "--"}
        assert options <= given.keys(), name
        assert all(chance > 0.0 for chance, _ in given.values()), name
    for name in reached.keys() - {""}:
        verb = verbs[name]
        options = {option for parameter in verb.params for option in parameter.opts}
        assert {one for one in options if one.startswith("--")} - {"--help"} <= reached[name], name


def test_a_verb_that_nobody_described_is_drawn_from_its_own_help(monkeypatch):
    monkeypatch.delitem(VERBS, "chamber")
    lines.all_verbs.cache_clear()
    try:
        share, argument, options = lines.all_verbs()["chamber"]
    finally:
        lines.all_verbs.cache_clear()
    assert share > 0.0
    assert argument is not None
    assert {"--leak", "--json", "--report"} <= options.keys()
    assert options["--json"][1] is None
    assert options["--leak"][1] is not None


@LINUX
@pytest.mark.filterwarnings("ignore:This process")  # newer Pythons warn of any fork
def test_a_run_that_kills_its_process_is_told_and_the_next_goes_on(monkeypatch):
    def one(_kind, _seed, item, folder):
        if item == 1:
            os._exit(7)
        return ["look"], run(said("45 nm"), folder, ["look"])

    monkeypatch.setattr(worker, "one", one)
    # The children begin with all that the tests before this one have left in memory.
    monkeypatch.setattr(worker, "LIMIT_MB", math.inf)
    found = list(worker.results("files", 1, 0, 3))
    assert [result.item for result in found] == [0, 1, 2]
    first, second, third = (result.wrong for result in found)
    assert (first, third) == ("", "")
    assert second.startswith("ended by")
