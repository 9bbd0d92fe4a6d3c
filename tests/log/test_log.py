"""The run log: what is recorded comes back, whole or not at all, and no other file is harmed."""

from __future__ import annotations

import inspect
import os
import random
import shutil
import signal
import sqlite3
import threading
import time
from datetime import datetime
from pathlib import Path

import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.files.atomic import check_target, keep_inputs
from oxhue.optics.log import database, kiln_runs, learn, schema
from oxhue.optics.log.database import log_path
from oxhue.optics.log.entries import now_words
from oxhue.optics.log.log import Log
from oxhue.optics.log.photos import keep_photo
from oxhue.optics.log.schema import NEWEST, STEPS


@pytest.fixture
def place(tmp_path):
    return tmp_path / "clocks.sqlite"


@pytest.fixture
def filled(place):
    """A jar with one run and two pieces."""
    with Log.open(place) as log:
        log.setup("jar", kind="chamber", note="=under the bench")
        run = log.record("jar", source="wire", metal="Ti", current="4.8A", time="12min")
        log.saw(run.run, piece="slide", on="glass", seen=["gold", "#c8a050"], ohms="open")
        log.saw(run.run, piece="numeral plate", on="Fe", seen="silver", distance="7cm")
    return place


def test_what_is_recorded_comes_back(filled):
    with Log.open(filled, write=False) as log:
        run = log.show(1)
    assert run.done == {"source": "wire", "metal": "Ti", "current": "4.8A", "time": "12min"}
    assert [piece.name for piece in run.pieces] == ["slide", "numeral plate"]
    looks = [(one.what, one.text) for one in run.pieces[0].observations]
    assert looks == [("seen", "gold"), ("seen", "#c8a050"), ("ohms", "open")]
    assert run.pieces[1].facts == {"on": "Fe", "distance": "7cm"}
    assert len(repr(run)) < 200
    told = run.to_dict()["pieces"][0]["observations"][2]
    assert {**told, "at": ""} == {"what": "ohms", "text": "open", "at": ""}
    assert datetime.fromisoformat(told["at"]) >= datetime.fromisoformat(run.at)


def test_where_a_piece_lay_is_kept_under_its_own_names(filled):
    where = {"distance": "7cm", "offset": "2cm", "tilt": "30"}
    with Log.open(filled) as log:
        log.setup("bell", places={"rim": "7cm,2cm,30"})
        run = log.record("bell", current="4.8A").run
        for name, said in (("hand", where), ("dial", {"place": "rim"}), ("cap", {"metal": "Al"})):
            (piece,) = [one for one in log.saw(run, piece=name, **said).pieces if one.name == name]
            assert piece.facts == said


def test_a_run_like_another_keeps_what_is_not_changed(filled):
    with Log.open(filled) as log:
        later = log.record("jar", like=1, current="5.0A")
    assert later.run == 2
    assert later.done == {"source": "wire", "metal": "Ti", "current": "5.0A", "time": "12min"}


def test_a_changed_setup_is_a_new_version_and_old_runs_keep_theirs(filled):
    with Log.open(filled) as log:
        assert log.setup("jar", note="new pump").setup_version == 2
        log.record("jar", like=1)
        listed = log.runs()
    assert [run.setup_version for run in listed.runs] == [1, 2]
    assert [(one.setup, one.setup_version) for one in listed.setups] == [("jar", 2)]


def test_undo_takes_back_one_entry_after_the_other(filled):
    with Log.open(filled) as log:
        assert "looks of run 1" in log.undo().sentence
        assert [piece.name for piece in log.show(1).pieces] == ["slide"]
        log.undo()
        assert "run 1" in log.undo().sentence
        assert "the setup" in log.undo().sentence
        with pytest.raises(InputError, match="nothing in the log"):
            log.undo()
        assert log.runs().setups == ()


