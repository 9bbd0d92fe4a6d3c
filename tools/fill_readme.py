"""Put the real output of each command shown in README.md under it.

Run as ``python -m tools.fill_readme``. A block after ``<!-- run -->`` shows all lines its commands
print, one after ``<!-- run 5 -->`` the first five of each, empty lines left out.
"""

from __future__ import annotations

import re
import shlex
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from oxhue.cli.main import exit_code

README = Path(__file__).parents[1] / "README.md"
BLOCK = re.compile(r"<!-- run ?(\d*) -->\n```console\n(.*?)```", re.DOTALL)
PROMPT = "$ oxhue "
MORE = "..."


def shown(block: re.Match[str]) -> list[tuple[str, list[str]]]:
    """The commands of a block with the lines shown under each."""
    commands: list[tuple[str, list[str]]] = []
    for line in block[2].splitlines():
        if line.startswith(PROMPT):
            commands.append((line.removeprefix(PROMPT), []))
        else:
            commands[-1][1].append(line)
    return commands


def printed(command: str, most: str) -> list[str]:
    """The lines a command prints, as a block shows them."""
    with redirect_stdout(StringIO()) as out:
        code = exit_code(shlex.split(command))
    if code != 0:
        raise SystemExit(f"'oxhue {command}' ended with exit code {code}")
    lines = [line.rstrip() for line in out.getvalue().splitlines() if line.strip()]
    return [*lines[: int(most)], MORE] if most and len(lines) > int(most) else lines


def filled(block: re.Match[str]) -> str:
    """The block with what its commands print now."""
    mark = f" {block[1]}" if block[1] else ""
    parts = [
        "\n".join([PROMPT + command, *printed(command, block[1])]) for command, _ in shown(block)
    ]
    return f"<!-- run{mark} -->\n```console\n" + "\n".join(parts) + "\n```"


if __name__ == "__main__":
    README.write_text(BLOCK.sub(filled, README.read_text(encoding="utf-8")), encoding="utf-8")
