"""Put the real output of each command shown in README.md and the guide under it.

Run as ``python -m tools.fill_examples``, with names of pages for those alone. A block after
``<!-- run -->`` shows all lines its commands print, one after ``<!-- run 5 -->`` the first five of
each, empty lines left out; ``<!-- run 5 exit 3 -->`` says how its commands end, where it is not 0.
The guide's commands run beside its example files, in a folder that is thrown away; what they write
into ``pictures``, and the picture of a map, is kept for the page.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

from oxhue.cli.main import exit_code

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
DOCS = ROOT / "docs"
EXAMPLES = DOCS / "examples"
PICTURES = DOCS / "pictures"
BLOCK = re.compile(r"<!-- run ?(\d*)(?: ?exit (\d+))? -->\n```console\n(.*?)```", re.DOTALL)
PROMPT = "$ oxhue "
MORE = "..."

NUMBER = re.compile(r"#[0-9a-f]{6}|\d+(?:\.\d+)?")
SHARE = 0.002


def pages() -> list[Path]:
    """Every page with commands: the README and those of the guide."""
    texts = [README, *sorted(DOCS.rglob("*.md"))]
    return [page for page in texts if BLOCK.search(page.read_text(encoding="utf-8"))]


def shown(block: re.Match[str]) -> list[tuple[str, list[str]]]:
    """The commands of a block with the lines shown under each."""
    commands: list[tuple[str, list[str]]] = []
    for line in block[3].splitlines():
        if line.startswith(PROMPT):
            commands.append((line.removeprefix(PROMPT), []))
        else:
            commands[-1][1].append(line)
    return commands


def printed(command: str, most: str, ends: str | None = None) -> list[str]:
    """The lines a command prints, as a block shows them."""
    with redirect_stdout(StringIO()) as out, redirect_stderr(StringIO()) as err:
        code = exit_code(shlex.split(command))
    if code != int(ends or 0):
        raise SystemExit(f"'oxhue {command}' ended with exit code {code}: {err.getvalue()}")
    lines = [line.rstrip() for line in out.getvalue().splitlines() if line.strip()]
    return [*lines[: int(most)], MORE] if most and len(lines) > int(most) else lines


def filled(block: re.Match[str]) -> str:
    """The block with what its commands print now."""
    parts = [
        "\n".join([PROMPT + command, *printed(command, block[1], block[2])])
        for command, _ in shown(block)
    ]
    mark = block[0].partition("\n")[0]
    return f"{mark}\n```console\n" + "\n".join(parts) + "\n```"


@contextmanager
def bench() -> Iterator[Path]:
    """A folder with the guide's example files in it, as the place where commands run."""
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "bench"
        shutil.copytree(EXAMPLES, place)
        (place / "pictures").mkdir()
        os.chdir(place)
        try:
            yield place
        finally:
            os.chdir(before)


def fill(page: Path) -> None:
    """Put in what the commands of a page print, and keep the pictures they draw."""
    text = page.read_text(encoding="utf-8")
    if page == README:
        page.write_text(BLOCK.sub(filled, text), encoding="utf-8", newline="\n")
        return
    with bench() as place:
        page.write_text(BLOCK.sub(filled, text), encoding="utf-8", newline="\n")
        for picture in [*(place / "pictures").iterdir(), *place.glob("*/map.png")]:
            shutil.copy(picture, PICTURES / picture.name)


def differs(shown_lines: list[str], now: list[str]) -> str | None:
    """The first line that says something else than the one shown, roundings apart."""
    if len(shown_lines) != len(now):
        return f"{len(now)} lines, not {len(shown_lines)}: {now[-1:]}"
    for old, new in zip(shown_lines, now, strict=True):
        (words, numbers), (words_now, numbers_now) = parts(old), parts(new)
        if words != words_now or not all(map(near, numbers, numbers_now)):
            return new
    return None


def parts(line: str) -> tuple[list[str], list[str]]:
    """A line's words, without its spaces and rules, and its numbers as written."""
    words = [word for word in NUMBER.sub(" # ", line).split() if word.strip("─")]
    return words, NUMBER.findall(line)


def near(shown_number: str, now: str) -> bool:
    """Whether two numbers agree but for the last digit printed, or a fifth of a percent.

    That much another processor's rounding may move; each channel of a colour may by one.
    """
    if shown_number.startswith("#"):
        pairs = zip(bytes.fromhex(shown_number[1:]), bytes.fromhex(now[1:]), strict=True)
        return all(abs(a - b) <= 1 for a, b in pairs)
    digits = len(shown_number.partition(".")[2])
    step = max(1.0001 * 10.0**-digits, SHARE * abs(float(shown_number)))
    close = abs(float(shown_number) - float(now)) <= step
    return close and digits == len(now.partition(".")[2])


if __name__ == "__main__":
    chosen = [Path(name).resolve() for name in sys.argv[1:]]
    for one in chosen or pages():
        fill(one)
