"""Try the lowest and the newest version of every dependency on each Python that is here.

Run as ``python -m tools.try_versions [PYTEST ARGUMENTS]``. For each Python from 3.11 to 3.14 that
stands on the path and for both ends of the versions, it makes an environment, installs the
project, and runs the tests named (else those of ``TESTS``). It prints a table; what is not here is
listed as not tried.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
ENDS = {"lowest": "lowest-direct", "newest": "highest"}
SHOWN = ("numpy", "scipy", "matplotlib", "pillow", "typer", "starlette", "uvicorn")
TESTS = ("tests/films", "tests/colour", "tests/gauge", "tests/look", "tests/report", "tests/cli")


def main() -> None:
    """Print one row for each Python and each end of the versions."""
    tests = sys.argv[1:] or list(TESTS)
    print(f"| Python | versions | {' '.join(SHOWN)} | tests |\n|---|---|---|---|")
    for python in PYTHONS:
        found = shutil.which(f"python{python}")
        if found is None:
            print(f"| {python} | | | not tried: no such Python here |")
            continue
        for end, resolution in ENDS.items():
            print(f"| {python} | {end} | {' | '.join(tried(found, resolution, tests))} |")


def tried(python: str, resolution: str, tests: list[str]) -> tuple[str, str]:
    """The versions that were installed, and the last line of the tests."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "env"
        uv = [sys.executable, "-m", "uv"]
        _run([*uv, "venv", "--quiet", "--python", python, str(home)])
        inside = str(home / "bin" / "python")
        install = ["pip", "install", "--quiet", "--python", inside, "--resolution", resolution]
        _run([*uv, *install, "--editable", f"{ROOT}[dev]"])
        listed = _run([*uv, "pip", "freeze", "--python", inside])
        versions = dict(line.split("==") for line in listed.splitlines() if "==" in line)
        done = subprocess.run(
            [inside, "-m", "pytest", "-q", "-n", "2", "-m", "not slow", *tests],
            check=False,
            cwd=ROOT,
            capture_output=True,
            text=True,
        )
    last = (done.stdout.strip() or done.stderr.strip()).splitlines()[-1].strip("= ")
    return " ".join(versions.get(name, "–") for name in SHOWN), last


def _run(command: list[str]) -> str:
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(f"{' '.join(command[:6])} … failed:\n{done.stderr[-2000:]}")
    return done.stdout


if __name__ == "__main__":
    main()
