"""The README says what the program does: its commands are run and its figures compared."""

from __future__ import annotations

import re

import pytest

from oxhue.cli.main import app
from tools.fill_readme import BLOCK, README, printed, shown

TEXT = README.read_text(encoding="utf-8")
EXAMPLES = [
    pytest.param(command, block[1], lines, id=command)
    for block in BLOCK.finditer(TEXT)
    for command, lines in shown(block)
]


@pytest.mark.parametrize(("command", "most", "lines"), EXAMPLES)
def test_shown_output_is_what_the_command_prints(command, most, lines):
    assert printed(command, most) == lines


def test_every_verb_is_named_and_most_have_a_real_example():
    verbs = {command.name for command in app.registered_commands}
    assert all(f"`{verb}`" in TEXT for verb in verbs)
    # A map needs a photo and coupons a file of test pieces; the demo is the set-up line's.
    exampled = {command.values[0].split()[0] for command in EXAMPLES}
    assert exampled == verbs - {"map", "coupons", "demo"}


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
