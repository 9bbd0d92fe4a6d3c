"""Put the real output of each command shown in README.md under it.

Run as ``python -m tools.fill_readme``.
"""

from __future__ import annotations

import re
import shlex
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from oxhue.cli.main import exit_code

README = Path(__file__).parents[1] / "README.md"
_SHOWN = re.compile(r"(<!-- run -->\n```console\n\$ oxhue )([^\n]+)\n.*?```", re.DOTALL)


def _filled(match: re.Match[str]) -> str:
    with redirect_stdout(StringIO()) as out:
        code = exit_code(shlex.split(match[2]))
    if code != 0:
        raise SystemExit(f"'oxhue {match[2]}' ended with exit code {code}")
    lines = [line.rstrip() for line in out.getvalue().splitlines() if line.strip()]
    return f"{match[1]}{match[2]}\n" + "\n".join(lines) + "\n```"


if __name__ == "__main__":
    text = README.read_text(encoding="utf-8")
    README.write_text(_SHOWN.sub(_filled, text), encoding="utf-8")