def test_a_clock_that_goes_back_changes_no_order(filled):
    with sqlite3.connect(filled) as raw:
        raw.execute("UPDATE run SET at = '2099-01-01T00:00:00+00:00'")
    raw.close()
    with Log.open(filled) as log:
        log.record("jar", like=1)
        assert [run.run for run in log.runs().runs] == [1, 2]
        assert "run 2" in log.undo().sentence


@pytest.mark.parametrize("ending", [".jsonl", ".csv"])
def test_an_export_comes_back_to_the_same_rows(filled, tmp_path, ending):
    file, again = tmp_path / f"all{ending}", tmp_path / f"again{ending}"
    with Log.open(filled) as log:
        log.setup("jar", note="new pump")
        log.record("jar", like=1, remarks='=HYPERLINK("x"), "quoted"\nand broken', melted=True)
        log.export(file)
        before = log.runs()
    with Log.open(tmp_path / "second.sqlite") as other:
        other.import_(file)
        after = other.runs()
        other.export(again)
    for one, two in zip(before.runs, after.runs, strict=True):
        assert one.to_dict() == two.to_dict()
    assert [one.to_dict() for one in before.setups] == [one.to_dict() for one in after.setups]
    assert file.read_bytes() == again.read_bytes()
    if ending == ".csv":
        assert "\n=" not in file.read_text()
        assert ",=" not in file.read_text()


@pytest.mark.parametrize("ending", ["jsonl", "csv"])
def test_one_piece_is_exported_with_its_run_and_setup_alone(filled, tmp_path, ending):
    path = tmp_path / f"one.{ending}"
    with Log.open(filled) as log:
        log.setup("kiln", kind="kiln")
        log.record("kiln", metal="Ti", at="440C", time="20min")
        log.saw(2, piece="Zifferblatt für die Turmuhr", seen="blue")
        log.export(path, piece="numeral plate")
        text = path.read_text(encoding="utf-8")
        with pytest.raises(InputError, match="no run of the log has a piece 'no such'") as refused:
            log.export(path, piece="no such")
        log.export(tmp_path / f"other.{ending}", piece="Zifferblatt für die Turmuhr")
    assert refused.value.parameter == "piece"
    assert "numeral plate" in text
    assert "slide" not in text
    assert "kiln" not in text
    assert path.read_text(encoding="utf-8") == text
    assert "für" in (tmp_path / f"other.{ending}").read_text(encoding="utf-8")


def test_an_import_into_a_log_that_holds_runs_numbers_on(filled, tmp_path):
    file = tmp_path / "all.jsonl"
    with Log.open(filled) as log:
        log.export(file)
        assert log.import_(file).run == 2
        assert [run.run for run in log.runs().runs] == [1, 2]
        assert [one.setup_version for one in log.runs().setups] == [1]
        log.undo()
        assert [run.run for run in log.runs().runs] == [1]


BROKEN = (
    ("{", "line 1 is not JSON"),
    ('{"setup": "jar"}', "line 1: 'setup_kind' is missing"),
    ("[1]", "no JSON object"),
    (
        '{"setup": "jar", "setup_version": 1, "setup_kind": "boat", "facts": {}}',
        "'boat' is not one",
    ),
)


@pytest.mark.parametrize(("text", "words"), BROKEN)
def test_a_broken_import_adds_nothing(filled, tmp_path, text, words):
    file = tmp_path / "broken.jsonl"
    file.write_text(text)
    with Log.open(filled) as log:
        with pytest.raises(InputError, match=words):
            log.import_(file)
        assert len(log.runs().runs) == 1


def test_an_import_is_checked_like_what_is_typed(filled, tmp_path):
    file = tmp_path / "all.jsonl"
    with Log.open(filled) as log:
        log.export(file)
        file.write_text(file.read_text().replace("4.8A", "4.8 parsecs"))
        with pytest.raises(InputError, match=r"line 2: .*unknown unit 'parsecs'"):
            log.import_(file)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"current": "4.8"}, "has no unit"),
        ({"source": "wires"}, "did you mean wire"),
        ({"at": "450C"}, "`at` cannot be recorded here"),
        ({"current": 4.8}, "is a text with a unit"),
        ({}, "nothing is said of the run"),
        ({"metal": "Unobtainium"}, "unknown material"),
    ],
)
def test_a_run_that_makes_no_sense_is_refused(filled, said, words):
    with Log.open(filled) as log:
        with pytest.raises(InputError, match=words):
            log.record("jar", **said)
        assert len(log.runs().runs) == 1


