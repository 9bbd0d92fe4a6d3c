"""The run log on the page: recorded, kept, shown with its colours."""

import errno
import io
import os
import zipfile

import pytest

from oxhue.optics.log.log import Log
from oxhue.page import uploads
from oxhue.page.questions import log_file
from tests.page.test_photos import as_file, rendered

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
    found = ask("next", setup="shop kiln", want="dark blue", metal="Ti")["answer"]
    assert "°C" in found["headline"][0]
    heads = [one["head"] for one in found["blocks"] if "head" in one]
    assert ["turned by one notch", "chance"] in heads
    assert any("colour" in head for head in heads)
    assert found["charts"][0]["chart"].startswith("<svg")
    assert "refused" in ask("next", setup="shop kiln", want="dark blue", metal="steel")


def saved(browser, **which):
    response = browser.get("/api/log/file", params=which)
    assert response.status_code == 200
    return response.content


def added(browser, body):
    return browser.post("/api/log/file", content=body).json()


def unpacked(body):
    with zipfile.ZipFile(io.BytesIO(body)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def packed(files):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as made:
        for name, content in files.items():
            made.writestr(name, content)
    return stream.getvalue()


def packed_twice():
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as file:
        file.writestr("log.jsonl", "one")
        with pytest.warns(UserWarning, match="Duplicate name"):
            file.writestr("log.jsonl", "two")
    return stream.getvalue()


def packed_otherwise():
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_BZIP2) as file:
        file.writestr("log.jsonl", "x" * 1_000)
    return stream.getvalue()


