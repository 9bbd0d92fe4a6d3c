"""What an answer costs, cold: processor time of whole processes, start-up included.

``python -m benchmarks.answers`` runs every command of the table in turns; ``--only WORD`` picks
some, ``--rounds`` says how often, and ``--write`` keeps the table in ``answers.md``. Two cores
share the work of some, so that the clock on the wall shows less. A run before the first, which is
not timed, compiles the sources, as installing does.
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
    """A command line, and how much processor time it may take [s]."""

    name: str
    line: str
    most_s: float


ANSWERS = (
    Answer("look", 'look "TiO2 45nm / Ti"', 0.7),
    Answer("gauge of a word", "gauge --film TiO2 --on Ti --seen purple", 1.2),
    Answer(
        "gauge of a photo",
        f"gauge --film TiO2 --on Ti --photo {_PHOTO} --patch 420,220,24,24 --white 740,80,140,140",
        1.2,
    ),
    Answer(
        "gauge of copper on a plate, three looks",
        "gauge --film Cu --on 'glass 4mm' --seen copper --through green --behind copper",
        1.8,
    ),
    Answer(
        "nine spots of one piece",
        "gauge --film TiO2 --on Ti --readings docs/examples/spots.csv --one-piece --rising",
        3.5,
    ),
    Answer("assay", "assay --metal Ti --on glass --seen gold --ohms open", 1.3),
    Answer("tint", "tint Ti --at 450C --for 20min", 0.9),
    Answer("tint --want", "tint Ti --want purple", 1.1),
    Answer("coupons of seven", "coupons docs/examples/pieces.csv", 1.4),
    Answer(
        "sheet",
        'sheet "Al 90nm / glass 4mm" --source boat --distance 30cm --rate 2nm/s '
        "--pressure 1e-5mbar",
        1.0,
    ),
    Answer("spectrum", "spectrum docs/examples/plate.csv --film TiO2 --on Ti", 1.8),
    Answer(
        "design of the README",
        'design --on glass --goal "R>95% 450..650nm" --with Al,SiO2,TiO2 --max-layers 5 '
        "--designs 1",
        1.1,
    ),
    Answer("map of a photo", f"map {_PHOTO} --film TiO2 --on Ti --white 740,80,140,140", 1.8),
    Answer(
        "chamber",
        "chamber --volume 3l --leak 1e-3mbar.l/s --pumping 2l/s --working-gas argon "
        "--working-pressure 5e-3mbar",
        1.0,
    ),
    Answer("demo", "demo tour", 3.0),
)


def run_once(answer: Answer, folder: Path) -> tuple[float, float]:
    """Processor time and time on the wall [s] of one cold run in a folder of its own."""
    command = [sys.executable, "-m", "oxhue.cli.main", *shlex.split(answer.line)]
    # Compiled sources go next to the pieces, whatever the shell says of writing them.
    compiled = {"PYTHONPYCACHEPREFIX": str(folder / "compiled"), "PYTHONDONTWRITEBYTECODE": ""}
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
        raise RuntimeError(f"oxhue {answer.line} was refused: {done.stderr.strip()}")
    return seconds, wall


def time_answers(answers: tuple[Answer, ...], rounds: int) -> dict[str, FloatArray]:
    """Both times (rounds, 2) of each, round after round."""
    taken: dict[str, list[tuple[float, float]]] = {answer.name: [] for answer in answers}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "docs").mkdir()
        os.symlink(EXAMPLES, folder / "docs" / "examples")
        for answer in answers:
            run_once(answer, folder)
        for _ in range(rounds):
            for answer in answers:
                taken[answer.name].append(run_once(answer, folder))
    return {name: np.array(times) for name, times in taken.items()}


def as_table(answers: tuple[Answer, ...], taken: dict[str, FloatArray]) -> list[str]:
    """The lines of the table."""
    head = [
        "| answer | command | processor time [s] | on the wall [s] | goal [s] |",
        "|---|---|---|---|---|",
    ]
    rows = []
    for answer in answers:
        seconds, wall = (Spread.of(column) for column in taken[answer.name].T)
        met = "" if seconds.median <= answer.most_s else ": missed"
        line = answer.line.replace("|", "\\|")
        rows.append(
            f"| {answer.name} | `{line}` | {seconds} | {wall.median:.2f} "
            f"| ≤ {answer.most_s:g}{met} |"
        )
    return head + rows


def main() -> None:
    """Print the table, and keep it if asked."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.answers", description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--only", default="", help="answers whose name holds this")
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    answers = tuple(answer for answer in ANSWERS if asked.only in answer.name)
    table = as_table(answers, time_answers(answers, asked.rounds))
    print("\n".join(table))
    if asked.write:
        title = ["# What an answer costs, cold", "", *(__doc__ or "").strip().splitlines(), ""]
        TABLE.write_text("\n".join([*title, *table, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