def test_unknown_names_and_numbers_are_refused(filled):
    with Log.open(filled) as log:
        with pytest.raises(InputError, match="did you mean jar"):
            log.record("jr", current="4.8A")
        with pytest.raises(InputError, match="no run 9 in the log; it holds 1 run"):
            log.saw(9, seen="gold")
        with pytest.raises(InputError, match="is a chamber already"):
            log.setup("jar", kind="kiln")
        log.saw(1, piece="bare", seen="gold")
        with pytest.raises(InputError, match="was recorded without `on`; undo that"):
            log.saw(1, piece="bare", on="glass", seen="gold")
        with pytest.raises(InputError, match="is glass already, not Fe"):
            log.saw(1, piece="slide", on="Fe", seen="gold")
        with pytest.raises(InputError, match="not one we know"):
            log.saw(1, piece="slide", seen="goldd-ish")


def harmless(path, words):
    """A file is refused in one sentence, and not a byte of it changes."""
    before = path.read_bytes()
    for write in (True, False):
        with pytest.raises(InputError, match=words):
            Log.open(path, write=write)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda log, jar: log.record(jar, current="5A"), lambda run: (run.run, run.setup)),
        (lambda log, jar: log.record(jar, like=1, current="5A"), lambda run: run.done["source"]),
        (lambda log, jar: log.plan(jar, "Ti 40nm"), lambda run: (run.run, run.setup)),
        (lambda log, jar: log.newest(jar), lambda run: run.run),
        (lambda log, jar: log.runs(jar), lambda runs: (len(runs.runs), len(runs.setups))),
        (lambda log, jar: log.runs(jar, newest=1), lambda runs: (len(runs.runs), runs.total)),
        (lambda log, jar: log.setup(jar), lambda made: (made.setup, made.setup_version)),
    ],
)
def test_a_name_with_spaces_around_it_is_that_name(filled, ask, told):
    """A trailing space was a traceback, or a list of no runs, unsaid."""
    held = shutil.copy(filled, filled.with_name("other.sqlite"))
    with Log.open(filled) as log:
        found = told(ask(log, "jar"))
    with Log.open(held) as log:
        assert told(ask(log, " jar ")) == found


def test_what_is_learnt_of_a_name_with_spaces_around_it_is_refused_alike(filled):
    with Log.open(filled) as log:
        log.setup("kiln", kind="kiln")
        log.setup("bell")
        for name in ("bell", "kiln"):
            asked = (log.learn, lambda name: log.next(name, want="Ti 40nm"),
                     lambda name: log.known(name, "gauge"))  # fmt: skip
            for ask in asked:
                said = []
                for written in (name, f"{name} "):
                    with pytest.raises(InputError) as refused:
                        ask(written)
                    said.append(str(refused.value))
                assert said[0] == said[1]


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone cannot be set here")
def test_a_clock_that_is_days_off_is_recorded_in_universal_time(monkeypatch):
    for zone, offset in (("UTC+25:30", "+00:00"), ("XYZ-5:30", "+05:30")):
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        try:
            assert now_words().endswith(offset)
        finally:
            monkeypatch.undo()
            time.tzset()


def test_the_log_that_is_meant(monkeypatch, tmp_path):
    monkeypatch.delenv("OXHUE_LOG", raising=False)
    assert str(log_path()) == "oxhue-log.sqlite"
    assert log_path(tmp_path) == tmp_path
    assert str(log_path("a.sqlite")) == "a.sqlite"
    monkeypatch.setenv("OXHUE_LOG", str(tmp_path / "b.sqlite"))
    assert log_path() == tmp_path / "b.sqlite"
    assert str(log_path("a.sqlite")) == "a.sqlite"
    with pytest.raises(InputError, match="`log` is the name of a file, not 5"):
        log_path(5)


