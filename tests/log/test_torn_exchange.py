"""Logs from elsewhere: rows torn, of a wrong shape or out of order are refused by their line."""

from __future__ import annotations

import csv
import io
import json

import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.log.exchange import LogRows, insert_rows, read_rows, write_rows
from oxhue.optics.log.log import Log
from oxhue.optics.log.records import LoggedPiece, LoggedRun, LoggedSetup, Noted

SETUP = {"setup": "jar", "setup_version": 1, "setup_kind": "chamber", "facts": {}}
RUN = {
    "run": 1, "setup": "jar", "setup_version": 1, "setup_kind": "chamber",
    "at": "2026-03-02T10:00:00+01:00", "planned": "", "done": {"current": "4.8A"}, "remarks": "",
    "pieces": [{"name": "dial", "facts": {"on": "glass"},
                "observations": [{"what": "seen", "text": "gold"}]}], "plan": {},
}  # fmt: skip
PIECE = RUN["pieces"][0]
JAR = LoggedSetup("jar", 1, "chamber", {})
HEAD = "row,run,setup,version,kind,at,piece,what,text"
ROWS = (
    "setup,,jar,1,chamber,,,facts,{}", "run,1,jar,1,chamber,2026-03-02,,planned,",
    "run,1,jar,1,chamber,2026-03-02,,remarks,", "done,1,jar,1,chamber,2026-03-02,,current,4.8A",
    "piece,1,jar,1,chamber,2026-03-02,dial,,", "place,1,jar,1,chamber,2026-03-02,dial,on,glass",
    "look,1,jar,1,chamber,2026-03-02,dial,seen,gold",
)  # fmt: skip


def read(tmp_path, text, ending="jsonl"):
    path = tmp_path / f"all.{ending}"
    path.write_text(text, encoding="utf-8")
    return read_rows(path)


def lines(*rows):
    return "".join(json.dumps(row) + "\n" for row in rows)


def test_a_whole_log_is_read_line_by_line(tmp_path):
    rows = read(tmp_path, lines(SETUP) + "\n \n" + lines(RUN))
    assert [one.to_dict() for one in rows.setups] == [JAR.to_dict()]
    [run] = rows.runs
    assert run.done == {"current": "4.8A"}
    assert run.pieces == (LoggedPiece("dial", {"on": "glass"}, (Noted("seen", "gold"),)),)
    older = {key: value for key, value in RUN.items() if key != "plan"}
    assert read(tmp_path, lines(SETUP, older)).runs[0].plan == {}
    with pytest.raises(InputError, match="holds nothing that 'log export' wrote"):
        read(tmp_path, "")


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"run": 0}, "0 is not a whole number from 1 on"),
        ({"run": True}, "True is not a whole number"), ({"run": 1.0}, "1.0 is not a whole"),
        ({"run": 2**62}, "is not a whole number from 1 on"), ({"run": "1"}, "'1' is not a whole"),
        ({"setup_version": -1}, "-1 is not a whole number"),
        ({"setup": " "}, "' ' is not a text"), ({"setup": 5}, "5 is not a text"),
        ({"setup": "x" * 2_001}, "is not a text of at most 2,000 letters"),
        ({"remarks": 5}, "5 is not a text"), ({"planned": None}, "None is not a text"),
        ({"setup_kind": "oven"}, "the kind 'oven' is not one of chamber, kiln, flame"),
        ({"setup_kind": []}, "the kind"), ({"at": "yesterday"}, "isoformat"),
        ({"at": 5}, "5 is not a text"), ({"done": []}, "line 2: "), ({"done": 5}, "line 2: "),
        ({"done": {"at": "450C"}}, "`at` cannot be recorded here"),
        ({"plan": {"current": "4.8"}}, "has no unit"), ({"plan": None}, "line 2: "),
        ({"pieces": 5}, "line 2: "), ({"pieces": [5]}, "line 2: "), ({"pieces": None}, "line 2: "),
        ({"pieces": [PIECE, PIECE]}, "two pieces of one run have the same name"),
        ({"pieces": [{**PIECE, "name": ""}]}, "'' is not a text"),
        ({"pieces": [{**PIECE, "facts": {"on": "gold leaf"}}]}, "line 2: "),
        ({"pieces": [{**PIECE, "observations": [{"what": "seen"}]}]}, "'text' is missing"),
        ({"pieces": [{**PIECE, "observations": [{"what": "hue", "text": "x"}]}]},
         "`hue` cannot be recorded here"),
        ({"pieces": [{**PIECE, "observations": [{"what": [], "text": "x"}]}]}, "line 2: "),
        ({"pieces": [{"name": "dial", "facts": {}}]}, "'observations' is missing"),
    ],
)  # fmt: skip
def test_a_run_of_a_wrong_shape_names_its_line(tmp_path, changed, words):
    with pytest.raises(InputError, match=words) as refused:
        read(tmp_path, lines(SETUP, {**RUN, **changed}))
    assert str(refused.value).startswith("all.jsonl, line 2: ")
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 500


