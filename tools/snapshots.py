"""Compare what the program shows with what it showed before: JSON, text, refusals, help.

``tests/snapshots/questions.toml`` lists the questions. Each runs in this process, in its own folder
with the guide's example files, and its exit code, output and written files are compared with
``tests/snapshots/answers``. Numbers keep nine significant digits, and are the same within a
millionth: the last digits may differ on another processor or with another version of numpy.

``python -m tools.snapshots`` shows what differs, ``--write`` keeps it, ``--only PATTERN`` picks
questions by name, and ``--numbers`` looks at the JSON alone: which keys were added, removed or
renamed, and which numbers changed under them (`tools.snapshot_numbers`). ``--since COMMIT``
compares with the answers kept in an earlier commit: with ``--numbers``, proof that none changed.
"""

from __future__ import annotations

import argparse
import difflib
import io
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from fnmatch import fnmatch
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any
from unittest.mock import patch

from .snapshot_numbers import Change, changes_of, is_same_text

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "tests" / "snapshots"
ANSWERS = FOLDER / "answers"
INPUTS = (ROOT / "docs" / "examples", FOLDER / "files")
FORMS = {"json": ("json",), "text": ("text",), "both": ("json", "text"), "terminal": ("terminal",)}
DIGITS = 9
_NO_CODE = "none: "  # in place of the exit code of a question that raised a bug
_BUG = f"\nexit {_NO_CODE}"
_IN_A_LINE = 6  # numbers of a list in one line, so that a difference stays small
_LONG_NUMBER = re.compile(r"-?\d+\.\d+(?:[eE][-+]?\d+)?")
_PICTURES = re.compile(r"<svg.*?</svg>|<style.*?</style>|data:[\w/+]+;base64,[\w+/=]+", re.DOTALL)
_SHOWN = (".json", ".csv", ".html")
"""Files whose contents are compared; of others the name."""
_SETTINGS = {
    "COLUMNS": "80", "LINES": "40", "TERM": "dumb", "NO_COLOR": "1",
    "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1",
}  # fmt: skip
_UNWANTED = ("FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE", "TERMINAL_WIDTH", "PY_COLORS")


@dataclass(frozen=True)
class Question:
    """One command line, and the form its answer is wanted in: json, text or terminal."""

    name: str
    line: str
    form: str

    @property
    def path(self) -> Path:
        """The file its answer is kept in."""
        return ANSWERS / f"{self.name}.{self.form}.txt"

    @property
    def arguments(self) -> list[str]:
        """The command line, without the program's name."""
        return [*shlex.split(self.line), *(["--json"] if self.form == "json" else [])]


class Terminal(io.StringIO):
    """A stream that says it is a terminal; ``TERM=dumb`` makes it 80 columns without colour."""

    def isatty(self) -> bool:
        """Whether somebody reads along: yes."""
        return True


def read_questions(pattern: str = "*") -> list[Question]:
    """All questions whose ``verb/name`` matches a pattern or contains it."""
    found = [
        Question(f"{verb}/{name}", line, form)
        for verb, forms in _listed()["questions"].items()
        for key, lines in forms.items()
        for name, line in lines.items()
        for form in FORMS[key]
    ]
    return [one for one in found if fnmatch(one.name, pattern) or pattern in one.name]


@cache
def _listed() -> dict[str, Any]:
    return tomllib.loads((FOLDER / "questions.toml").read_text(encoding="utf-8"))


