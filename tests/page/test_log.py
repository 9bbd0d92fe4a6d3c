"""The run log on the page: recorded, kept, shown with its colours."""

import pytest


@pytest.fixture(autouse=True)
def log_file(monkeypatch, tmp_path):
    monkeypatch.setenv("OXHUE_LOG", str(tmp_path / "clocks.sqlite"))


RUN = {"setup": "shop kiln", "kind": "kiln", "metal": "Ti", "at": "450C", "time": "20min"}


def test_a_run_is_recorded_and_shown_newest_first_with_its_colour(ask):
    assert ask("record", **RUN, seen="purple", on="Ti")["answer"]["run"] == 1
    ask("record", **RUN | {"at": "480C"}, seen="#3c4fa1")
    held = ask("log")["answer"]
    assert [run["run"] for run in held["runs"]] == [2, 1]
    assert held["setups"] == [{"setup": "shop kiln", "kind": "kiln"}]
    (seen,) = held["runs"][0]["pieces"][0]["observations"]
    assert seen["srgb_hex"] == "#3c4fa1"


def test_what_is_refused_leaves_no_run_behind(ask):
    ask("record", **RUN)
    assert "refused" in ask("record", **RUN, seen="octarine")
    assert len(ask("log")["answer"]["runs"]) == 1


def test_an_empty_log_says_where_it_would_be(ask):
    found = ask("log")
    assert found["answer"]["runs"] == []


def test_what_next_learns_from_the_runs(ask):
    for at, seen in (("380C", "straw"), ("420C", "bronze"), ("450C", "purple")):
        ask("record", **RUN | {"at": at}, seen=seen, on="Ti")
    found = ask("next", setup="shop kiln", want="dark blue")
    assert "°C" in found["words"]["headline"] + " ".join(found["words"]["lines"])


def test_a_log_is_saved_and_added_to_another(ask, tmp_path, monkeypatch):
    assert "record a run first" in ask("export")["refused"]
    ask("record", **RUN, seen="purple", on="Ti")
    lines = ask("export")["lines"]
    monkeypatch.setenv("OXHUE_LOG", str(tmp_path / "other.sqlite"))
    ask("record", **RUN)
    assert "the first is run 2" in ask("import", lines=lines)["answer"]["sentence"]
    runs = ask("log")["answer"]["runs"]
    assert [run["run"] for run in runs] == [2, 1]
    assert runs[0]["pieces"][0]["observations"][0]["text"] == "purple"
    assert "line 1" in ask("import", lines="nonsense")["refused"]
    assert "there is no log" in ask("import")["refused"]
    assert len(ask("log")["answer"]["runs"]) == 2
