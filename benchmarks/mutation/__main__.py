"""Mutation check: ``python -m benchmarks.mutation optics/colour --sample 30 --seed 1``.

Run by hand, from the repository's root, after ``pip install mutmut==3.8.1`` and one run of all
tests that notes which lines each test runs and how long it takes::

    python -m pytest --cov --cov-config=benchmarks/mutation/coverage.toml --cov-context=test \\
        --cov-report= --junitxml=build/tests.xml

All tests are collected once. For each mutant a forked child puts the changed source in place and
runs the tests that reach the changed line, the quick ones first, until one fails. The tests of a
mutant are those of which all together take no more than ``--seconds``; a mutant that takes three
times as long as they should counts as killed. Results are added to ``--out``, one JSON line each;
``--again`` runs those that survived there once more.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
from collections import Counter
from pathlib import Path

import pytest

from .mutants import Faults
from .reach import Reach
from .runner import Judge

IGNORED = ["tests/outside/test_list.py", "tests/page", "tests/test_fuzz.py"]


def asked(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.mutation")
    parser.add_argument("paths", nargs="+", type=Path, help="files or folders of optics/")
    parser.add_argument("--sample", type=int, default=30, help="mutants a file at most")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=6.0, help="of tests for a mutant")
    parser.add_argument("--coverage", type=Path, default=Path("build/tests.coverage"))
    parser.add_argument("--durations", type=Path, nargs="+", default=[Path("build/tests.xml")])
    parser.add_argument("--out", type=Path, default=Path("build/mutation.jsonl"))
    parser.add_argument("--again", type=Path, help="an earlier --out: its survivors alone")
    parser.add_argument("--unchecked", action="store_true", help="trust that all tests pass")
    parser.add_argument("--leave-out", nargs="*", default=[], help="parts of names of tests")
    return parser.parse_args(arguments)


class Check:
    """In the place of pytest's loop over tests: the loop over mutants."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.options = options
        self.survivors: set[tuple[str, str, str]] | None = None
        if options.again:
            rows = map(json.loads, options.again.read_text(encoding="utf-8").splitlines())
            self.survivors = {
                (row["file"], row["place"], row["after"])
                for row in rows
                if row["verdict"] == "survived"
            }

    def pytest_configure(self, config: pytest.Config) -> None:  # noqa: ARG002
        """Property tests draw the same examples every time, and do not shrink what fails."""
        from hypothesis import Phase, settings

        phases = [Phase.explicit, Phase.generate]
        settings.register_profile(
            "mutants", derandomize=True, database=None, deadline=None, phases=phases
        )
        settings.load_profile("mutants")

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        left = self.options.leave_out
        items = [item for item in session.items if not any(part in item.nodeid for part in left)]
        reach = Reach(self.options.coverage, self.options.durations, items)
        with self.options.out.open("a", encoding="utf-8") as out:
            for path in self.files():
                self.one_file(path, Judge(path, reach, self.options.seconds), out)
        return True

    def files(self) -> list[Path]:
        found = []
        for path in self.options.paths:
            found += sorted(path.glob("*.py")) if path.is_dir() else [path]
        return [path for path in found if path.name != "__init__.py"]

    def one_file(self, path: Path, judge: Judge, out) -> None:
        faults = Faults(path)
        possible = list(faults)
        if self.survivors is None:
            draw = random.Random(f"{self.options.seed} {path.name}")
            draw.shuffle(possible)
        if not self.options.unchecked and (failing := judge.sound(faults.source)):
            print(f"{path}: left out, for they fail unchanged: {failing}", file=sys.stderr)
        counts: Counter[str] = Counter()
        for mutant in possible:
            change = (str(path), mutant.key, mutant.after)
            if self.survivors is not None and change not in self.survivors:
                continue
            if (code := faults.code(mutant)) is None:
                continue
            verdict, by, seconds = judge.verdict(mutant, code)
            counts[verdict] += 1
            row = {"file": str(path), "place": mutant.key, "before": mutant.before}
            row |= {"after": mutant.after, "verdict": verdict, "by": by, "cpu_s": round(seconds, 2)}
            out.write(json.dumps(row, ensure_ascii=False) + "\n")
            out.flush()
            if self.survivors is None and counts.total() == self.options.sample:
                break
        print(f"{path}: {len(possible)} mutants, {dict(counts)}", file=sys.stderr, flush=True)


def main(arguments: list[str] | None = None) -> None:
    options = asked(arguments)
    ignored = [f"--ignore={path}" for path in IGNORED]
    flags = ["tests", *ignored, "-q", "-s", "-p", "no:cacheprovider", "-p", "no:cov"]
    sys.exit(pytest.main(flags, plugins=[Check(options)]))


if __name__ == "__main__":
    main()
