"""Which tests run a line, and how long each takes."""

from __future__ import annotations

import ast
import xml.etree.ElementTree as ElementTree
from collections import defaultdict
from pathlib import Path

import pytest
from coverage import CoverageData

from .mutants import Mutant

MIRROR_FIRST = 3.0  # a test of the mirrored file counts as that much shorter


class Names:
    """Which lines of a file a change reaches: its own, or those that use what it defines."""

    def __init__(self, source: str) -> None:
        self.defined: dict[int, set[str]] = {}
        self.used: dict[str, set[int]] = defaultdict(set)
        tree = ast.parse(source)
        for statement in tree.body:
            if isinstance(statement, ast.Assign | ast.AnnAssign):
                targets = {
                    node.id
                    for node in ast.walk(statement)
                    if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
                }
                for line in range(statement.lineno, (statement.end_lineno or 0) + 1):
                    self.defined[line] = targets
        for node in ast.walk(tree):
            if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
                self.used[node.id].add(node.lineno)

    def reached_from(self, mutant: Mutant) -> set[int]:
        first, last = mutant.statement
        reached = set(range(first, last + 1))
        if mutant.inside:
            return reached
        ahead = list(reached)
        while ahead:
            for name in self.defined.get(ahead.pop(), ()):
                new = self.used[name] - reached
                reached |= new
                ahead += new
        return reached


class Reach:
    """The tests that a run under coverage saw on each line of each file."""

    def __init__(self, coverage: Path, durations: list[Path], items: list[pytest.Item]) -> None:
        self.data = CoverageData(str(coverage))
        self.data.read()
        self.items = {item.nodeid: item for item in items}
        self.by_file = defaultdict(list)
        for item in items:
            self.by_file[item.nodeid.partition("::")[0]].append(item)
        self.seconds: dict[str, float] = {}
        cases = (case for one in durations for case in ElementTree.parse(one).iter("testcase"))
        for case in cases:
            home = case.get("classname", "").replace(".", "/")
            self.seconds[f"{home}.py::{case.get('name')}"] = float(case.get("time", 0.0))

    def lines(self, path: Path) -> dict[int, set[str]]:
        """Line number → tests. What a fixture runs counts for every test of its file."""
        found: dict[int, set[str]] = defaultdict(set)
        for line, contexts in self.data.contexts_by_lineno(str(path.resolve())).items():
            for context in contexts:
                test, _, phase = context.rpartition("|")
                if phase == "run":
                    found[line].add(test)
                elif phase == "setup":
                    home = test.partition("::")[0]
                    found[line].update(item.nodeid for item in self.by_file[home])
        return found

    def chosen(
        self, path: Path, lines: dict[int, set[str]], wanted: set[int], seconds: float
    ) -> tuple[list[pytest.Item], float]:
        """The quickest tests of the lines wanted, as many as fit, grouped by their file."""
        mirror = str(Path("tests", *path.parts[1:-1], f"test_{path.name}"))
        tests: set[str] = set().union(*(lines.get(line, set()) for line in wanted))
        # A name may be used, and what a function kept be asked for, where none of its lines is run.
        tests |= {item.nodeid for item in self.by_file.get(mirror, [])}
        if not tests:  # run when the module was imported, if at all
            tests = set().union(*lines.values())
        if not tests:
            tests = {test for test in self.items if test.startswith(f"tests/{path.parent.name}/")}

        def cost(test: str) -> float:
            share = MIRROR_FIRST if test.startswith(mirror) else 1.0
            return self.seconds.get(test, 0.0) / share

        picked: dict[str, list[pytest.Item]] = defaultdict(list)
        total = 0.0
        for test in sorted(tests & self.items.keys(), key=lambda test: (cost(test), test)):
            took = self.seconds.get(test, 0.0) + 0.01
            if total + took > seconds and total > 0.0:
                break
            total += took
            picked[test.partition("::")[0]].append(self.items[test])
        files = sorted(picked, key=lambda file: (file != mirror, len(picked[file])))
        return [item for file in files for item in picked[file]], total