def test_files_that_are_no_logs_are_left_alone(tmp_path, filled):
    text = tmp_path / "notes.txt"
    text.write_text("4.8 A gave gold, 5 A melted it. " * 10)
    harmless(text, "is not a run log")
    other = tmp_path / "other.sqlite"
    with sqlite3.connect(other) as raw:
        raw.execute("CREATE TABLE recipes (name TEXT)")
    raw.close()
    harmless(other, "database of another program")
    with sqlite3.connect(filled) as raw:
        raw.execute(f"PRAGMA user_version = {NEWEST + 1}")
    raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    raw.close()
    harmless(filled, "newer version")


@pytest.mark.parametrize("write", [False, True])
def test_a_device_or_a_pipe_is_refused_unread(tmp_path, write):
    pipe = tmp_path / "pipe.db"
    os.mkfifo(pipe)  # opening it would wait for a writer for ever
    for path in (pipe, Path(os.devnull)):
        with pytest.raises(InputError, match="is a device or a pipe; name a file"):
            Log.open(path, write=write)


def test_a_damaged_log_is_refused(filled):
    raw = bytearray(filled.read_bytes())
    raw[100:4096] = os.urandom(3996)
    filled.write_bytes(bytes(raw))
    with pytest.raises(InputError, match=r"damaged|malformed"), Log.open(filled) as log:
        log.runs()


def test_an_empty_file_is_filled_by_recording_only(place):
    place.touch()
    with pytest.raises(InputError, match=r"is empty, with nothing recorded in it"):
        Log.open(place, write=False)
    assert place.read_bytes() == b""
    with Log.open(place) as log:
        log.setup("jar")
    with Log.open(place, write=False) as log:
        assert [one.setup for one in log.runs().setups] == ["jar"]


def test_a_log_is_marked_as_the_ones_made_before(filled):
    """By bytes 68 to 71 of an SQLite file, the application's own number."""
    head = filled.read_bytes()[:100]
    assert head[68:72] == b"oxhu"
    assert int.from_bytes(head[60:64], "big") == NEWEST


def test_a_log_whose_form_is_lost_is_said_to_be_damaged(filled):
    """The form stands in bytes 60 to 63 of an SQLite file, the user version."""
    whole = bytearray(filled.read_bytes())
    assert whole[63] == NEWEST
    whole[63] = 0
    filled.write_bytes(whole)
    with pytest.raises(InputError, match="it is damaged; restore it from a copy"):
        Log.open(filled, write=False)
    assert filled.read_bytes() == whole


def test_a_missing_log_is_made_by_recording_only(place):
    with pytest.raises(InputError, match="there is no log"):
        Log.open(place, write=False)
    assert not place.exists()
    with pytest.raises(InputError, match="is a folder"):
        Log.open(place.parent)
    with pytest.raises(InputError, match="folder of the log"):
        Log.open(place / "deeper" / "log.sqlite")
    with pytest.raises(InputError, match="name of a file"):
        Log.open(7)


