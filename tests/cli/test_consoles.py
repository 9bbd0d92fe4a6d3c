"""Terminals that are narrow, pipes that lack letters, shells that complete."""

import io
import json
import os
import subprocess
import sys

import pytest
from rich.console import Console

from oxhue.cli import streams
from oxhue.optics.report.document import Swatch, Table
from oxhue.optics.report.terminal import terminal_table

LOOK = ["look", "TiO2 450Å / Ti", "--angle", "30"]


def started(*arguments, **environment):
    """The program in a process of its own, its streams as bytes."""
    return subprocess.run(
        [sys.executable, "-m", "oxhue", *arguments],
        capture_output=True,
        env=os.environ | environment,
        check=False,
    )


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_pipe_that_lacks_letters_gets_the_nearest(encoding):
    ended = started(*LOOK, PYTHONIOENCODING=encoding)
    assert (ended.returncode, ended.stderr) == (0, b"")
    text = ended.stdout.decode(encoding)
    assert "30° from straight on" in text.replace(" deg", "°")
    assert "?" not in text
    assert "+----" in text  # the frame of the table, too


def test_json_escapes_letters_the_pipe_lacks():
    ended = started("materials", "Ti", "--json", PYTHONIOENCODING="ascii")
    plain = json.loads(ended.stdout.decode("ascii"))
    assert any("Rakić" in entry["source"] for entry in plain["materials"])


def test_a_refusal_in_the_c_locale_names_what_is_wrong():
    ended = started("look", "TiO2 45° / Ti", LC_ALL="C", PYTHONIOENCODING="ascii")
    assert (ended.returncode, ended.stdout) == (2, b"")
    assert b"45 deg" in ended.stderr
    assert ended.stderr.count(b"\n") == 1


def test_letters_become_their_nearest():
    handler = "oxhue.test"
    streams.codecs.register_error(handler, streams._replace_letters)
    text = "Å ° µ ΔE ± → é Ł ─ 漢".encode("ascii", handler).decode("ascii")
    assert text == "A  deg u dE +/- -> e ? - ?"


def table_on(width):
    out = Console(
        file=io.StringIO(), width=width, color_system=None, force_terminal=True, _environ={}
    )
    head = ["thickness", "90 % within", "probability", "colour straight on"]
    rows = [
        ["37 nm", "27 to 56 nm", "49 %", Swatch("#73346a", "purple")],
        ["148 nm", "126 to 175 nm", "43 %", ""],
    ]
    out.print(terminal_table(Table(head, rows), out))
    return [line.rstrip() for line in out.file.getvalue().splitlines() if line.strip()]


def test_a_narrow_terminal_gets_a_line_for_each_cell():
    assert table_on(38) == [
        "thickness           37 nm",
        "90 % within         27 to 56 nm",
        "probability         49 %",
        "colour straight on  #73346a  purple",
        "thickness           148 nm",
        "90 % within         126 to 175 nm",
        "probability         43 %",
    ]
    wide = table_on(80)
    assert wide[0].split() == [
        "thickness",
        "90",
        "%",
        "within",
        "probability",
        "colour",
        "straight",
        "on",
    ]
    assert len(wide) == 4


@pytest.mark.slow
def test_the_shell_is_offered_verbs_options_and_names():
    def offered(typed):
        words = typed.split(" ")
        shell = {"_OXHUE_COMPLETE": "complete_bash", "COMP_WORDS": typed}
        return started(**shell, COMP_CWORD=str(len(words) - 1)).stdout.decode().split()

    assert offered("oxhue ga") == ["gauge"]
    assert "--film" in offered("oxhue gauge --fi")
    assert {"TiO2", "TiN"} <= set(offered("oxhue materials Ti"))
    assert "stainless" in offered("oxhue tint sta")
    assert offered("oxhue look x --light D6") == ["D65"]


def test_the_completion_of_a_shell_is_shown():
    script = started("--show-completion", "bash", _TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION="1")
    assert b"_OXHUE_COMPLETE=complete_bash" in script.stdout