@pytest.mark.parametrize(
    ("changed", "words"),
    [({"facts": []}, "the facts of a setup are a JSON object"), ({"setup": ""}, "is not a text"),
     ({"facts": None}, "are a JSON object"), ({"setup_version": "1"}, "is not a whole number"),
     ({"setup_kind": {}}, "the kind"), ({"setup_kind": None}, "the kind None is not one of")],
)  # fmt: skip
def test_a_setup_of_a_wrong_shape_names_its_line(tmp_path, changed, words):
    with pytest.raises(InputError, match=f"all.jsonl, line 1: .*{words}"):
        read(tmp_path, lines({**SETUP, **changed}))


@pytest.mark.parametrize("missing", [*SETUP, *(set(RUN) - {"plan"})])
def test_what_is_missing_is_named(tmp_path, missing):
    row = SETUP if missing in SETUP and missing not in RUN else RUN
    torn = {key: value for key, value in row.items() if key != missing}
    if missing == "facts":
        missing = "at"  # a row without facts is taken for a run
    with pytest.raises(InputError, match="is missing"):
        read(tmp_path, lines(torn))


@pytest.mark.parametrize("text", ["5", '"setup"', "null", "[" * 100_000, "{" + '"a":{' * 50_000])
def test_a_line_that_is_no_object_is_refused(tmp_path, text):
    with pytest.raises(InputError, match=r"all\.jsonl, line 1 is (no JSON object|not JSON)"):
        read(tmp_path, text[:99_000])


@pytest.mark.parametrize("at", ["", "2026-03-03T08:00:00+01:00"])
def test_a_look_comes_back_with_its_time(tmp_path, at):
    run = LoggedRun(1, "jar", 1, "chamber", RUN["at"], "", {}, "",
                    (LoggedPiece("dial", {}, (Noted("seen", "gold", at),)),))  # fmt: skip
    for ending in ("csv", "jsonl"):
        path = tmp_path / f"all.{ending}"
        write_rows(path, LogRows((JAR,), (run,)))
        assert read_rows(path).runs[0].pieces[0].observations[0].at == at
        if at:
            with pytest.raises(InputError, match="isoformat"):
                read(tmp_path, path.read_text().replace(at, "yesterday"), ending)


