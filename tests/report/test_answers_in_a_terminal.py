"""Answers on a terminal and in a pipe: words and hex next to every patch, colour only if asked."""

import io
import re

import pytest

from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.look.look import look
from oxhue.optics.report.document import Swatch
from oxhue.optics.report.terminal import console, line_text, print_document


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
    plain = re.sub(r"\x1b\[[0-9;]*m", "", text)
    assert "\n reflected, front   #3c4fa1  dark blue " in plain  # no room is left for a patch


def test_a_patch_carries_hex_and_name():
    words = line_text(Swatch("#3c4fa1", "dark blue"), console(io.StringIO())).plain
    assert words.split() == ["#3c4fa1", "dark", "blue"]


def test_at_eighty_columns_the_interval_of_a_candidate_stays_on_its_line(purple, terminal):
    terminal.write("")
    out = console(terminal)
    out.width = 80
    print_document(purple.document(), out)
    plain = re.sub(r"\x1b\[[0-9;]*m", "", terminal.getvalue())
    for one in purple.candidates:
        low, high = (f"{end:.0f}" for end in one.interval90_nm)
        assert f"{low} to {high} nm" in plain
