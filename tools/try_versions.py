"""Try the lowest and the newest version of every dependency on each Python that is here.

Run as ``python -m tools.try_versions [--python 3.12] [--end lowest] [PYTEST ARGUMENTS]``. For each
Python from 3.11 to 3.14 that stands on the path and for both ends of the versions, it makes an
environment, installs the project, and runs the tests named (else those of ``TESTS``). The lowest
is the lowest that is there built for that Python: older sources need its older headers. Each row is
added to ``benchmarks/versions.md`` as soon as it is known, in place of an earlier one of the same
Python, end and tests; what is not here is listed as not tried.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from datetime import date
from pathlib import Path

ROOT = Path(__file__).parents[1]
RECORD = ROOT / "benchmarks/versions.md"
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
ENDS = {"lowest": "lowest-direct", "newest": "highest"}
SHOWN = ("numpy", "scipy", "matplotlib", "pillow", "typer", "starlette", "uvicorn")
TESTS = ("tests/films", "tests/colour", "tests/gauge", "tests/look", "tests/report", "tests/cli")


def main() -> None:
    """Try what is asked, and record one row for each Python and each end of the versions."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--python", action="append", choices=PYTHONS)
    parser.add_argument("--end", action="append", choices=ENDS)
    given, tests = parser.parse_known_args()
    tests = tests or list(TESTS)
    for python in given.python or PYTHONS:
        found = find_python(python)
        if found is None:
            record(f"| {python} | | | | ", "not tried: no such Python here")
            continue
        for end in given.end or ENDS:
            begins = f"| {python} | {end} | {' '.join(tests)} | "
            record(begins, " | ".join(tried(found, ENDS[end], tests)))


def find_python(version: str) -> str | None:
    """The first Python of a version on the path that runs: a name there may lead nowhere."""
    for folder in os.get_exec_path():
        found = shutil.which(f"python{version}", path=folder)
        if (
            found
            and subprocess.run([found, "-c", ""], check=False, capture_output=True).returncode == 0
        ):
            return found
    return None


def record(begins: str, said: str) -> None:
    """Keep a row in place of an earlier one that begins alike."""
    row = f"{begins}{said} | {date.today()} |"
    print(row, flush=True)
    lines = RECORD.read_text(encoding="utf-8").splitlines()
    at = next((i for i, line in enumerate(lines) if line.startswith(begins)), len(lines))
    lines[at : at + 1] = [row]
    RECORD.write_text("\n".join(lines) + "\n", encoding="utf-8")


def tried(python: str, resolution: str, tests: list[str]) -> tuple[str, str]:
    """The versions that were installed, and the last line of the tests."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "env"
        uv = [sys.executable, "-m", "uv"]
        _run([*uv, "venv", "--quiet", "--python", python, str(home)])
        inside = str(home / "bin" / "python")
        install = ["pip", "install", "--quiet", "--python", inside, "--resolution", resolution]
        _run([*uv, *install, "--only-binary", ":all:", "--editable", f"{ROOT}[dev]"])
        listed = _run([*uv, "pip", "freeze", "--python", inside])
        versions = dict(line.split("==") for line in listed.splitlines() if "==" in line)
        done = subprocess.run(
            [inside, "-m", "pytest", "-q", "-n", "2", "-m", "not slow", "-rfE", *tests],
            check=False,
            cwd=ROOT,
            capture_output=True,
            text=True,
        )
    print(done.stdout[-4000:] if done.returncode else "", file=sys.stderr, flush=True)
    last = (done.stdout.strip() or done.stderr.strip()).splitlines()[-1].strip("= ")
    return " ".join(versions.get(name, "–") for name in SHOWN), last


def _run(command: list[str]) -> str:
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(f"{' '.join(command[:6])} … failed:\n{done.stderr[-2000:]}")
    return done.stdout


if __name__ == "__main__":
    main()
