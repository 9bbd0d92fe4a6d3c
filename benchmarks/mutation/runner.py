"""One mutant in a forked child, so that nothing is imported or collected twice."""

from __future__ import annotations

import gc
import importlib
import os
import resource
import signal
import time
from pathlib import Path

import pytest

from .graft import all_caches, install
from .mutants import Mutant
from .reach import Names, Reach

MEMORY = 4 << 30  # bytes of address space a child may ask for
WALL_S = 90.0  # a child that sleeps uses no processor time


class Judge:
    """Whether the tests of one file's lines notice a change."""

    def __init__(self, path: Path, reach: Reach, seconds: float) -> None:
        self.path, self.reach, self.seconds = path, reach, seconds
        self.lines = reach.lines(path)
        self.names = Names(path.read_text(encoding="utf-8"))
        self.module = importlib.import_module("oxhue." + ".".join(path.with_suffix("").parts))
        self.kills: dict[str, int] = {}
        gc.unfreeze()  # what is frozen is not listed
        self.caches = all_caches()
        gc.freeze()  # a collection in a child would copy every page

    def verdict(self, mutant: Mutant, code: str) -> tuple[str, str, float]:
        """``killed``, ``survived`` or ``timeout``; by which test; processor time used [s]."""
        items, expected = self.reach.chosen(
            self.path, self.lines, self.names.reached_from(mutant), self.seconds
        )
        if not items:
            return "survived", "no test runs this line", 0.0
        return self.judged(self.likely_first(items), expected, code, not mutant.inside)

    def sound(self, source: str) -> list[str]:
        """Tests that fail though nothing was changed; they are left out from here on."""
        failing = []
        while True:
            items, expected = self.reach.chosen(
                self.path, self.lines, set(self.lines), 1.5 * self.seconds
            )
            if not items:
                return failing
            verdict, by, _ = self.judged(items, expected, source, constants=True)
            if verdict == "survived":
                return failing
            failing.append(by or verdict)
            if by not in self.reach.items:
                raise RuntimeError(f"{self.path} unchanged: {verdict} {by}")
            del self.reach.items[by]

    def judged(
        self, items: list[pytest.Item], expected: float, code: str, constants: bool
    ) -> tuple[str, str, float]:
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read)
            self.trial(code, constants, items, write, 3.0 * expected + 3.0)
        os.close(write)
        return self.outcome(child, read)

    def likely_first(self, items: list[pytest.Item]) -> list[pytest.Item]:
        """Tests that killed others of this file lead, with the rest of their own file behind."""
        score = {item.nodeid.partition("::")[0]: 0 for item in items}
        for test, times in self.kills.items():
            home = test.partition("::")[0]
            if home in score:
                score[home] += times
        place = {file: rank for rank, file in enumerate(score)}

        def key(item: pytest.Item) -> tuple[int, int, int]:
            home = item.nodeid.partition("::")[0]
            return -score[home], place[home], -self.kills.get(item.nodeid, 0)

        return sorted(items, key=key)

    def trial(
        self, code: str, constants: bool, items: list[pytest.Item], write: int, limit_s: float
    ) -> None:
        """In the child: run the tests until one fails; never returns."""
        os.setpgid(0, 0)
        limit = int(limit_s) + 1
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nowhere, stream)

        class Stop:
            def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
                if report.failed:
                    os.write(write, report.nodeid.encode())
                    os._exit(1)

        try:
            install(self.module, code, constants, self.caches)
            items[0].config.pluginmanager.register(Stop())
            for item, after in zip(items, [*items[1:], None], strict=True):
                item.ihook.pytest_runtest_protocol(item=item, nextitem=after)
        except BaseException as problem:
            os.write(write, f"{type(problem).__name__}: {problem}".encode()[:200])
            os._exit(1)
        os._exit(0)

    def outcome(self, child: int, read: int) -> tuple[str, str, float]:
        ends = time.monotonic() + WALL_S
        late = False
        while True:
            done, status, usage = os.wait4(child, os.WNOHANG)
            if done:
                break
            if time.monotonic() > ends and not late:
                late = True
                os.killpg(child, signal.SIGKILL)
            time.sleep(0.005)
        by = os.read(read, 4000).decode(errors="replace")
        os.close(read)
        seconds = usage.ru_utime + usage.ru_stime
        if os.WIFSIGNALED(status):
            return ("timeout" if late or seconds > 2.0 else "killed"), "", seconds
        if os.WEXITSTATUS(status):
            self.kills[by] = self.kills.get(by, 0) + 1
            return "killed", by, seconds
        return "survived", "", seconds
