"""What every reader of a table takes: pipes, standard input, other encodings and separators."""

import io
import os
import threading

import numpy as np
import pytest

from oxhue.optics.errors import InputError, LimitError, TableError
from oxhue.optics.files.atomic import keep_inputs, read_within
from oxhue.optics.files.columns import (
    STANDARD_INPUT,
    Line,
    check_unit,
    decode_text,
    find_mark,
    finite_number,
    is_number,
    join_name,
    read_text,
    replace_decimal_commas,
    sort_rising,
    split_cells,
    split_remarks,
)

TEXT = "id,hex\nXII °,#50a1c8\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_a_table_is_read_in_the_encodings_spreadsheets_save(encoding, tmp_path):
    marks = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}
    path = tmp_path / "rows.csv"
    path.write_bytes(marks.get(encoding, b"") + TEXT.encode(encoding))
    assert read_text(path) == TEXT


def test_a_spreadsheets_word_on_how_cells_are_split_is_no_line_of_its_own():
    text = decode_text(b"sep=;\r\nL;a;b\r\n50;10;20\r\n", "a.csv")
    assert text.split() == ["L;a;b", "50;10;20"]
    assert text.splitlines().index("L;a;b") == 1  # lines count as editors do
    assert decode_text(b"L;a;b\nsep=;\n", "a.csv") == "L;a;b\nsep=;\n"


@pytest.mark.parametrize(
    "raw", [b"\xff\xfea", b"\xff\xfe\x00\xd8", TEXT.encode("cp1252"), "a\0b".encode("utf-16")]
)
def test_what_is_no_text_is_refused(raw, tmp_path):
    (tmp_path / "rows.csv").write_bytes(raw)
    with pytest.raises(TableError, match=r"rows\.csv is (not UTF-8 text|a binary file)"):
        read_text(tmp_path / "rows.csv")


class Piped:
    """Standard input that is a pipe with a text in it."""

    def __init__(self, text, terminal=False):
        self.buffer, self.isatty = io.BytesIO(text.encode()), lambda: terminal


def test_standard_input_is_read_once_and_may_be_asked_for_again(monkeypatch):
    monkeypatch.setattr("sys.stdin", Piped(TEXT))
    with keep_inputs():
        assert read_text(STANDARD_INPUT) == TEXT
        assert read_text(STANDARD_INPUT) == TEXT
    assert read_text(STANDARD_INPUT) == ""


def test_no_table_is_awaited_from_a_keyboard_or_a_closed_stream(monkeypatch):
    for stream in (Piped(TEXT, terminal=True), None):
        monkeypatch.setattr("sys.stdin", stream)
        with pytest.raises(TableError, match="send a table into it by a pipe"):
            read_text(STANDARD_INPUT)


def test_too_much_of_a_pipe_is_refused(monkeypatch):
    monkeypatch.setattr("sys.stdin", Piped("x" * 101))
    with pytest.raises(LimitError, match="standard input is larger than 100 bytes, the limit"):
        read_text(STANDARD_INPUT, 100)


def test_names_that_came_from_elsewhere_reach_no_stream(monkeypatch, tmp_path):
    monkeypatch.setattr("sys.stdin", Piped(TEXT))
    monkeypatch.chdir(tmp_path)
    with read_within(tmp_path), pytest.raises(InputError, match="cannot be named here"):
        read_text(STANDARD_INPUT)


