"""A spectrometer's file: what is read, what is recognised and said, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.errors import InputError, LimitError, TableError
from oxhue.optics.files import spectrum as spectrumfile
from oxhue.optics.files.spectrum import Spectrum, read_spectrum

PLAIN = "wavelength_nm,R\n400,0.5\n550,0.25\n700,0.125\n"


@pytest.fixture
def write(tmp_path):
    def write(content, name="numeral.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return path

    return write


@pytest.mark.parametrize(
    "content",
    [
        PLAIN,
        "\ufeff" + PLAIN,
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "   "),
        PLAIN.replace(",", ";").replace(".", ","),
        PLAIN.replace(",", "\t").replace(".", ","),
        PLAIN.replace(",", "  ").replace(".", ","),
        PLAIN.replace("\n", ",\n"),
        "wavelength (nm),%R\n400,50\n550,25\n700,12.5\n",
        "nm;Reflectance [%]\n700;12,5\n550;25\n400;50\n",
        "λ [µm]\treflectance (fraction)\n0.4\t0.5\n0.55\t0.25\n0.7\t0.125\n",
        "Wavelength;Reflectance\nnm;%\n400;50\n550;25\n700;12,5\n",
        "Wavelength;Reflectance\n[um];[fraction]\n0,4;0,5\n0,55;0,25\n0,7;0,125\n",
        "Kiln plate 3\nLamp energy: low, frequency 50 Hz\nGate time: 100 ms\n# a remark\nwl_nm,R\n"
        "400,0.5\n550,0.25\n700,0.125\nEnd of data\n",
        "Sample;dial;12\nDate;2024;05\nnm;T;R\n400;0,4;0,5\n550;0,6;0,25\n700;0,8;0,125\n",
    ],
)
def test_ways_to_write_the_same_spectrum(write, content):
    spectrum = read_spectrum(write(content), kind="reflectance")
    np.testing.assert_allclose(spectrum.wavelength_nm, [400, 550, 700], rtol=1e-12)
    np.testing.assert_allclose(spectrum.value, [0.5, 0.25, 0.125], rtol=1e-12)
    assert spectrum.kind == "reflectance"


def test_columns_without_names_are_recognised_and_said(write):
    path = write("0.40 50\n0.55 25\n0.70 12.5\n")
    spectrum = read_spectrum(path, kind="transmittance")
    np.testing.assert_allclose(spectrum.wavelength_nm, [400, 550, 700])
    np.testing.assert_allclose(spectrum.value, [0.5, 0.25, 0.125])
    assert [note.split("are read as ")[1] for note in spectrum.notes] == ["micrometres", "percent"]


def test_what_a_row_of_units_says_needs_no_note(write):
    path = write("Wavelength;Reflectance\n[um];[%]\n0,4;0,9\n0,5;0,8\n")
    spectrum = read_spectrum(path)
    assert spectrum.notes == ()
    np.testing.assert_allclose(spectrum.wavelength_nm, [400.0, 500.0])
    np.testing.assert_allclose(spectrum.value, [0.009, 0.008])


def test_what_the_names_say_needs_no_note(write):
    path = write("wavelength_nm,reflectance (%)\n400,0.9\n500,0.8\n")
    spectrum = read_spectrum(path)
    assert spectrum.notes == ()
    np.testing.assert_allclose(spectrum.value, [0.009, 0.008])


def test_the_named_column_is_taken_from_several(write):
    path = write("nm,R,T\n400,0.5,0.4\n500,0.6,0.3\n")
    with pytest.raises(TableError, match="reflectance and transmittance; state the kind"):
        read_spectrum(path)
    through = read_spectrum(path, kind="transmittance")
    np.testing.assert_array_equal(through.value, [0.4, 0.3])
    assert any("'T' is taken" in note for note in through.notes)
    nameless = read_spectrum(write("400,0.5,7\n500.5,0.6,8\n"), kind="reflectance")
    assert "the first two are taken" in nameless.notes[0]


def test_counts_are_divided_by_a_reference(write):
    white = write("nm,counts\n390,2000\n710,2000\n", "white.csv")
    spectrum = read_spectrum(
        write("nm,counts\n400,1000\n700,500\n"), "reflectance", reference=white
    )
    np.testing.assert_allclose(spectrum.value, [0.5, 0.25])
    assert any("interpolated" in note for note in spectrum.notes)
    assert any("dark counts are taken as zero" in note for note in spectrum.notes)
    with pytest.raises(TableError, match=r"white\.csv spans 390 to 710 nm, but .* 300 to 700"):
        read_spectrum(write("nm,counts\n300,1000\n700,500\n"), "reflectance", reference=white)
    with pytest.raises(TableError, match=r"runs from 400 to 720 nm"):
        read_spectrum(
            write("nm,counts\n400,1000\n600,800\n720,500\n"), "reflectance", reference=white
        )
    sloping = write("nm,counts\n390,1000\n710,2000\n", "sloping.csv")
    half_way = read_spectrum(
        write("nm,counts\n400,500\n550,750\n"), "reflectance", reference=sloping
    )
    np.testing.assert_allclose(half_way.value, [500.0 / 1031.25, 0.5])
    dark = write("nm,counts\n390,2000\n710,0\n", "dark.csv")
    with pytest.raises(TableError, match=r"dark\.csv reads nothing at 710 nm"):
        read_spectrum(write("nm,counts\n400,1000\n700,500\n"), "reflectance", reference=dark)


def test_duplicates_are_averaged_only_when_the_file_says_so(write):
    doubled = PLAIN + "550,0.35\n"
    with pytest.raises(TableError, match="gives 550 nm twice"):
        read_spectrum(write(doubled))
    spectrum = read_spectrum(write("# duplicates: average\n" + doubled))
    np.testing.assert_allclose(spectrum.value, [0.5, 0.3, 0.125])


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", "holds no rows of numbers"),
        ("# only remarks\n", "holds no rows of numbers"),
        ("nm,R\n", "holds no rows of numbers"),
        ("nm,R\n400,0.5\n", "has 1 rows of numbers; a spectrum needs at least two"),
        ("nm,R\n400,abc\n500,0.4\n", r"numeral\.csv line 2, column value: 'abc' is not a number"),
        ("nm,R\n400,0.5\n500,nan\n", "line 3, column value: nan is not a finite number"),
        ("nm,R\n400,0.5\n500,0.4,0.3\n", "line 3 has 3 cells where 2 are expected"),
        ("nm,R\n400,0.5\nlamp off\n500,0.4\n", "line 3: 'lamp off' is not a number, yet numbers"),
        ("nm,R\n0,0.5\n500,0.4\n", "a wavelength of 0 is not possible"),
        ("nm,R\n400,0.5\n500,-0.4\n", "a reflectance of -0.4 is not possible"),
        ("nm,R\n400,1.5\n500,0.4\n", "up to 1.5 may be fractions or percent; state the unit"),
        ("nm,R\n400,4000\n500,100\n", "neither fractions nor percent; raw counts need"),
        ("nm,value\n400,0.5\n500,0.4\n", "does not say what was measured; state the kind"),
        ("nm,absorbance\n400,0.5\n500,0.4\n", "is absorbance; export transmittance"),
        ("wavenumber (cm-1),R\n25000,0.5\n20000,0.4\n", "over wavenumber"),
        ("Energy (eV),R\n1.6,0.5\n2.0,0.4\n3.0,0.3\n", "over energy"),
        ("eV,R\n1.6,0.5\n2.0,0.4\n3.0,0.3\n", "over energy"),
        ("Frequency [THz],R\n400,0.5\n500,0.4\n600,0.3\n", "over frequency"),
        ("wavelength,R\n40,0.5\n90,0.4\n", "may be nanometres or micrometres; name the column"),
        ("nm,R\n0.4,0.5\n0.5,0.4\n", "look like micrometres, but the column says nm"),
        ("nm,um,R\n400,0.4,0.5\n500,0.5,0.4\n", "more than one column of wavelengths"),
        ("nm,R,R\n400,0.4,0.5\n500,0.5,0.4\n", "2 columns of reflectance; keep one"),
        ("nm;R\n400.0;0,5\n500;0,4\n", "mixes decimal commas and decimal points"),
        ("400,12,3\n401,12,5\n", "the comma both between columns and in its numbers"),
        (b"nm,R\n400,1\n\x00", "is a binary file"),
        (b"\xff\xfe\x00nm", "is not UTF-8 text"),
    ],
)
def test_files_that_are_broken_or_in_doubt_are_refused(write, content, message):
    with pytest.raises(TableError, match=message):
        read_spectrum(write(content))


def test_a_stated_kind_or_unit_must_fit(write):
    path = write(PLAIN)
    with pytest.raises(TableError, match="'R' is reflectance, not transmittance"):
        read_spectrum(path, kind="transmittance")
    with pytest.raises(InputError, match="kind 'colour' must be reflectance or transmittance"):
        read_spectrum(path, kind="colour")
    np.testing.assert_allclose(read_spectrum(path, unit="percent").value[0], 0.005)


def test_limits_of_size_and_rows(write, monkeypatch):
    path = write(PLAIN)
    monkeypatch.setattr(spectrumfile, "MAX_ROWS", 3)
    assert read_spectrum(path).value.size == 3
    monkeypatch.setattr(spectrumfile, "MAX_ROWS", 2)
    with pytest.raises(LimitError, match="has 3 rows; the limit is 2"):
        read_spectrum(path)
    monkeypatch.setattr(spectrumfile, "MAX_BYTES", 10)
    with pytest.raises(LimitError, match="is larger than"):
        read_spectrum(path)


@settings(deadline=None, max_examples=200)
@given(st.binary(max_size=200) | st.text("nmRT%uµ,;\t 0123456789.-e#\n", max_size=80))
def test_any_bytes_give_a_spectrum_or_one_sentence(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("any") / "any.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    message = "read"
    try:
        spectrum = read_spectrum(path, kind="reflectance")
    except InputError as error:
        message = str(error)
    else:
        assert (np.diff(spectrum.wavelength_nm) > 0).all()
        assert np.isfinite(spectrum.value).all()
    assert message
    assert "\n" not in message


@settings(deadline=None, max_examples=50)
@given(
    st.lists(
        st.tuples(st.floats(200, 5000), st.floats(0, 1)),
        min_size=2,
        max_size=8,  # more may be two scans, which are refused
        unique_by=lambda row: row[0],
    )
)
def test_what_is_written_is_read_back(tmp_path_factory, rows):
    path = tmp_path_factory.mktemp("own") / "own.csv"
    path.write_text("nm,T (fraction)\n" + "".join(f"{w!r},{t!r}\n" for w, t in rows))
    spectrum = read_spectrum(path)
    back = np.column_stack([spectrum.wavelength_nm, spectrum.value])
    np.testing.assert_array_equal(back, sorted(rows))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"kind": "R"}, "kind"),
        ({"kind": "reflection"}, "kind"),
        ({"value": np.array([20.0, 30.0, 40.0])}, "divide percent by 100"),
        ({"value": np.array([0.2, np.nan, 0.4])}, "finite"),
        ({"value": np.array([0.2, 0.3])}, "one reading for each of the 3 wavelengths"),
        ({"wavelength_nm": np.array([400.0, 600.0, 500.0])}, "rise strictly"),
    ],
)
def test_readings_in_memory_are_checked_as_those_of_a_file(change, words):
    right = {
        "wavelength_nm": np.array([400.0, 500.0, 600.0]),
        "value": np.array([0.2, 0.3, 0.4]),
        "kind": "reflectance",
    }
    Spectrum(**right)
    with pytest.raises(InputError, match=words):
        Spectrum(**right | change)


@pytest.mark.parametrize("name", ["A (%)", "A", "OD1", "OD 2", "-log(R)", "log10(1/T)", "Abs."])
def test_a_column_of_absorbance_is_refused_whatever_is_said_to_be_measured(name, write):
    content = PLAIN.replace("R", name)
    with pytest.raises(TableError, match="is absorbance; export transmittance"):
        read_spectrum(write(content), kind="reflectance")


def test_two_scans_below_each_other_are_refused(write):
    first = "".join(f"{nm},0.3\n" for nm in range(400, 700, 10))
    second = "".join(f"{nm},0.5\n" for nm in range(405, 705, 10))
    for rows in (first + second, second[::-1][1:][::-1] + "\n" + first):
        with pytest.raises(TableError, match="several scans over the same wavelengths"):
            read_spectrum(write(f"wavelength_nm,R\n{rows}"))


def test_ranges_joined_and_rows_in_disorder_are_one_scan(write):
    high = [f"{nm},0.5" for nm in range(700, 400, -10)]
    low = [f"{nm},0.3" for nm in range(400, 300, -10)]
    mixed = np.random.default_rng(2).permutation(high + low).tolist()
    for rows in (high + low, low + high, high[::-1] + low, mixed):
        found = read_spectrum(write("wavelength_nm,R\n" + "\n".join(rows)))
        assert len(found.value) == len(high + low)


@pytest.mark.parametrize("odd", [10**400, "blue", [0.3, 0.4]])
def test_readings_from_a_program_that_are_no_numbers_are_refused(odd):
    with pytest.raises(InputError, match="must be finite numbers"):
        Spectrum([400.0, 500.0], [0.3, odd], "reflectance")