def test_a_table_is_read_as_what_it_was_written_from(tmp_path):
    for mark in ",;\t":
        text = "\n".join([HEAD, *ROWS]).replace(",", mark)
        rows = read(tmp_path, text, "csv")
        assert [one.to_dict() for one in rows.setups] == [JAR.to_dict()]
        assert rows.runs[0].pieces[0].observations == (Noted("seen", "gold"),)
        assert rows.runs[0].at == "2026-03-02"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (0, "must begin with row,run,setup"), ("shelf,1,jar,1,chamber,,dial,seen,gold",
                                               "'shelf' is none of setup, run"),
        ("look,1,jar,1,chamber,,bezel,seen,gold", "'bezel' is no piece of run '1' above it"),
        ("done,2,jar,one,chamber,,,current,4A", "is not a row of a log"),
        ("run,1,jar,1,chamber,,,colour,gold", "'colour'"), ("look,1", "has not 9 cells"),
        ("setup,,jar,1,chamber,,,facts,{", "line 9 is not a row of a log"),
        ('look,1,"jar,1,chamber,,dial,seen,gold', "line 9: unexpected end of data"),
        ("done,x,jar,1,chamber,2026-03-02,,current,4A", "is not a row of a log"),
        ("setup,,jar,1,chamber,,,facts," + "[" * 50_000, "line 9 is not a row of a log"),
        ("look,1,jar,1,chamber,," + "x" * 150 + ",seen,gold", "is no piece of run"),
        ("look," + "1" * 5_000 + ",jar,1,chamber,,dial,seen,gold", "is not a row of a log"),
    ],
)  # fmt: skip
def test_a_torn_table_names_its_line(tmp_path, row, words):
    text = "\n".join(ROWS if row == 0 else [HEAD, *ROWS, row])
    with pytest.raises(InputError, match=words) as refused:
        read(tmp_path, text, "csv")
    assert len(str(refused.value)) < 500
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("piece", ["=1+1", "'quoted'", "-", "@home", "+", "a,b;c\td", 'a "b"'])
@pytest.mark.parametrize("ending", ["csv", "jsonl"])
def test_whatever_begins_like_a_formula_comes_back_as_it_was(tmp_path, piece, ending):
    setup = LoggedSetup("jar", 1, "chamber", {"note": piece})
    noted = (Noted("remark", piece), Noted("remark", piece))
    run = LoggedRun(3, "jar", 1, "chamber", "2026-03-02", piece, {"metal": "Ti"}, piece,
                    (LoggedPiece(piece, {"place": piece}, noted), LoggedPiece("b", {}, ())),
                    {"metal": "Al"})  # fmt: skip
    path = tmp_path / f"all.{ending}"
    write_rows(path, LogRows((setup,), (run,)))
    found = read_rows(path)
    assert [one.to_dict() for one in found.setups] == [setup.to_dict()]
    assert found.runs[0].to_dict() == run.to_dict()
    if ending == "csv":
        cells = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))
        assert not [cell for row in cells for cell in row if cell[:1] in tuple("=+-@")]


def test_rows_that_do_not_belong_together_add_nothing(tmp_path):
    run = read(tmp_path, lines(SETUP, RUN)).runs[0]
    with Log.open(tmp_path / "log.sqlite") as log:
        log.setup("jar", kind="kiln")
        with pytest.raises(InputError, match="run 1 is of 'jar', which the file does not describe"):
            insert_rows(log._connection, 1, LogRows((), (run,)))
        (tmp_path / "all.jsonl").write_text(lines(SETUP, RUN))
        with pytest.raises(InputError, match="'jar' is a kiln in this log, a chamber there"):
            log.import_(tmp_path / "all.jsonl")
        assert log.runs().runs == ()
        assert [one.setup_kind for one in log.runs().setups] == ["kiln"]


def test_a_setup_that_differs_is_a_new_version_and_one_that_is_held_is_not(tmp_path):
    changed = {**SETUP, "setup_version": 2, "facts": {"note": "new seal"}}
    text = lines(SETUP, changed, {**RUN, "setup_version": 2}, RUN)
    (tmp_path / "all.jsonl").write_text(text)
    with Log.open(tmp_path / "log.sqlite") as log:
        assert log.import_(tmp_path / "all.jsonl").run == 1
        assert [run.setup_version for run in log.runs().runs] == [2, 1]
        assert log.import_(tmp_path / "all.jsonl").run == 3
        assert [run.setup_version for run in log.runs().runs] == [2, 1, 2, 1]
    with Log.open(tmp_path / "third.sqlite") as log:
        log.setup("jar", note="another")
        (tmp_path / "all.jsonl").write_text(lines(SETUP))
        assert log.import_(tmp_path / "all.jsonl").run is None
        assert [one.setup_version for one in log.runs().setups] == [2]


@pytest.mark.parametrize("name", ["all.txt", "all", "all.CSV.bak", "x" * 90])
def test_only_two_endings_are_known(tmp_path, name):
    for use in (lambda path: write_rows(path, LogRows((), ())), read_rows):
        (tmp_path / name).write_text("{}")
        with pytest.raises(InputError, match=r"ends in neither \.jsonl") as refused:
            use(tmp_path / name)
        assert refused.value.parameter == "file"
    assert (tmp_path / name).read_text() == "{}"