@pytest.mark.skipif(os.name != "posix", reason="pipes with a name")
def test_a_pipe_with_a_name_is_read_like_a_file(tmp_path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    writer = threading.Thread(target=path.write_text, args=(TEXT,), kwargs={"encoding": "utf-8"})
    writer.start()
    with keep_inputs():
        assert read_text(path) == TEXT
        writer.join()
        assert read_text(path) == TEXT


@pytest.mark.parametrize(
    ("head", "mark"),
    [("a;b", ";"), ("a\tb", "\t"), ("a,b", ","), ("a", ","), ("", ","), ("a, b;c;d", ";")],
)
def test_the_mark_of_a_table_is_found_in_its_head(head, mark):
    assert find_mark(head) == mark


def test_limits_of_a_file_hold_to_the_letter(tmp_path):
    path = tmp_path / "rows.csv"
    path.write_text("x" * 100)
    assert read_text(path, 100) == "x" * 100
    with pytest.raises(LimitError, match=r"rows\.csv is larger than 99 bytes, the limit"):
        read_text(path, 99)
    with pytest.raises(LimitError, match="larger than 2 MB, the limit"):
        read_text_of_size(tmp_path, 2_000_001, 2_000_000)
    assert decode_text(b"x" * 100_000, "it").startswith("x")
    with pytest.raises(LimitError, match="it has a line of more than 100,000 characters"):
        decode_text(b"x" * 100_001, "it")
    assert decode_text(b"\n" * 220_000, "it") == "\n" * 220_000
    with pytest.raises(LimitError, match="it has 220,001 lines; the limit is 220,000"):
        decode_text(b"\n" * 220_001, "it")


def read_text_of_size(folder, size, most):
    path = folder / "large.csv"
    with path.open("wb") as stream:
        stream.truncate(size)
    return read_text(path, most)


def test_what_is_no_file_is_said_in_a_sentence(tmp_path):
    for name, words in (
        (tmp_path, "is a folder; a table is a text file"),
        (tmp_path / "rows.csv", "there is no file "),
        (tmp_path / "rows.csv" / "rows.csv", "there is no file "),
        (tmp_path / "two\0halves", r"there is no file '.*two\\x00halves'"),
        (tmp_path / ("x" * 300), "cannot be read: file name too long"),
    ):
        with pytest.raises(TableError, match=words) as refused:
            read_text(name)
        assert len(str(refused.value)) < 300


def test_remarks_are_kept_apart_and_lines_numbered_as_editors_do():
    text = "# source: a meter: old\n#\n# no remark\n\n a,b \n1,2\n# unit : nm \n"
    remarks, kept = split_remarks(text)
    assert remarks == {"source": "a meter: old", "unit": "nm"}
    assert kept == [(5, "a,b"), (6, "1,2")]


def test_a_name_with_its_unit_is_one_name():
    assert join_name("lambda (nm)  R [%]") == "lambda(nm)  R[%]"


@pytest.mark.parametrize(
    ("line", "mark", "cells"),
    [
        ("a  b\tc", None, ["a", "b", "c"]),
        ('"x, y",2 ', ",", ["x, y", "2"]),
        ("1,5; 2 ;x,y", ";", ["1.5", "2", "x,y"]),
        ("1,5\t-2,5e-3", "\t", ["1.5", "-2.5e-3"]),
        ("1,5", ",", ["1", "5"]),
    ],
)
def test_a_line_is_cut_at_its_mark(line, mark, cells):
    assert list(split_cells([(7, line)], mark, "it")) == [Line(7, cells)]


def test_decimal_commas_and_points_do_not_mix():
    with pytest.raises(TableError, match="it line 3 mixes decimal commas and decimal points"):
        replace_decimal_commas(["1,5", "2.5"], 3, "it")
    assert replace_decimal_commas(["1,5", "2", "a.b"], 3, "it") == ["1.5", "2", "a.b"]
    assert replace_decimal_commas(["1.5", ".5"], 3, "it") == ["1.5", ".5"]
    with pytest.raises(TableError, match="it line 4: "):
        list(split_cells([(4, "x" * 200_000)], ",", "it"))


def test_what_is_a_number():
    assert [is_number(one) for one in ("1e3", "nan", "-inf", "1_000", "", "x")] == [
        True, True, True, False, False, False,
    ]  # fmt: skip
    assert finite_number("2.5", "row 1", "R") == 2.5
    for cell, words in (("x", "row 1, column R: 'x' is not a number"), ("1_0", "not a number"),
                        ("nan", "row 1, column R: nan is not a finite number")):  # fmt: skip
        with pytest.raises(TableError, match=words):
            finite_number(cell, "row 1", "R")


def test_a_unit_that_makes_wavelengths_absurd_is_refused():
    check_unit(np.array([]), 1.0, "it")
    check_unit(np.array([0.4, 50.0]), 1.0, "it")
    check_unit(np.array([100.0, 200.0]), 1000.0, "it")
    with pytest.raises(TableError, match=r"of 0.4 to 49.9 look like micrometres, .*wavelength_um"):
        check_unit(np.array([49.9, 0.4]), 1.0, "it")
    with pytest.raises(TableError, match=r"of 100.1 to 700 look like nanometres, .*wavelength_nm"):
        check_unit(np.array([700.0, 100.1]), 1000.0, "it")


def test_rows_are_sorted_and_what_is_given_twice_is_averaged_where_it_is_said():
    rows = np.array([[500.0, 3.0, 1.0], [400.0, 1.0, 2.0], [500.0, 5.0, 4.0]])
    np.testing.assert_array_equal(sort_rising(rows[:2], {}, "it"), rows[[1, 0]])
    with pytest.raises(TableError, match="it gives 500 nm twice"):
        sort_rising(rows, {"duplicates": "keep"}, "it")
    found = sort_rising(rows, {"duplicates": "Average"}, "it")
    np.testing.assert_array_equal(found, [[400.0, 1.0, 2.0], [500.0, 4.0, 2.5]])


def test_a_number_of_thousands_of_digits_is_quoted_by_its_beginning():
    with pytest.raises(TableError, match="is not a finite number") as refused:
        finite_number("9" * 4_000, "plate.csv line 4", "value")
    assert len(str(refused.value)) < 200