@pytest.mark.parametrize("form", range(1, NEWEST))
def test_a_log_of_every_older_form_is_brought_up_to_date(place, form):
    from oxhue.optics.log.schema import APPLICATION_ID

    with sqlite3.connect(place) as raw:
        raw.executescript("".join(STEPS[:form]))
        raw.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        raw.execute(f"PRAGMA user_version = {form}")
        raw.execute("INSERT INTO entry VALUES (1, '2026-01-01T00:00:00+00:00', 'setup')")
        raw.execute("INSERT INTO setup VALUES (1, 1, 'jar', 1, 'chamber', '{}')")
        raw.execute("INSERT INTO entry VALUES (2, '2026-01-02T00:00:00+00:00', 'saw')")
        raw.execute("INSERT INTO entry VALUES (3, '2026-01-03T00:00:00+00:00', 'import')")
        run = "INSERT INTO run (id, entry, setup, at, planned, done, remarks)"
        raw.execute(f"{run} VALUES (1, 1, 1, '2026-01-01', '', '{{\"current\": \"4.8A\"}}', '')")
        raw.execute("INSERT INTO piece VALUES (1, 1, 1, 'dial', '{}')")
        look = "INSERT INTO observation (entry, piece, what, text)"
        raw.execute(f"{look} VALUES (2, 1, 'seen', 'gold'), (3, 1, 'ohms', 'open')")
    raw.close()
    with Log.open(place, write=False) as log:
        assert [one.setup for one in log.runs().setups] == ["jar"]
        seen, imported = log.show(1).pieces[0].observations
    assert seen.at == "2026-01-02T00:00:00+00:00"
    assert imported.at == ""  # when the file was read says nothing of the look
    with Log.open(place) as log:
        assert log.record("jar", current="4.8A").run == 2


