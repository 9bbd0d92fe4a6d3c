"""Of every verb: an option counts or is refused, and no file that is read is written over."""

import os
import random
import shutil

import pytest

from benchmarks.fuzz.every_option import (
    FLAGS_OF_OUTPUT,
    THE_SAME,
    WAYS,
    additions,
    ask,
    command_of,
    fault,
    lay_out,
    uncovered,
    verbs,
    without_value,
)
from tests.cli.within import run

SOME = 20  # of some eight hundred additions, drawn once for all
SLOW = ("gauge of spots", "log next", "log learn", "coupons", "spectrum", "design", "map")
WRITES = {"--chart": ".png", "--report": ".html", "--save": ".json"}
READ_A_LOG = ("gauge with a log", "tint with a log", "log learn of a kiln", "log next of a kiln")
ANSWERS_NOTHING = {"demo", "page", "schema"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("ways")
    lay_out(made)
    return made


@pytest.fixture
def here(folder, monkeypatch):
    monkeypatch.chdir(folder)
    return folder


def some(lines):
    drawn = random.Random(4).sample(lines, len(lines))
    quick = [one for one in drawn if not one.way.startswith(SLOW)]
    return quick[:SOME]


def test_every_verb_is_asked_in_some_way():
    assert uncovered() == ANSWERS_NOTHING
    assert without_value() == set(), "say a value that is not the default in every_option"
    for way, option in THE_SAME:
        assert option in [one.option for one in additions() if one.way == way]


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize("added", some([*additions()]), ids=lambda one: f"{one.way} {one.option}")
def test_an_option_more_changes_the_answer_or_is_refused(added, before):
    if added.way not in before:
        before[added.way] = ask(WAYS[added.way])
        assert before[added.way].code in (0, 3), before[added.way].refusal
    assert fault(before[added.way], added) == ""


@pytest.fixture(scope="module")
def before():
    """What each way says without an option more."""
    return {}


@pytest.mark.slow
@pytest.mark.usefixtures("here")
@pytest.mark.parametrize("way", WAYS)
def test_every_option_of_every_way_changes_the_answer_or_is_refused(way):
    said = ask(WAYS[way])
    assert [wrong for one in additions() if one.way == way and (wrong := fault(said, one))] == []


def read_and_written():
    """Each file that a verb reads, with each of its options that writes a file."""
    found = {}
    for way, line in WAYS.items():
        options = {max(one.opts, key=len) for one in command_of(line).params}
        for word in line:
            if word.endswith((".csv", ".png", ".json", ".toml")) and way != "gauge of spots":
                for option in sorted(options & set(WRITES)):
                    found[line[0], word, option] = line, word, option
        if way in READ_A_LOG:
            for option in sorted(options & {"--chart", "--report"}):
                found[way, option] = line, "oxhue-log.sqlite", option
    return found.values()


def held_in(folder, most):
    """What stands in each file, or at its start."""
    return {one.name: one.read_bytes()[:most] for one in folder.iterdir() if one.is_file()}


@pytest.mark.parametrize(("line", "read", "option"), read_and_written())
def test_no_file_that_is_read_is_written(line, read, option, here, tmp_path, monkeypatch, capsys):
    inputs = tmp_path / "inputs"
    shutil.copytree(here, inputs, ignore=shutil.ignore_patterns("oxhue-map"))  # of another test
    monkeypatch.chdir(inputs)
    name = f"out{WRITES[option]}"
    (os.symlink if option == "--report" else os.link)(read, name)
    most = 16 if read.endswith(".sqlite") else None  # what was learnt is kept in a log
    held = held_in(inputs, most)
    code, out, err = run(capsys, *line, option, name)
    after = held_in(inputs, most)
    assert after == held
    assert (code, out) == (2, "")
    without_chart = option == "--chart" and ("charts" in err or "no chart" in err)
    assert "the answer rests on it" in err or without_chart


def test_every_option_that_writes_a_file_is_among_those_tried():
    writes = {"demo": {"folder"}, "map": {"out"}}
    for name, command in verbs().items():
        for one in command.params:
            file = one.metavar in ("FILE", "DIR") and max(one.opts, key=len) in FLAGS_OF_OUTPUT
            if file and one.name not in writes.get(name, ()):
                assert max(one.opts, key=len) in WRITES, (name, one.name)