def torn():
    """A file of which one byte within what is packed was changed."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("log.jsonl", "x" * 1_000)
    body = bytearray(stream.getvalue())
    body[30 + len("log.jsonl")] = 0xFF
    return bytes(body)


@pytest.fixture
def other_log(monkeypatch, tmp_path):
    """From here on another, empty log."""
    return lambda: monkeypatch.setenv("OXHUE_LOG", str(tmp_path / "other.sqlite"))


def test_a_log_is_saved_and_added_to_another(browser, ask, other_log):
    assert "record a run first" in browser.get("/api/log/file").json()["refused"]
    ask("record", **RUN, seen="purple", on="Ti")
    body = saved(browser)
    other_log()
    ask("record", **RUN)
    assert "the first is run 2" in added(browser, body)["answer"]["sentence"]
    lines = unpacked(body)["log.jsonl"]
    assert "the first is run 3" in added(browser, lines)["answer"]["sentence"]
    runs = ask("log")["answer"]["runs"]
    assert [run["run"] for run in runs] == [3, 2, 1]
    assert runs[0]["pieces"][0]["observations"][0]["text"] == "purple"
    assert "line 1" in added(browser, b"nonsense")["refused"]
    assert len(ask("log")["answer"]["runs"]) == 3


def test_a_piece_gathers_photo_answers_and_heats_and_goes_as_one_file(browser, ask, other_log):
    picture = as_file(rendered(), "PNG")
    photo = browser.post("/api/photo", content=picture).headers["x-photo"]
    link = f"#thickness?photo={photo}"
    ask("record", **RUN, piece="dial", on="Ti", seen="purple", photo=photo,
        answer="39 nm, 32 to 43", link=link)  # fmt: skip
    ask("record", **RUN | {"at": "480C"}, piece="dial", on="Ti")
    ask("record", run=2, piece="dial", seen="blue")
    ask("record", **RUN, piece="hand", seen="straw", on="Ti")
    noted = ask("log")["answer"]["runs"][-1]["pieces"][0]["observations"]
    found = {one["what"]: one["text"] for one in noted}
    assert found["photo"].endswith(".png")
    assert found["answer"] == "39 nm, 32 to 43"
    assert found["link"] == f"#thickness?photo={found['photo']}"
    assert ask("log")["answer"]["runs"][1]["pieces"][0]["observations"][0]["text"] == "blue"
    again = browser.post("/api/take", json={"photo": found["photo"]})
    assert again.json()["answer"]["card"] is not None
    assert ask("kept", photo=again.headers["x-photo"])["answer"]["kept"]

    body = saved(browser, piece="dial")
    assert unpacked(body)[f"log-photos/{found['photo']}"] == picture
    other_log()
    added(browser, body)
    runs = ask("log")["answer"]["runs"]
    assert [[one["name"] for one in run["pieces"]] for run in runs] == [["dial"], ["dial"]]
    assert "answer" in browser.post("/api/take", json={"photo": found["photo"]}).json()
    assert "no run of the log" in browser.get("/api/log/file?piece=x").json()["refused"]


def test_no_half_of_a_log_goes_out_or_comes_in_on_a_full_disk(browser, ask, monkeypatch):
    ask("record", **RUN, seen="purple", on="Ti")
    body = saved(browser)
    full = OSError(errno.ENOSPC, "No space left on device")

    async def no_room(*_):
        raise full

    def fail(*_):
        raise full

    with monkeypatch.context() as patched:
        patched.setattr(zipfile.ZipFile, "write", fail)
        response = browser.get("/api/log/file")
    assert (response.status_code, "no room" in response.json()["refused"]) == (507, True)
    with monkeypatch.context() as patched:
        patched.setattr(uploads, "read_body", no_room)
        response = browser.post("/api/log/file", content=body)
    assert (response.status_code, "no room" in response.json()["refused"]) == (507, True)
    assert len(ask("log")["answer"]["runs"]) == 1
    assert "log.jsonl" in unpacked(saved(browser))


def test_a_photo_that_is_not_with_the_log_is_not_taken_up(browser, ask):
    ask("record", **RUN)
    for name in ("../clocks.sqlite", "0" * 64 + ".png", "", None):
        assert "refused" in browser.post("/api/take", json={"photo": name}).json()


def test_adding_to_a_run_that_is_refused_takes_no_run_back(ask):
    ask("record", **RUN)
    assert "refused" in ask("record", run=1, seen="octarine")
    assert "refused" in ask("record", run=7, seen="purple")
    assert len(ask("log")["answer"]["runs"]) == 1


@pytest.mark.parametrize(
    "body",
    [
        packed({"log.jsonl": "", "../evil.png": "x"}),
        packed({"log.jsonl": "", "log-photos/../../evil.png": "x"}),
        packed({"log.jsonl": "", "other/" + "0" * 64 + ".png": "x"}),
        packed({"log-photos/" + "0" * 64 + ".png": "x"}),
        packed({"log.jsonl": ""})[:-30],
        packed({f"{i}": "" for i in range(2_001)}),
    ],
    ids=["climbs", "climbs-later", "elsewhere", "no-rows", "cut", "many"],
)
def test_a_packed_log_that_holds_something_else_is_refused(browser, ask, tmp_path, body):
    assert "refused" in added(browser, body)
    assert not list(tmp_path.rglob("evil.png"))
    assert ask("log")["answer"]["runs"] == []


@pytest.mark.parametrize(
    ("make", "words"),
    [(packed_twice, "two files of one name"), (packed_otherwise, "packed in another way"),
     (torn, "this file is damaged")],
)  # fmt: skip
def test_a_packed_log_that_is_odd_or_damaged_is_told_so(make, words, browser):
    response = browser.post("/api/log/file", content=make())
    assert response.status_code == 200
    assert words in response.json()["refused"]


def test_a_log_is_saved_by_a_clock_that_was_never_set(browser, ask, monkeypatch):
    """Such files state no time before 1980."""
    ask("record", **RUN)
    export = Log.export

    def of_old(log, rows, **which):
        said = export(log, rows, **which)
        os.utime(rows, (0, 0))
        return said

    monkeypatch.setattr(Log, "export", of_old)
    assert "log.jsonl" in unpacked(saved(browser))


def test_a_packed_log_that_unpacks_too_large_is_refused(browser, monkeypatch):
    monkeypatch.setattr(log_file, "MAX_LOG_BYTES", 1_000)
    assert "more than" in added(browser, packed({"log.jsonl": "x" * 2_000}))["refused"]


def test_a_photo_whose_content_is_not_its_name_is_not_kept(browser, ask, other_log):
    photo = browser.post("/api/photo", content=as_file(rendered())).headers["x-photo"]
    ask("record", **RUN, piece="dial", on="Ti", photo=photo)
    files = unpacked(saved(browser))
    (name,) = [one for one in files if one.endswith(".png")]
    other_log()
    assert "was changed" in added(browser, packed(files | {name: b"another"}))["refused"]
    assert ask("log")["answer"]["runs"] == []


@pytest.mark.slow
def test_the_odds_before_and_after_are_told_with_their_pictures(ask):
    jar = {"setup": "jar", "kind": "chamber", "metal": "Ti", "time": "12min", "source": "wire"}
    wire = {"wire_diameter": "0.5mm", "wire_length": "200mm", "on": "glass", "seen": "silver"}
    ask("record", **jar, **wire, current="6.4A")
    ask("record", setup="jar", kind="chamber", like=1, current="6.6A", seen="silver", on="glass")
    learnt = ask("learn", setup="jar")["answer"]
    head = next(one["head"] for one in learnt["blocks"] if "head" in one)
    assert "metal before" in head
    assert "after" in head
    assert len(learnt["charts"]) == 2
    assert all(one["chart"].startswith("<svg") for one in learnt["charts"])
    next_run = ask("next", setup="jar", want="Ti 40nm")["answer"]
    assert any("Without the log" in f"{one.get('words')}" for one in next_run["blocks"])