@pytest.mark.parametrize("ending", ["jsonl", "csv"])
@pytest.mark.parametrize(
    "words",
    ["a\u2028b", "a\x85b", "a\rb", "a\r\nb", "\x0b\x1c", "\t=1", "'=1", ' "q";\t', "\u202e"],
)
def test_words_of_any_letters_come_back(words, ending, tmp_path):
    """Ends of lines that some programs know ended a row; then no export could be read back."""
    with Log.open(tmp_path / "old.sqlite") as log:
        log.setup("=jar", note=words)
        log.record("=jar", current="5A", remarks=words, planned=words)
        log.saw(1, piece="@dial", seen="gold", remark=f".{words}.")
        log.export(tmp_path / f"all.{ending}")
        held = [one.to_dict() for one in log.runs().runs]
    with Log.open(tmp_path / "new.sqlite") as log:
        log.import_(tmp_path / f"all.{ending}")
        assert [one.to_dict() for one in log.runs().runs] == held
        assert log.runs().setups[0].facts == {"note": words}


def test_no_name_in_a_table_is_a_formula(tmp_path):
    with Log.open(tmp_path / "old.sqlite") as log:
        log.setup("=1+1", note="x")
        log.record("=1+1", current="5A")
        log.saw(1, piece="+dial", seen="gold")
        log.export(tmp_path / "all.csv")
    for cells in csv.reader(io.StringIO((tmp_path / "all.csv").read_text(encoding="utf-8"))):
        assert not [one for one in cells if one.startswith(("=", "+", "-", "@", "\t", "\r"))]


@pytest.mark.parametrize("words", ["a\0b", "a\ud83d"])
def test_what_no_file_of_words_can_hold_is_refused(words, tmp_path):
    """A byte of another encoding reaches a program as half of a letter."""
    with Log.open(tmp_path / "old.sqlite") as log:
        log.setup("jar")
        said = {"current": "5A"}
        for refused in (
            lambda: log.setup("jar", note=words),
            lambda: log.record("jar", remarks=words, **said),
            lambda: log.record("jar", planned=words, **said),
            lambda: log.record("jar", mask=words, **said),
        ):
            with pytest.raises(InputError, match="holds a NUL or half of a letter"):
                refused()
    with pytest.raises(InputError, match=r"line 2: `text` .* holds a NUL or half of a letter"):
        read(tmp_path, lines(SETUP, RUN | {"remarks": words}))
    with pytest.raises(InputError, match=r"line 2: `text` .* holds"):
        read(tmp_path, lines(SETUP, RUN | {"pieces": [PIECE | {"name": words}]}))


def test_an_import_or_export_whose_photos_cannot_be_kept_leaves_nothing(tmp_path):
    photo = tmp_path / "dial.jpg"
    photo.write_bytes(b"a photo")
    with Log.open(tmp_path / "old.sqlite") as log:
        log.setup("jar")
        log.record("jar", current="5A")
        log.saw(1, piece="dial", photo=photo)
        log.export(tmp_path / "all.jsonl")
        (tmp_path / "other-photos").write_text("in the place of their folder")
        with pytest.raises(InputError, match="cannot make the folder"):
            log.export(tmp_path / "other.jsonl")
        assert not (tmp_path / "other.jsonl").exists()
    with Log.open(tmp_path / "other.sqlite") as log:
        with pytest.raises(InputError, match="cannot make the folder"):
            log.import_(tmp_path / "all.jsonl")
        assert log.runs().setups == ()
    assert not (tmp_path / "other.sqlite").exists()


def test_a_name_that_leads_out_of_the_photos_copies_nothing(tmp_path):
    (tmp_path / "own.jpg").write_bytes(b"not the log's")
    with Log.open(tmp_path / "old.sqlite") as log:
        log.setup("jar")
        log.record("jar", current="5A")
        log.saw(1, piece="dial", seen="gold")
        log._connection.execute("UPDATE observation SET what = 'photo', text = '../own.jpg'")
        with pytest.raises(InputError, match="not the name of a photo"):
            log.export(tmp_path / "all.jsonl")
    assert not (tmp_path / "all-photos").exists()
    assert not (tmp_path / "all.jsonl").exists()
