"""What a run found, and how it is written down."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from .timing import Spread

_PACKAGES = ("numpy", "scipy", "colour-science")


@dataclass(frozen=True)
class Finding:
    """One figure with the goal it is held against.

    Attributes
    ----------
    what : str
    value : Spread
    unit : str
        ``x`` for a ratio.
    least, most : float or None
        The goal, where there is one.
    """

    what: str
    value: Spread
    unit: str = "x"
    least: float | None = None
    most: float | None = None

    @property
    def goal(self) -> str:
        """The goal in words, and whether the median meets it."""
        if self.least is not None:
            met = self.value.median >= self.least
            return f"≥ {self.least:g} {self.unit}: {'met' if met else 'missed'}"
        if self.most is not None:
            met = self.value.median <= self.most
            return f"≤ {self.most:g} {self.unit}: {'met' if met else 'missed'}"
        return ""

    def __str__(self) -> str:
        return f"{self.what}: {self.value} {self.unit}" + (f"  [{self.goal}]" if self.goal else "")


@dataclass(frozen=True)
class CaseResult:
    """All figures of one case, and what was checked before they were taken."""

    number: int
    title: str
    checks: tuple[str, ...]
    findings: tuple[Finding, ...]
    notes: tuple[str, ...] = ()


def machine() -> list[str]:
    """The processor, the cores and the versions, with nothing that names the machine itself."""
    found = []
    for package in _PACKAGES:
        try:
            found.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            found.append(f"{package} not installed")
    load = (
        f"; load average {os.getloadavg()[0]:.1f} at the end" if hasattr(os, "getloadavg") else ""
    )
    return [
        f"- Processor: {_processor()}, {_cores()} cores{load}.",
        f"- Python {platform.python_version()}, {', '.join(found)}.",
    ]


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    if info.exists():
        for line in info.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.split(":", 1)[1].strip()
    return platform.processor() or platform.machine()


def as_markdown(results: Sequence[CaseResult], growth: Sequence[str], picture: str | None) -> str:
    """The page of results."""
    lines = [
        "# Speed",
        "",
        "Written by `python -m benchmarks`. Each case first checks that all ways of computing it",
        "agree, then takes them in turns: the median of the rounds, in brackets where the middle",
        "four fifths of them lie. Ratios are taken within a round.",
        "",
        *machine(),
        "",
    ]
    for result in results:
        lines += [f"## {result.number}. {result.title}", ""]
        lines += ["| figure | measured | goal |", "|---|---|---|"]
        lines += [f"| {f.what} | {f.value} {f.unit} | {f.goal} |" for f in result.findings]
        lines += [""]
        if result.checks:
            lines += ["Checked first: " + "; ".join(result.checks) + ".", ""]
        for note in result.notes:
            lines += [note, ""]
    if growth:
        lines += ["## Growth of cost", ""]
        if picture is not None:
            lines += [f"![Cost against size]({picture})", ""]
        lines += [*growth, ""]
    return "\n".join(lines)


def read_kept(path: Path) -> list[dict[str, Any]]:
    """What earlier runs left in a file, one result a line; none if it is not there yet."""
    if not path.exists():
        return []
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def keep_result(path: Path, result: dict[str, Any]) -> None:
    """Add one result to the file, so that a run broken off goes on where it was."""
    with path.open("a", encoding="utf-8") as stream:
        stream.write(json.dumps(result) + "\n")


def keep_row(table: Path, header: Sequence[str], line: str) -> None:
    """Put one row into a table, in place of what it says of the same first column."""
    old = table.read_text(encoding="utf-8").splitlines() if table.exists() else []
    rows = {row.split("|")[1]: row for row in [*old[len(header) :], line] if "|" in row}
    table.write_text("\n".join([*header, *rows.values(), ""]), encoding="utf-8")
