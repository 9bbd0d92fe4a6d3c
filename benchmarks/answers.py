"""What an answer costs, cold: processor time of whole processes, start-up included.

``python -m benchmarks.answers`` runs every command of the table in turns; ``--only WORD`` picks
some, ``--rounds`` says how often, and ``--write`` keeps the table in ``answers.md``. Two cores
share the work of some, so that the clock on the wall shows less. A run before the first, which is
not timed, compiles the sources, as installing does.

The goals were set by what the program of commit dc7496f took on another machine. ``--beside
FOLDER``, with a checkout of that commit, runs it in the same rounds, and gives what this one would
take there: what that one took there, times what this one takes here over what that one takes here.
"""

from __future__ import annotations

import argparse
import os
import shlex
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from oxhue.optics._typing import FloatArray

from .timing import Spread, processor_s

TABLE = Path(__file__).with_suffix(".md")
EXAMPLES = Path(__file__).parents[1] / "docs" / "examples"
_PHOTO = "docs/examples/dial.jpg"
_NO_ANSWER = 3  # computed, but nothing to trust: an answer all the same


@dataclass(frozen=True)
class Answer:
    """A command line, and how much processor time it may take [s]; what the program by which that
    was set took [s], and its command line where that is another."""

    name: str
    line: str
    most_s: float
    then_s: float | None = None
    then_line: str | None = None


ANSWERS = (
    Answer("look", 'look "TiO2 45nm / Ti"', 0.7, 0.9),
    Answer("gauge of a word", "gauge --film TiO2 --on Ti --seen purple", 1.2, 1.8),
    Answer(
        "gauge of a photo",
        f"gauge --film TiO2 --on Ti --photo {_PHOTO} --patch 420,220,24,24 --white 740,80,140,140",
        1.2,
        1.7,
    ),
    Answer(
        "gauge of copper on a plate, three looks",
        "gauge --film Cu --on 'glass 4mm' --seen copper --through green --behind copper",
        1.8,
        4.0,
    ),
    Answer(
        "nine spots of one piece",
        "gauge --film TiO2 --on Ti --readings docs/examples/spots.csv --one-piece --rising",
        3.5,
        28.0,
    ),
    Answer("assay", "assay --metal Ti --on glass --seen gold --ohms open", 1.3, 2.0),
    Answer("tint", "tint Ti --at 450C --for 20min", 0.9, 1.0),
    Answer("tint --want", "tint Ti --want purple", 1.1, 1.4),
    Answer("coupons of seven", "coupons docs/examples/pieces.csv", 1.4, 1.7),
    Answer(
        "sheet",
        'sheet "Al 90nm / glass 4mm" --source boat --distance 30cm --rate 2nm/s '
        "--pressure 1e-5mbar",
        1.0,
        1.8,
    ),
    Answer(
        "spectrum",
        "spectrum docs/examples/plate.csv --film TiO2 --on Ti",
        1.8,
        2.9,
        "gauge --spectrum docs/examples/plate.csv --film TiO2 --on Ti",
    ),
    Answer(
        "design of the README",
        'design --on glass --goal "R>95% 450..650nm" --with Al,SiO2,TiO2 --max-layers 5 '
        "--designs 1",
        1.1,
    ),
    Answer("map of a photo", f"map {_PHOTO} --film TiO2 --on Ti --white 740,80,140,140", 1.8, 2.2),
    Answer(
        "chamber",
        "chamber --volume 3l --leak 1e-3mbar.l/s --pumping 2l/s --working-gas argon "
        "--working-pressure 5e-3mbar",
        1.0,
    ),
    Answer("demo", "demo tour", 3.0, 4.0),
)


def run_once(line: str, folder: Path, packages: Path | None = None) -> tuple[float, float]:
    """Processor time and time on the wall [s] of one cold run in a folder of its own, with the
    packages of another checkout where one is given."""
    command = [sys.executable, "-m", "oxhue.cli.main", *shlex.split(line)]
    # Compiled sources go next to the pieces, whatever the shell says of writing them.
    compiled = {"PYTHONPYCACHEPREFIX": str(folder / "compiled"), "PYTHONDONTWRITEBYTECODE": ""}
    if packages is not None:
        # It leaves linear algebra its threads, whose waiting on a busy machine would count for us.
        compiled |= {"PYTHONPATH": str(packages), "OPENBLAS_NUM_THREADS": "1"}
    before, begin = processor_s(), time.perf_counter()
    done = subprocess.run(
        command,
        cwd=folder,
        env=os.environ | compiled,
        capture_output=True,
        text=True,
        check=False,
    )
    seconds, wall = processor_s() - before, time.perf_counter() - begin
    if done.returncode not in (0, _NO_ANSWER):
        raise RuntimeError(f"oxhue {line} was refused: {done.stderr.strip()}")
    return seconds, wall


