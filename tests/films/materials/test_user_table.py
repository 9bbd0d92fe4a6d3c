"""A person's own table: what is read, and what is refused with which words."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.errors import InputError, LimitError, OutOfRangeError, TableError
from oxhue.optics.films.materials import user_table as usertable
from oxhue.optics.films.materials.nk_table import Material
from oxhue.optics.films.materials.user_table import read_user_table

PLAIN = "wavelength_nm,n,k\n400,2.5,0.01\n550,2.4,0\n700,2.3,0\n"


@pytest.fixture
def write(tmp_path):
    def write(content, name="numeral.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return path

    return write


def test_a_plain_table_is_read(write):
    material = read_user_table(write(PLAIN))
    assert (material.name, material.kind, material.label) == ("numeral", "user", "numeral")
    assert material.range_nm == (400.0, 700.0)
    np.testing.assert_array_equal(material.nk([400, 550]), [2.5 + 0.01j, 2.4])
    assert material.header["k"] == "as given"
    assert material.header["source"] == "the user's file numeral.csv"
    with pytest.raises(OutOfRangeError, match="between 400 and 700 nm for numeral"):
        material.nk(399)


@pytest.mark.parametrize(
    "content",
    [
        "\ufeff" + PLAIN,
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", "  "),
        PLAIN.replace(",", ";").replace(".", ","),
        PLAIN.replace(",", "\t").replace(".", ","),
        "# sample: kiln plate 3\n\n" + PLAIN + "\n# the end\n",
        "wavelength_nm,n,k\n700,2.3,0\n400,2.5,0.01\n550,2.4,0\n",
        "k,wavelength_nm,n\n0.01,400,2.5\n0,550,2.4\n0,700,2.3\n",
        'wavelength_nm,"n","k"\n"400","2.5","0.01"\n550,2.4,0\n7e2,2.3,0\n',
        "um,n,k\n0.4,2.5,0.01\n0.55,2.4,0\n0.7,2.3,0\n",
    ],
)
def test_ways_to_write_the_same_table(write, content):
    material = read_user_table(write(content))
    np.testing.assert_allclose(material.wavelength_nm, [400, 550, 700], rtol=1e-12)
    np.testing.assert_array_equal(material.n, [2.5, 2.4, 2.3])
    np.testing.assert_array_equal(material.k, [0.01, 0, 0])


@pytest.mark.parametrize("name", ["nm", "Wavelength_nm", "lambda (nm)", "λ [nm]", "WL nm", "wl-nm"])
def test_names_of_a_column_in_nanometres(write, name):
    for mark in (",", "\t", ";"):
        content = f"{name}{mark}N{mark}K\n400{mark}2{mark}0\n500{mark}2{mark}0\n"
        assert read_user_table(write(content)).range_nm == (400.0, 500.0)


@pytest.mark.parametrize(
    "name",
    ["um", "µm", "\u03bcm", "wavelength_um", "wavelength_µm", "lambda (um)", "Wavelength [µm]"],
)
def test_names_of_a_column_in_micrometres(write, name):
    content = f"{name};n\n0,4;2\n0,5;2\n"
    np.testing.assert_allclose(read_user_table(write(content)).range_nm, (400.0, 500.0))


def test_a_spaced_unit_in_a_table_split_by_spaces(write):
    assert read_user_table(write("lambda (nm)  n  k\n400 2 0\n500 2 0\n")).range_nm == (400, 500)


def test_missing_k_is_zero_and_said(write):
    material = read_user_table(write("nm,n\n400,1.5\n700,1.5\n"))
    assert not material.k.any()
    assert material.header["k"] == "not given, taken as 0"


def test_remarks_are_kept(write):
    material = read_user_table(
        write("# source: our ellipsometer: plate 3\n# sample : dial\n" + PLAIN)
    )
    assert material.header["source"] == "our ellipsometer: plate 3"
    assert material.header["sample"] == "dial"


def test_duplicates_are_averaged_only_when_the_file_says_so(write):
    doubled = PLAIN + "550,2.6,0.2\n"
    with pytest.raises(TableError, match="gives 550 nm twice; keep one row, or say"):
        read_user_table(write(doubled))
    material = read_user_table(write("# duplicates: average\n" + doubled))
    np.testing.assert_allclose(material.n, [2.5, 2.5, 2.3])
    np.testing.assert_allclose(material.k, [0.01, 0.1, 0])


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", r"numeral\.csv holds no table; name the columns"),
        ("# only remarks\n", "holds no table"),
        ("400,2.5,0.01\n550,2.4,0\n", "has no row of column names; name the columns"),
        ("wavelength,n,k\n400,2,0\n500,2,0\n", "column 'wavelength' has no unit"),
        ("nm,n,dn\n400,2,0\n500,2,0\n", "unknown column 'dn'"),
        ("nm,n,\n400,2,\n500,2,\n", "unknown column ''"),
        ("nm,k\n400,2\n500,2\n", "has the columns 'nm, k'"),
        ("nm,n,n\n400,2,2\n500,2,2\n", "each once"),
        ("nm,um,n\n400,0.4,2\n500,0.5,2\n", "each once"),
        ("nm,n,k\n400,2,0\n500,abc,0\n", r"numeral\.csv line 3, column n: 'abc' is not a number"),
        ("nm,n,k\n400,2,0\n500,,0\n", "line 3, column n: '' is not a number"),
        ("nm,n,k\n400,2,0\n500,1_0,0\n", "'1_0' is not a number"),
        ("nm,n,k\n400,2,0\n500,nan,0\n", "line 3, column n: nan is not a finite number"),
        ("nm,n,k\n400,2,0\n500,2,inf\n", "line 3, column k: inf is not a finite number"),
        ("nm,n,k\n400,2,0\n\n# x\n500,2,-0.1\n", r"line 5: k is -0\.1; it must not be negative"),
        ("nm,n,k\n400,2,0\n500,0,0\n", "line 3: n is 0; it must be above 0"),
        ("nm,n,k\n400,2,0\n-500,2,0\n", "line 3: wavelength is -500; it must be above 0"),
        ("nm,n,k\n400,2,0\n500,2\n", "line 3 has 2 cells, but there are 3 column names"),
        ("nm,n,k\n400,2,0\n500,2,0,1\n", "line 3 has 4 cells"),
        ("nm,n,k\n400,2,0\n", "has 1 rows of numbers; a table needs at least two"),
        ("nm,n,k\n", "has 0 rows of numbers"),
        ("nm,n,k\n0.4,2,0\n0.7,2,0\n", "0.4 to 0.7 look like micrometres, but the column says nm"),
        ("um,n,k\n400,2,0\n700,2,0\n", "400 to 700 look like nanometres, but the column says"),
        ("nm;n;k\n400;2,1;0.1\n500;2,1;0,1\n", "line 2 mixes decimal commas and decimal points"),
        ('nm,n,k\n400,2,0\n"500,2,0\n', "line 3 has 1 cells"),
        (b"nm,n,k\n400,2,0\n500,2,0\n\x00\x00", "is a binary file"),
        (b"\xff\xfe\x00nm", "is not UTF-8 text"),
        (b"\x89PNG\r\n\x1a\n", "is not UTF-8 text"),
    ],
)
def test_broken_tables_are_refused(write, content, message):
    with pytest.raises(TableError, match=message):
        read_user_table(write(content))


def test_missing_files_and_folders_are_refused(tmp_path):
    with pytest.raises(TableError, match=r"there is no file .*absent\.csv"):
        read_user_table(tmp_path / "absent.csv")
    with pytest.raises(TableError, match="is a folder"):
        read_user_table(str(tmp_path))


def test_limits_of_size_and_rows(write, monkeypatch):
    path = write(PLAIN)
    monkeypatch.setattr(usertable, "MAX_ROWS", 2)
    with pytest.raises(LimitError, match="has 3 rows; the limit is 2"):
        read_user_table(path)
    monkeypatch.setattr(usertable, "MAX_BYTES", 10)
    with pytest.raises(LimitError, match="is larger than"):
        read_user_table(path)


@settings(deadline=None, max_examples=200)
@given(st.binary(max_size=200) | st.text("nmkuµ,;\t 0123456789.-e#\n", max_size=80))
def test_any_bytes_give_a_table_or_one_sentence(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("any") / "any.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    try:
        rising = np.diff(read_user_table(path).wavelength_nm)
    except InputError as error:
        message = str(error)
        rising = np.ones(1)
    else:
        message = "read"
    assert (rising > 0).all()
    assert message
    assert "\n" not in message


@settings(deadline=None, max_examples=50)
@given(
    st.lists(
        st.tuples(st.floats(100, 5000), st.floats(0.05, 8), st.floats(0, 12)),
        min_size=2,
        max_size=20,
        unique_by=lambda row: row[0],
    )
)
def test_what_is_written_is_read_back(tmp_path_factory, rows):
    path = tmp_path_factory.mktemp("own") / "own.csv"
    path.write_text("nm,n,k\n" + "".join(f"{w!r},{n!r},{k!r}\n" for w, n, k in rows))
    material = read_user_table(path)
    back = np.column_stack([material.wavelength_nm, material.n, material.k])
    np.testing.assert_array_equal(back, sorted(rows))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("wavelength_nm,n\n" + "5,1\n" * 230_000, "230,001 lines; the limit is 220,000"),
        ("\n" * 300_000, "300,000 lines"),
        ("wavelength_nm,n" + "," * 200_000 + "\n400,1\n", "a line of more than 100,000"),
    ],
)
def test_files_made_to_take_memory_are_refused(write, content, said):
    with pytest.raises(LimitError, match=said):
        read_user_table(write(content))


@pytest.mark.parametrize("name", ["n" * 300, "a/" * 3000, "nul\0.csv"])
def test_names_that_no_file_can_have(name):
    with pytest.raises(TableError, match=r"there is no file|cannot be read: file name too long"):
        read_user_table(name)


def test_a_device_is_not_read():
    with pytest.raises(TableError, match="/dev/zero is a device"):
        read_user_table("/dev/zero")


@pytest.mark.parametrize("column", ["wavelength_nm", "n", "k"])
def test_a_whole_number_beyond_any_float_from_a_program_is_refused(column):
    given = {"wavelength_nm": [400.0, 800.0], "n": [1.5, 1.5], "k": [0.0, 0.0]}
    given[column] = [given[column][0], 10**400]
    with pytest.raises(InputError):
        Material.from_arrays(**given, name="mine")