def ask(question: Question) -> str:
    """What the program answers, as it is kept: exit code, both streams, files written."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _lay_out(folder, question.line)
        before = set(folder.rglob("*"))
        code, out, err = _run(question, folder)
        parts = [f"$ oxhue {question.line}\nexit {code}\n", *_sections(question, out, err)]
        written = sorted(path for path in folder.rglob("*") if path.is_file())
        parts += [
            _section(f"file {path.relative_to(folder).as_posix()}", _read(path))
            for path in written
            if path not in before
        ]
    return _without_machine("".join(parts), name)


def _sections(question: Question, out: str, err: str) -> Iterator[str]:
    if out:
        yield _section("stdout", pretty_json(out) if question.form == "json" else out)
    if err:
        yield _section("stderr", err)


def _section(title: str, text: str) -> str:
    lines = "\n".join(line.rstrip() for line in _rounded_text(text).rstrip().splitlines())
    return f"=== {title} ===\n{lines}\n" if lines else f"=== {title} ===\n"


def _read(path: Path) -> str:
    if path.suffix not in _SHOWN:
        return ""
    text = path.read_text(encoding="utf-8")
    return pretty_json(text) if path.suffix == ".json" else _PICTURES.sub("...", text)


def _without_machine(text: str, folder: str) -> str:
    """Leave out where the program ran and which version it was."""
    text = text.replace(os.path.realpath(folder), "FOLDER").replace(folder, "FOLDER")
    return text.replace(f'"oxhue": "{version("oxhue")}"', '"oxhue": "VERSION"').replace(
        f"oxhue {version('oxhue')}", "oxhue VERSION"
    )


def _lay_out(folder: Path, line: str) -> None:
    """Copy the input files, and those a line names that the program itself makes first."""
    for path in (path for inputs in INPUTS for path in inputs.iterdir() if path.is_file()):
        shutil.copyfile(path, folder / path.name)
    for name in _listed()["made"]:
        if name in line and f"--save {name}" not in line:
            (folder / name).write_bytes(_made(name))


@cache
def _made(name: str) -> bytes:
    """A file that the program makes with a command line of its own, made once."""
    maker = Question(name, _listed()["made"][name], "text")
    with tempfile.TemporaryDirectory() as folder:
        _lay_out(Path(folder), maker.line)
        _run(maker, Path(folder))
        return (Path(folder) / name).read_bytes()


def _run(question: Question, folder: Path) -> tuple[str, str, str]:
    """Exit code, or the bug that was raised, and what went to both streams."""
    from oxhue.cli.main import exit_code

    out, err = Terminal() if question.form == "terminal" else io.StringIO(), io.StringIO()
    with chdir(folder), redirect_stdout(out), redirect_stderr(err):
        try:
            code = str(exit_code(question.arguments))
        except Exception as error:  # a bug is what is to be shown; the next question still runs
            code = f"{_NO_CODE}{type(error).__name__}: {error}"
    return code, out.getvalue(), err.getvalue()


def pretty_json(text: str) -> str:
    """JSON with sorted keys, indented, its numbers rounded, lists of numbers a few a line."""
    try:
        whole = json.loads(text)
    except ValueError:
        return text
    return _pretty(whole, "")


def _pretty(value: Any, indent: str) -> str:
    deeper = indent + "  "
    if isinstance(value, dict) and value:
        rows = [
            f"{deeper}{json.dumps(key, ensure_ascii=False)}: {_pretty(value[key], deeper)}"
            for key in sorted(value)
        ]
        return "{\n" + ",\n".join(rows) + f"\n{indent}}}"
    if isinstance(value, list) and any(isinstance(item, dict | list | str) for item in value):
        rows = [deeper + _pretty(item, deeper) for item in value]
        return "[\n" + ",\n".join(rows) + f"\n{indent}]"
    if isinstance(value, list) and len(value) > _IN_A_LINE:
        cells = [_pretty(item, "") for item in value]
        lines = [cells[i : i + _IN_A_LINE] for i in range(0, len(cells), _IN_A_LINE)]
        return "[\n" + ",\n".join(deeper + ", ".join(line) for line in lines) + f"\n{indent}]"
    if isinstance(value, list):
        return "[" + ", ".join(_pretty(item, "") for item in value) + "]"
    if isinstance(value, float):
        return json.dumps(float(f"{value:.{DIGITS}g}"))
    return json.dumps(value, ensure_ascii=False)


def _rounded_text(text: str) -> str:
    """Numbers with more digits than are compared, rounded."""

    def rounded(found: re.Match[str]) -> str:
        digits = re.sub(r"[eE].*|\D", "", found[0]).lstrip("0")
        return f"{float(found[0]):.{DIGITS}g}" if len(digits) > DIGITS else found[0]

    return _LONG_NUMBER.sub(rounded, text)


def json_parts(kept: str) -> dict[str, Any]:
    """The sections of an answer that are JSON, by their titles."""
    titles = re.split(r"^=== (.+) ===\n", kept, flags=re.MULTILINE)[1:]
    parts = {}
    for title, text in zip(titles[::2], titles[1::2], strict=True):
        try:
            parts[title] = json.loads(text)
        except ValueError:
            continue
    return parts


def _difference(question: Question, old: str, new: str) -> str:
    lines = difflib.unified_diff(
        old.splitlines(), new.splitlines(), f"before/{question.path.name}",
        f"now/{question.path.name}", lineterm="", n=2,
    )  # fmt: skip
    return "\n".join(lines)


def _compare_numbers(question: Question, old: str, new: str) -> list[Change]:
    found = changes_of(json_parts(old), json_parts(new)) if question.form == "json" else []
    codes = [text.splitlines()[1] if text else "no answer kept" for text in (old, new)]
    if codes[0] != codes[1]:
        found.append(Change("exit code", f"{codes[0]} -> {codes[1]}"))
    return found


def _tell(changes: list[tuple[str, Change]]) -> None:
    """Each change once, with the questions that show it."""
    by_change: dict[Change, list[str]] = {}
    for name, change in changes:
        by_change.setdefault(change, []).append(name)
    for change, names in sorted(by_change.items(), key=lambda item: (item[0].kind, item[0].what)):
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        print(f"{change.kind}: {change.what}  ({names[0]}{more})")


def main(arguments: list[str] | None = None) -> int:
    """Ask, compare, and tell: 1 where something differs, otherwise 0."""
    parser = argparse.ArgumentParser(prog="python -m tools.snapshots")
    parser.add_argument("--write", action="store_true", help="keep what is answered now")
    parser.add_argument("--only", default="*", metavar="PATTERN", help="questions by name")
    parser.add_argument("--numbers", action="store_true", help="keys and numbers of JSON alone")
    parser.add_argument("--since", default="", metavar="COMMIT", help="answers kept in a commit")
    options = parser.parse_args(arguments)
    questions = read_questions(options.only)
    if options.write:
        return _write(questions, everything=options.only == "*")
    changes: list[tuple[str, Change]] = []
    different = set()
    for question, new in _asked(questions):
        old = _kept(question, options.since)
        if options.numbers:
            changes += [(question.name, one) for one in _compare_numbers(question, old, new)]
        elif not is_same_text(old, new):
            print(_difference(question, old, new))
            different.add(question)
    _tell(changes)
    count = len(different) or len({name for name, _ in changes})
    print(f"{len(questions)} answers, {count} with differences", file=sys.stderr)
    return 1 if count else 0


def _kept(question: Question, commit: str) -> str:
    """The answer kept in this folder or in an earlier commit; empty where there is none."""
    if not commit:
        return question.path.read_text(encoding="utf-8") if question.path.exists() else ""
    place = f"{commit}:{question.path.relative_to(ROOT).as_posix()}"
    shown = subprocess.run(["git", "show", place], cwd=ROOT, capture_output=True, check=False)
    return shown.stdout.decode("utf-8")


def _asked(questions: list[Question]) -> Iterator[tuple[Question, str]]:
    """Each question with its answer, on a terminal that is the same everywhere."""
    with patch.dict(os.environ, _SETTINGS):
        for name in _UNWANTED:
            os.environ.pop(name, None)
        for question in questions:
            yield question, ask(question)


def _write(questions: list[Question], everything: bool) -> int:
    """Keep what is answered now, and, if all was asked, nothing else; a bug is never kept."""
    bugs = 0
    for question, new in _asked(questions):
        if _BUG in new:
            print(f"{question.name} was not kept, it ends in a bug", file=sys.stderr)
            bugs += 1
            continue
        question.path.parent.mkdir(parents=True, exist_ok=True)
        question.path.write_text(new, encoding="utf-8")
    if everything:
        for path in set(ANSWERS.rglob("*.txt")) - {question.path for question in questions}:
            path.unlink()
    print(f"{len(questions) - bugs} answers written", file=sys.stderr)
    return 1 if bugs else 0


if __name__ == "__main__":
    sys.exit(main())