def test_a_locked_log_is_said_to_be(filled, monkeypatch):
    monkeypatch.setattr("oxhue.optics.log.database._PATIENCE_S", 0.05)
    holder = sqlite3.connect(filled, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    try:
        with Log.open(filled, write=False) as log:
            assert len(log.runs().runs) == 1
        with Log.open(filled) as log, pytest.raises(InputError, match="another program"):
            log.record("jar", like=1)
    finally:
        holder.close()


def fill(log):
    for _ in range(1000):
        log.record("jar", like=1, remarks="long " * 300)


def test_a_full_disk_leaves_the_log_as_it_was(filled):
    with Log.open(filled) as log:
        (pages,) = log._connection.execute("PRAGMA page_count").fetchone()
        log._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(InputError, match="disk is full"):
            fill(log)
        held = len(log.runs().runs)
    with Log.open(filled) as log:
        assert len(log.runs().runs) == held
        log.record("jar", like=1)


def test_two_writers_at_once_lose_nothing(filled):
    """As the command line and the page do."""

    def write(who):
        with Log.open(filled) as log:
            for count in range(20):
                log.record("jar", like=1, remarks=f"{who} {count}")

    threads = [threading.Thread(target=write, args=(who,)) for who in ("page", "bench")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with Log.open(filled, write=False) as log:
        remarks = [run.remarks for run in log.runs().runs[1:]]
    assert sorted(remarks) == sorted(f"{w} {c}" for w in ("page", "bench") for c in range(20))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
@pytest.mark.parametrize("kills", [20, pytest.param(100, marks=pytest.mark.slow)])
def test_a_writer_killed_at_any_moment_leaves_whole_entries(filled, kills):
    """After each kill every run that is held has its pieces, and the file passes its check."""
    rng = random.Random(kills)
    for _ in range(kills):
        child = os.fork()
        if child == 0:
            try:
                with Log.open(filled) as log:
                    for _ in range(200):
                        log.record("jar", like=1)
                        log.saw(1, piece=f"slide {time.monotonic_ns()}", on="glass", seen="gold")
            finally:
                os._exit(0)
        time.sleep(rng.uniform(0.0, 0.03))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    with Log.open(filled) as log:
        assert log._connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert log._connection.execute("PRAGMA foreign_key_check").fetchall() == []
        for piece in log.show(1).pieces:
            assert piece.observations
        log.record("jar", like=1)


def test_what_was_read_or_came_of_a_run_is_not_repeated(filled):
    with Log.open(filled) as log:
        log.record(
            "jar", like=1, base_pressure="1e-3mbar", gauge_reading="2e-3mbar", melted=True,
            new_wire=True,
        )  # fmt: skip
        again = log.record("jar", like=2)
        assert again.done == log.show(1).done
        log.record("jar", like=1, working_gas="argon", gauge_reading="8e-3mbar")
        assert log.record("jar", like=4).done["gauge_reading"] == "8e-3mbar"


def test_what_is_refused_makes_no_log(tmp_path):
    place = tmp_path / "clocks.sqlite"
    with Log.open(place) as log:
        for ask in (
            lambda: log.setup("jar", kind="sun"),
            lambda: log.record("jar", current="4A"),
            lambda: log.saw(1, seen="gold"),
            log.undo,
            lambda: log.import_(tmp_path / "none.csv"),
        ):
            with pytest.raises(InputError):
                ask()
        assert log.runs().runs == ()
    assert [*tmp_path.iterdir()] == []
    with Log.open(place) as log:
        log.setup("jar")
        with Log.open(place) as other:
            other.record("jar", current="4A")
        assert len(log.runs().runs) == 1


def test_two_that_make_the_same_log_both_record(tmp_path):
    place = tmp_path / "clocks.sqlite"
    with Log.open(place) as one, Log.open(place) as other:
        one.setup("jar")
        other.setup("kiln", kind="kiln")
        assert {setup.setup for setup in one.runs().setups} == {"jar", "kiln"}


def test_a_log_made_by_many_at_once_is_one_log(tmp_path):
    place, refused = tmp_path / "clocks.sqlite", []

    def make(name):
        try:
            with Log.open(place) as log:
                log.setup(name)
        except InputError as error:
            refused.append(error)

    threads = [threading.Thread(target=make, args=(f"jar {count}",)) for count in range(6)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert refused == []
    with Log.open(place, write=False) as log:
        assert len(log.runs().setups) == 6


def test_a_log_brought_to_its_form_by_another_meanwhile_is_open(place, monkeypatch):
    with Log.open(place) as log:
        log.setup("jar")
    forms = iter([0])
    true_form = schema.form_of
    monkeypatch.setattr(schema, "form_of", lambda held: next(forms, true_form(held)))
    connection = sqlite3.connect(place, isolation_level=None)
    schema.upgrade(connection)
    assert true_form(connection) == NEWEST
    connection.close()


@pytest.mark.parametrize("side", ["", "-wal", "-shm"])
def test_no_answer_is_written_over_a_log_that_was_read(side, tmp_path):
    place = tmp_path / "clocks.sqlite"
    with Log.open(place) as log, keep_inputs():
        log.setup("jar")
        with Log.open(place, write=False):
            for name in ("report.html", "out.csv"):
                (tmp_path / name).symlink_to(f"{place}{side}")
                with pytest.raises(InputError, match="the answer rests on it"):
                    check_target(tmp_path / name)


@pytest.mark.parametrize("name", ["a\0b.jpg", "none.jpg", "x" * 300 + ".jpg"])
def test_a_photo_by_a_name_no_file_has_is_refused(name, tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        keep_photo(tmp_path / name, tmp_path / "clocks.sqlite")


class Locked:
    """A log that others have open for so many tries, or that fails in another way."""

    def __init__(self, tries, words="database is locked"):
        self.tries, self.words, self.asked = tries, words, []

    def execute(self, line):
        self.asked.append(line)
        if len(self.asked) <= self.tries:
            raise sqlite3.OperationalError(self.words)


def test_a_log_that_others_have_open_is_waited_for_and_nothing_else_is(monkeypatch):
    clock = iter(range(1_000))
    monkeypatch.setattr(database.time, "monotonic", lambda: next(clock))
    monkeypatch.setattr(database.time, "sleep", lambda _: None)
    monkeypatch.setattr(database, "_PATIENCE_S", 5)
    short = Locked(3)
    database._let_entries_wait(short)
    assert short.asked == ["PRAGMA journal_mode = WAL"] * 4
    for held, tries in ((Locked(100), 6), (Locked(1, "disk I/O error"), 1)):
        with pytest.raises(sqlite3.OperationalError, match=held.words):
            database._let_entries_wait(held)
        assert len(held.asked) == tries


def test_what_is_learnt_is_drawn_from_the_same_seed_by_every_door():
    for door in (learn.learn, kiln_runs.learn_kiln, Log.learn, Log.next):
        assert inspect.signature(door).parameters["seed"].default == 1