def time_answers(
    answers: tuple[Answer, ...], rounds: int, beside: Path | None = None
) -> dict[str, FloatArray]:
    """Both times of each (rounds, 2), round after round; and both of the program beside it after
    them (rounds, 4), zeros where it has no such command."""
    taken: dict[str, list[tuple[float, ...]]] = {answer.name: [] for answer in answers}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "docs").mkdir()
        os.symlink(EXAMPLES, folder / "docs" / "examples")
        packages = None if beside is None else _link_packages(beside, folder)
        for turn in range(rounds + 1):
            for answer in answers:
                times = run_once(answer.line, folder)
                if packages is not None:
                    line = answer.then_line or answer.line
                    times += run_once(line, folder, packages) if answer.then_s else (0.0, 0.0)
                if turn:
                    taken[answer.name].append(times)
    return {name: np.array(times) for name, times in taken.items()}


def _link_packages(checkout: Path, folder: Path) -> Path:
    """A folder that Python finds the packages of a checkout in."""
    packages = folder / "beside"
    (packages / "oxhue").mkdir(parents=True)
    (packages / "oxhue" / "__init__.py").touch()
    for one in ("optics", "page", "cli", "nk_data"):
        os.symlink(checkout.resolve() / one, packages / "oxhue" / one)
    return packages


def as_table(answers: tuple[Answer, ...], taken: dict[str, FloatArray]) -> list[str]:
    """The lines of the table."""
    head = [
        "| answer | command | processor time [s] | on the wall [s] | goal [s] |",
        "|---|---|---|---|---|",
    ]
    rows = []
    for answer in answers:
        seconds, wall = (Spread.of(column) for column in taken[answer.name].T[:2])
        met = "" if seconds.median <= answer.most_s else ": missed"
        line = answer.line.replace("|", "\\|")
        rows.append(
            f"| {answer.name} | `{line}` | {seconds} | {wall.median:.2f} "
            f"| ≤ {answer.most_s:g}{met} |"
        )
    return head + rows


def as_told_beside(answers: tuple[Answer, ...], taken: dict[str, FloatArray]) -> list[str]:
    """The lines of the table of what each would take where the goals were set."""
    rows, slower = [], []
    for answer in answers:
        own, _, other, _ = taken[answer.name].T
        if answer.then_s is None:
            continue
        slower.append(float(np.median(other)) / answer.then_s)
        there = Spread.of(answer.then_s * own / other)
        met = "" if there.median <= answer.most_s else ": missed"
        rows.append(
            f"| {answer.name} | {answer.then_s:g} | {np.median(other):.2f} | {np.median(own):.2f} "
            f"| {there} | ≤ {answer.most_s:g}{met} |"
        )
    return [
        "",
        f"Beside the program of commit dc7496f, which takes {np.median(slower):.2f} times as long "
        f"here ({min(slower):.2f} to {max(slower):.2f}) as where the goals were set:",
        "",
        "| answer | dc7496f there [s] | dc7496f here [s] | now here [s] | now there [s] "
        "| goal [s] |",
        "|---|---|---|---|---|---|",
        *rows,
    ]


def main() -> None:
    """Print the table, and keep it if asked."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.answers", description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--only", default="", help="answers whose name holds this")
    parser.add_argument("--beside", type=Path, help="a checkout of commit dc7496f")
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    answers = tuple(answer for answer in ANSWERS if asked.only in answer.name)
    taken = time_answers(answers, asked.rounds, asked.beside)
    table = as_table(answers, taken)
    if asked.beside is not None:
        table += as_told_beside(answers, taken)
    print("\n".join(table))
    if asked.write:
        title = ["# What an answer costs, cold", "", *(__doc__ or "").strip().splitlines(), ""]
        TABLE.write_text("\n".join([*title, *table, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
