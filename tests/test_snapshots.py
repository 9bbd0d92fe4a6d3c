"""The tool that compares answers with kept ones: it finds what changed; its files are whole."""

import json

import pytest

from tools import snapshots
from tools.snapshot_numbers import Change, changes_of, is_same_text

OLD = {"thickness_nm": 45.0, "name": "blue", "candidates": [{"chance": 0.25}, {"chance": 0.75}]}


@pytest.mark.parametrize(
    ("new", "found"),
    [
        (OLD, []),
        (OLD | {"name": "dark blue"}, []),
        (OLD | {"thickness_nm": 45.0 * (1 + 1e-9)}, []),
        (
            OLD | {"thickness_nm": 45.001},
            [Change("number changed", "thickness_nm: 1 of 1, first 45.0 -> 45.001")],
        ),
        (
            OLD | {"candidates": [{"probability": 0.25}, {"probability": 0.75}]},
            [Change("renamed", "candidates[].chance -> candidates[].probability")],
        ),
        (
            {"name": "blue", "candidates": OLD["candidates"], "nm": 44.0},
            [Change("removed", "thickness_nm"), Change("added", "nm")],
        ),
        (
            OLD | {"candidates": [{"chance": 0.25}]},
            [Change("count changed", "candidates[].chance: 2 values -> 1")],
        ),
        (OLD | {"thickness_nm": None}, [
            Change("number changed", "thickness_nm: 1 of 1, first 45.0 -> None")
        ]),
    ],
    ids=["same", "text", "ninth digit", "number", "renamed", "replaced", "fewer", "none"],
)  # fmt: skip
def test_keys_and_numbers_that_change_are_found(new, found):
    assert changes_of(OLD, new) == found


def test_every_question_has_its_answer_kept_and_no_other_is():
    paths = [question.path for question in snapshots.read_questions()]
    assert len(paths) == len(set(paths)) >= 150
    assert set(paths) == set(snapshots.ANSWERS.rglob("*.txt"))


def test_numbers_of_the_plain_colours_are_those_kept(capsys):
    assert snapshots.main(["--only", "look/one-film", "--numbers"]) == 0
    assert capsys.readouterr() == ("", "2 answers, 0 with differences\n")


def test_a_difference_is_shown_and_can_be_kept(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr(snapshots, "ANSWERS", tmp_path)
    only = ["--only", "look/*tilted*"]
    assert snapshots.main([*only, "--write"]) == 0
    assert snapshots.main(only) == 0
    path = tmp_path / "look" / "tilted.json.txt"
    kept = path.read_text(encoding="utf-8")
    parts = snapshots.json_parts(kept)
    assert parts["stdout"]["angle_deg"] == 60.0
    path.write_text(kept.replace('"angle_deg": 60.0', '"angle_deg": 61.0'), encoding="utf-8")
    capsys.readouterr()
    assert snapshots.main(only) == 1
    assert '-  "angle_deg": 61.0,\n+  "angle_deg": 60.0,\n' in capsys.readouterr().out
    assert snapshots.main([*only, "--numbers"]) == 1
    assert "number changed: stdout.angle_deg: 1 of 1, first 61.0 -> 60.0" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("new", "same"),
    [("45.0000001 nm, 1st", True), ("45.001 nm, 1st", False), ("45 nm, 2nd", False), ("45", False)],
)
def test_a_text_is_the_same_but_for_last_digits(new, same):
    assert is_same_text("45.0 nm, 1st", new) is same


def test_a_refusal_is_kept_with_its_exit_code():
    (question,) = snapshots.read_questions("look/refused-unit")
    lines = snapshots.ask(question).splitlines()
    assert lines[1:3] == ["exit 2", "=== stderr ==="]


def test_numbers_keep_nine_digits_and_lists_a_few_a_line():
    text = snapshots.pretty_json(json.dumps({"b": [i / 3 for i in range(7)], "a": ["x", "y"]}))
    assert text.splitlines() == [
        "{", '  "a": [', '    "x",', '    "y"', "  ],", '  "b": [',
        "    0.0, 0.333333333, 0.666666667, 1.0, 1.33333333, 1.66666667,", "    2.0", "  ]", "}",
    ]  # fmt: skip


def test_no_kept_answer_is_a_bug(tmp_path, monkeypatch, capsys):
    assert not [
        path for path in snapshots.ANSWERS.rglob("*.txt") if "exit none" in path.read_text()
    ]
    monkeypatch.setattr(snapshots, "ANSWERS", tmp_path)
    monkeypatch.setattr(snapshots, "_run", lambda *_: ("none: KeyError: 'nm'", "", ""))
    assert snapshots.main(["--only", "look/one-film", "--write"]) == 1
    assert list(tmp_path.rglob("*.txt")) == []
    assert "was not kept" in capsys.readouterr().err
