"""Answers on a terminal and in a pipe: words and hex beside every patch, colour only if asked."""

import io
import math
import re
from dataclasses import replace

import pytest

from oxhue.optics.data_sets.result import describe_materials
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.look.look import look
from oxhue.optics.oxidation.metals import find_metal, metal_names
from oxhue.optics.report.document import Swatch
from oxhue.optics.report.format import format_angle
from oxhue.optics.report.terminal import console, line_text, print_document
from oxhue.optics.tint.parameters import parameter_row
from oxhue.optics.tint.result import LawParameter

HEX = re.compile(r"#[0-9a-f]{6}")


class Terminal(io.StringIO):
    def isatty(self):
        return True


def shown(result, stream=None):
    stream = stream or io.StringIO()
    print_document(result.document(), console(stream))
    return stream.getvalue()


@pytest.fixture(scope="module")
def purple():
    return gauge(["TiO2"], "Ti(johnson1974)", [parse_reading("purple")])


@pytest.fixture
def terminal(monkeypatch):
    for name in ("NO_COLOR", "FORCE_COLOR", "COLORTERM", "TERM", "TTY_COMPATIBLE", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLORTERM", "truecolor")
    return Terminal()


def test_a_pipe_gets_no_escape_codes_and_no_wrapped_lines(purple):
    text = shown(purple)
    assert "\x1b" not in text
    assert text.splitlines()[0].startswith("Consistent with ")
    assert text.splitlines()[0].endswith(".")  # the answer is one line, however long


def test_a_terminal_gets_patches_in_full_colour(terminal):
    text = shown(look("TiO2 45nm / Ti"), stream=terminal)
    assert "\x1b[48;2;60;79;161m" in text
    assert "#3c4fa1" in text
    assert "dark blue" in text


def test_no_color_takes_the_colour_and_leaves_the_words(terminal, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    text = shown(look("TiO2 45nm / Ti"), stream=terminal)
    assert not re.search(r"\x1b\[[0-9;]*(?:3|4)8[;0-9]*m", text)
    assert "#3c4fa1" in text
    assert "dark blue" in text


def test_a_patch_carries_hex_and_name():
    words = line_text(Swatch("#3c4fa1", "dark blue"), console(io.StringIO())).plain
    assert words.split() == ["#3c4fa1", "dark", "blue"]


def test_a_look_says_name_and_hex_first_and_its_conditions_last():
    text = shown(look("TiO2 45nm / Ti", angle_deg=30.0))
    first, *_, last, data = text.strip().splitlines()
    assert data == "Optical data: TiO2(siefke2016), Ti(johnson1974)."
    assert first == "TiO2 45nm / Ti: dark blue, " + HEX.search(first)[0]
    assert last == "Light D65, 2° observer, 30° from straight on."
    assert "opaque" in text


def test_two_thicknesses_may_be_one_with_a_decimal_comma():
    text = shown(look("TiO2 4,5nm / Ti"))
    assert "\nTwo thicknesses; if 4,5 is one number, write 4.5.\n" in text
    assert "one number" not in shown(look("TiO2 4,5,6nm / Ti"))


def test_both_sides_of_a_clear_piece_are_named():
    text = shown(look("Au 20nm / glass 1mm"))
    assert "reflected, front" in text
    assert "through" in text
    assert len(HEX.findall(text)) == 3  # the first line and one for each side


def test_a_colour_outside_the_screen_is_said_to_be():
    vivid = next(
        seen
        for nm in range(100, 400, 5)
        if not (seen := look(f"Nb2O5 {nm}nm / Nb")).reflected.in_gamut
    )
    assert "More vivid than a screen can show: reflected" in shown(vivid)


def test_a_long_sweep_shows_some_rows_and_says_so():
    text = shown(look("TiO2 0..200nm / Ti"))
    rows = [line for line in text.splitlines() if HEX.search(line)]
    assert len(rows) == 40
    assert "40 rows of 201, evenly chosen" in text
    assert "opaque" in rows[0]
    assert all(re.search(r"#[0-9a-f]{6} +[a-z]", row) for row in rows)


def test_an_estimate_names_every_candidate(purple):
    text = shown(purple)
    for one in purple.candidates:
        row = next(line for line in text.splitlines() if one.srgb_hex in line)
        assert one.name in row
        assert f"{one.thickness_nm:.0f} nm" in row
    assert 'Consistent with "purple"' in text
    assert purple.next_check in text
    assert "TiO2(siefke2016)" in text


def test_what_does_not_fit_is_said_first():
    odd = gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", [parse_reading("#00ff00")])
    assert shown(odd).startswith("Nothing fits")


def test_materials_in_short_and_in_full():
    short = shown(describe_materials())
    assert short.splitlines()[0].endswith("data sets")
    assert "TiO2" in short
    full = shown(describe_materials("TiO2"))
    for entry in describe_materials("TiO2").materials:
        assert entry.label in full
        assert entry.source.split(",")[0] in full


def test_names_with_brackets_and_colons_are_printed_as_they_are(tmp_path, monkeypatch):
    """A file name is no markup: [red] in it is not a colour, and :smile: not a picture."""
    monkeypatch.chdir(tmp_path)
    rows = "".join(f"{nm},2.4,0\n" for nm in range(300, 901, 50))
    (tmp_path / "own [red] :smile: [-].csv").write_text("wavelength_nm,n,k\n" + rows)
    text = shown(look('"own [red] :smile: [-].csv" 45nm / Ti'))
    assert text.startswith('"own [red] :smile: [-].csv" 45nm / Ti: ')


@pytest.mark.parametrize(
    ("angle", "words"), [(0.0, "looked at straight on"), (30.0, "30° from straight on")]
)
def test_angles_in_words(angle, words):
    assert format_angle(angle) == words


def test_a_colour_read_off_a_photo_is_said():
    typed = parse_reading("#5a3a78", "card")
    for reading, said in ((replace(typed, text="dial.jpg at 1,2,3,4"), True), (typed, False)):
        text = shown(gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", [reading]))
        line = "Read from dial.jpg at 1,2,3,4, as card: #5a3a78  purple"
        assert (line in text) is said


@pytest.mark.parametrize("name", metal_names())
def test_every_parameter_of_a_law_has_words_and_a_unit(name):
    metal = find_metal(name)
    several = len(metal.regimes) > 1
    for regime in metal.regimes:
        for name in regime.parameters:
            one = LawParameter(name, regime, 1.0, (0.5, 1.5), 1.1, (0.4, 1.6))
            words, value, *_ = parameter_row(one, several)
            assert "_" not in words
            assert "{" not in words + value
            fixed = name == "ln_shape" and not regime.law.shape  # it is left out of the table
            assert fixed or value.split()[1:] or "exponent" in words
            assert (f"{regime.range_C[1]:g} °C" in words) or not several


def test_logarithms_are_shown_as_what_they_are_of():
    one = LawParameter("ln_pace", None, 0.0, (-0.1, 0.1), math.log(2.0), (0.0, 1.0))
    assert parameter_row(one, True) == (
        "pace of this kiln", "1 times", "0.905 to 1.11", "2 times", "1 to 2.72",
    )  # fmt: skip
