"""Throw random command lines and broken files at the program: ``python -m benchmarks.fuzz``.

Allowed are exit codes 0 and 3 with an answer (with ``--json`` one object that parses) and 2 with
one sentence on stderr, an empty stdout and no file; in 10 s of processor time and 1 GB. Warnings
count as failures. ``--lines 500 --files 100 --seed 3`` runs so many and adds a row to
``benchmarks/fuzz.md``; ``--from 500`` goes on where an earlier run of the seed stopped;
``--show lines:17`` makes one run again, by itself, and prints it. Needs Linux.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from collections import Counter
from datetime import date
from pathlib import Path

from .worker import Result, one, results

RECORD = Path(__file__).parents[1] / "fuzz.md"


def main() -> None:
    """Read the options, run, print what failed, record what was run."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=0, help="command lines to run")
    parser.add_argument("--files", type=int, default=0, help="broken files to run")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--from", type=int, default=0, dest="first", help="number of the first run")
    parser.add_argument("--show", metavar="KIND:NUMBER", help="make one run again")
    parser.add_argument("--failures", type=Path, help="file that failures are appended to")
    parser.add_argument("--no-record", action="store_true", help="leave fuzz.md as it is")
    given = parser.parse_args()
    if given.show:
        kind, _, item = given.show.partition(":")
        with tempfile.TemporaryDirectory() as whole:
            folder = Path(whole) / "here"
            folder.mkdir()
            os.chdir(folder)
            print(*one(kind, given.seed, int(item), folder), sep="\n")
        return
    for kind in ("lines", "files"):
        count = getattr(given, kind)
        if count:
            done = _run(kind, given.seed, given.first, count, given.failures)
            print(done)
            if not given.no_record:
                _record(done)


def _run(kind: str, seed: int, first: int, count: int, failures: Path | None) -> str:
    """Run a number of them; a row for the record."""
    codes: Counter[str] = Counter()
    slowest = largest = None
    for number, result in enumerate(results(kind, seed, first, count), 1):
        codes["failed" if result.wrong else str(result.code)] += 1
        slowest = max(slowest or result, result, key=lambda one: one.seconds)
        largest = max(largest or result, result, key=lambda one: one.megabytes)
        if result.wrong:
            _tell(result, seed, failures)
        if number % 1000 == 0:
            print(f"{kind} {first + number}: {dict(codes)}", flush=True)
    assert slowest is not None
    assert largest is not None
    counts = " | ".join(str(codes[code]) for code in ("0", "2", "3", "failed"))
    return (
        f"| {date.today()} | {kind} | {seed} | {first}..{first + count - 1} | {counts} | "
        f"{slowest.seconds:.1f} s ({_named(slowest)}) | "
        f"{largest.megabytes:.0f} MB ({_named(largest)}) |"
    )


def _named(result: Result) -> str:
    return f"{result.line[0] if result.line else '?'}, {result.item}"


def _tell(result: Result, seed: int, failures: Path | None) -> None:
    text = f"--seed {seed} --show {result.kind}:{result.item}\n{result.line}\n{result.wrong}\n\n"
    print(text.encode("utf-8", "backslashreplace").decode(), flush=True)
    if failures is not None:
        with failures.open("a", encoding="utf-8", errors="backslashreplace") as stream:
            stream.write(text)


def _record(row: str) -> None:
    with RECORD.open("a", encoding="utf-8") as stream:
        stream.write(row + "\n")


if __name__ == "__main__":
    main()
