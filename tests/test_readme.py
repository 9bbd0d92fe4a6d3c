"""The README says what the program does: its commands are run and its figures compared."""

from __future__ import annotations

import re

import pytest

from oxhue.cli.main import app
from tools.fill_examples import BLOCK, README, differs, near, parts, printed, shown

TEXT = README.read_text(encoding="utf-8")
EXAMPLES = [
    pytest.param(command, block[1], lines, id=command)
    for block in BLOCK.finditer(TEXT)
    for command, lines in shown(block)
]


@pytest.mark.parametrize(("command", "most", "lines"), EXAMPLES)
def test_shown_output_is_what_the_command_prints(command, most, lines):
    assert differs(lines, printed(command, most)) is None


def test_a_figure_or_a_word_that_has_moved_is_noticed():
    assert near("57.9", "58.0")
    assert not near("57.9", "58.1")
    assert not near("57.9", "58")
    assert near("#fafcf9", "#fafcfa")
    assert not near("#fafcf9", "#fafcf0")
    assert parts("2  TiO2 57.9 nm ── gold") == (
        ["#", "TiO", "#", "#", "nm", "gold"], ["2", "2", "57.9"],
    )  # fmt: skip
    assert parts("silver #fafcf9")[1] == ["#fafcf9"]


def test_every_verb_is_named_and_most_have_a_real_example():
    verbs = {command.name for command in app.registered_commands}
    assert all(f"`{verb}`" in TEXT for verb in verbs)
    # A map needs a photo and coupons a file of test pieces; the demo is the set-up line's, the
    # page serves until it is ended, a schema is long, and a log is written.
    exampled = {command.values[0].split()[0] for command in EXAMPLES}
    assert exampled == verbs - {"map", "coupons", "demo", "page", "schema"}


def test_it_opens_with_two_commands_and_stays_short():
    first_block = re.search(r"```(\w*)\n(.*?)```", TEXT, re.DOTALL)
    assert first_block[1] == "sh"
    assert len(first_block[2].splitlines()) == 2
    assert len(TEXT.splitlines()) < 170


def test_the_python_example_runs(capsys):
    block = re.search(r"```python\n(.*?)```", TEXT, re.DOTALL)[1]
    exec(compile(block, "README.md", "exec"), {})
    names = re.search(r"name\[::50\]\)\s+# (.+)", block)[1]
    assert capsys.readouterr().out.splitlines()[0] == str(
        "[" + " ".join(f"'{name}'" for name in names.split(", ")) + "]"
    )
