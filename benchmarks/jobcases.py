"""Cases 6 to 8: whole jobs, each in a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable

import numpy as np

from .results import CaseResult, Finding
from .timing import Spread, interleaved, ratio

_NUMBERS_AND_PARSER = "import numpy, typer"


def job(name: str, size: int) -> dict[str, float]:
    """One run of a job."""
    return json.loads(_run(["-m", "benchmarks.jobruns", name, str(size)]))  # type: ignore[no-any-return]


def repeated(name: str, size: int, times: int) -> dict[str, Spread]:
    """Several runs of a job, each figure with its spread."""
    runs = [job(name, size) for _ in range(times)]
    return {key: Spread.of(np.array([run[key] for run in runs])) for key in runs[0]}


def gauge_tables(quick: bool) -> CaseResult:
    """Case 6: thickness from colours."""
    count = 300 if quick else 10_000
    found = repeated("gauge", count, 1 if quick else 5)
    return CaseResult(
        6,
        "Gauge, TiO2 on Ti, all doubts",
        (),
        (
            Finding("tables built", found["table_s"], "s", most=0.6),
            Finding("of which the processor's", found["table_cpu_s"], "s"),
            Finding("one row of readings after them", found["one_s"].times(1e3), "ms", most=2.0),
            Finding(
                "one `gauge` from Python after them", found["alone_s"].times(1e3), "ms", most=2.0
            ),
            Finding(f"{count:,} readings", found["many_s"], "s", most=5.0),
        ),
        (
            "Both give candidates and fit check, `gauge` also faults and the whole density; what "
            "to look at next is left until it is asked for. "
            "What agrees with what is tested in `tests/inference`.",
        ),
    )


def maps(quick: bool) -> CaseResult:
    """Case 7: thickness of every pixel."""
    pixels = 100_000 if quick else 12_000_000
    found = repeated("map", pixels, 1 if quick else 5)
    copied = found["seconds"].times(1.0 / found["copy_s"].median)
    return CaseResult(
        7,
        f"Map of {pixels / 1e6:g} megapixels",
        (f"median error of the thicknesses {found['error_nm'].median:.2f} nm",),
        (
            Finding("map in memory, tables included", found["seconds"], "s", most=1.5),
            Finding("of which the processors', two cores together", found["cpu_s"], "s"),
            Finding("peak memory", found["peak_mb"], "MB", most=600.0),
            Finding("of which Python, packages and the picture", found["before_mb"], "MB"),
            Finding("map over moving its bytes once (3 read, 13 written a pixel)", copied),
        ),
    )


def start_up(quick: bool) -> CaseResult:
    """Case 8: from nothing to an answer, and a long sweep."""
    budget, least = (0.1, 1) if quick else (30.0, 7)
    taken = interleaved(
        {
            "bare": _timed(["-c", _NUMBERS_AND_PARSER]),
            "help": _timed(["-m", "oxhue.cli.main", "--help"]),
            "look": _timed(["-m", "oxhue.cli.main", "look", "TiO2 45nm / Ti"]),
        },
        budget,
        least,
    )
    points = 10_000 if quick else 1_000_000
    sweep = repeated("sweep", points, 1 if quick else 3)
    return CaseResult(
        8,
        "Start-up and long sweeps",
        (),
        (
            Finding(
                "`oxhue --help` over `import numpy, typer`",
                ratio(taken["help"], taken["bare"]),
                most=4.0,
            ),
            Finding('`oxhue look "TiO2 45nm / Ti"`, cold', Spread.of(taken["look"]), "s", most=2.5),
            Finding(f"colours of {points:,} thicknesses", sweep["seconds"], "s", most=2.5),
            Finding("peak memory of that sweep", sweep["peak_mb"], "MB", most=400.0),
        ),
        ("Which module each verb may load is tested in `tests/cli/test_imports.py`.",),
    )


def _timed(arguments: list[str]) -> Callable[[], None]:
    def run() -> None:
        _run(arguments)

    return run


def _run(arguments: list[str]) -> str:
    done = subprocess.run([sys.executable, *arguments], capture_output=True, text=True, check=True)
    return done.stdout
