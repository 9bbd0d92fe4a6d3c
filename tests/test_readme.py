"""The README says what the program does: its commands are run and its figures compared."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from oxhue.cli.main import exit_code

README = Path(__file__).parents[1] / "README.md"
_SHOWN = re.compile(r"<!-- run -->\n```console\n\$ oxhue ([^\n]+)\n(.*?)```", re.DOTALL)


def shown() -> list[tuple[str, str]]:
    return _SHOWN.findall(README.read_text(encoding="utf-8"))


def tidy(text: str) -> list[str]:
    return [line.rstrip() for line in text.strip().splitlines() if line.strip()]


@pytest.mark.parametrize(("command", "output"), shown())
def test_shown_output_is_what_the_command_prints(command, output, capsys):
    assert exit_code(shlex.split(command)) == 0
    assert tidy(capsys.readouterr().out) == tidy(output)


def test_every_verb_but_the_demo_has_a_real_example():
    assert {command.split()[0] for command, _ in shown()} == {"look", "gauge", "materials"}


def test_it_opens_with_two_commands_and_stays_short():
    text = README.read_text(encoding="utf-8")
    first_block = re.search(r"```(\w*)\n(.*?)```", text, re.DOTALL)
    assert first_block[1] == "sh"
    assert len(first_block[2].splitlines()) == 2
    assert len(text.splitlines()) < 170


def test_the_python_example_runs(capsys):
    block = re.search(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)[1]
    exec(compile(block, "README.md", "exec"), {})
    names = re.search(r"name\[::50\]\)\s+# (.+)", block)[1]
    assert capsys.readouterr().out.splitlines()[0] == str(
        "[" + " ".join(f"'{name}'" for name in names.split(", ")) + "]"
    )
