"""The list of checks against things outside the project, made by running them.

Run as ``python -m tools.outside_checks``: it runs ``tests/outside`` and writes its ``README.md``.
Each check states its source, tag and tolerance in a mark, ``@pytest.mark.source("whence", "read",
"half the last printed digit")``, for a module in ``pytestmark``; how far it came out is taken from
its own ``np.testing.assert_allclose`` and ``pytest.approx``. The tests themselves compare the list
with what they find.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest

README = Path(__file__).parents[1] / "tests" / "outside" / "README.md"
TAGS = ("read", "from memory", "computed", "common practice")
KEPT = pytest.StashKey[dict[str, "Row"]]()

_ROUNDING = 1e-6  # differences below this are rounding, and differ from machine to machine
_SLACK = 1.25  # by how much a listed distance may differ from that found elsewhere
_HEAD = """# Checks against things outside the project

Made by `python -m tools.outside_checks` from the checks themselves, which fail where a line no
longer says what they find. Tags: *read* was looked up for the check, *from memory* was not looked
up again, *computed* was worked out apart from the code under test, *common practice* has no source.
The distance is the largest one of a check next to what it allows; `rounding` is below 1e-6, `holds`
is a check without a number to it. Nothing was tuned to make a check pass; those that do not hold
say so.

"""


@dataclass(frozen=True)
class Distance:
    """How far a value came out, and how far it might have; relative to the value or not."""

    found: float
    allowed: float
    relative: bool

    @property
    def share(self) -> float:
        """Of what is allowed."""
        return self.found / self.allowed if self.allowed else np.inf * (self.found > 0.0)

    def __str__(self) -> str:
        if self.found < _ROUNDING:
            return "rounding"
        if self.relative:
            return f"{100.0 * self.found:.2g} % of {100.0 * self.allowed:.3g} %"
        return f"{self.found:.2g} of {self.allowed:.3g}"

    def is_near(self, other: Distance) -> bool:
        """Whether another machine may well have found this."""
        if min(self.found, other.found) < _ROUNDING:
            return max(self.found, other.found) < _ROUNDING * _SLACK
        return 1.0 / _SLACK < self.found / other.found < _SLACK


@dataclass
class Row:
    """One check: its mark, and the worst of what its cases found."""

    module: str
    line: int
    name: str
    source: str
    tag: str
    why: str
    fails: str = ""
    distances: list[Distance] = field(default_factory=list)

    @property
    def worst(self) -> Distance | None:
        """The distance nearest to, or furthest past, what is allowed."""
        beyond = [one for one in self.distances if one.found >= _ROUNDING]
        return max(beyond or self.distances, key=lambda one: one.share, default=None)

    @property
    def said(self) -> str:
        """The last cell of its line."""
        found = [str(self.worst)] if self.worst else []
        if self.fails:
            return f"**does not hold**: {'; '.join([*found, self.fails])}"
        return "".join(found) or "holds"

    @property
    def start(self) -> str:
        """Its line up to the distance."""
        words = self.name.removeprefix("test_").replace("_", " ")
        return f"| {words} | {self.source} | {self.tag} | {self.why} | "


def measured(found: Any, expected: Any, relative: float, absolute: float) -> Distance | None:
    """The worst difference of numbers from what was expected; None where they are no numbers."""
    try:
        a, b = np.broadcast_arrays(np.asarray(found), np.asarray(expected))
        difference = np.abs(a - b).astype(float).ravel()
    except (TypeError, ValueError):
        return None
    size = np.abs(b).astype(float).ravel()
    if not difference.size or not np.isfinite(difference).all():
        return None
    allowed = np.maximum(absolute, 0.0) + relative * size
    at = int(np.argmax(difference / np.maximum(allowed, 1e-300)))
    if relative * size[at] > absolute:
        return Distance(float(difference[at] / size[at]), relative, True)
    return Distance(float(difference[at]), float(allowed[at]), False)


def text_of(rows: dict[str, Row]) -> str:
    """The whole list."""
    parts, module = [_HEAD.rstrip("\n")], ""
    for row in sorted(rows.values(), key=lambda row: (row.module, row.line)):
        if row.module != module:
            module = row.module
            parts.append(f"\n## {module.removeprefix('test_').replace('_', ' ')}\n")
            parts.append("| check | source | tag | tolerance | distance |\n|---|---|---|---|---|")
        parts.append(f"{row.start}{row.said} |")
    return "\n".join(parts) + "\n"


def listed_distance(said: str) -> Distance | None:
    """The distance in the last cell of a line."""
    if "rounding" in said:
        return Distance(0.0, 0.0, False)
    match = re.search(r"([\d.e+-]+)( %)? of ([\d.e+-]+)", said)
    if match is None:
        return None
    scale = 0.01 if match[2] else 1.0
    return Distance(scale * float(match[1]), scale * float(match[3]), bool(match[2]))


class _Writer:
    """Writes the list when all checks have run."""

    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        README.write_text(text_of(session.config.stash[KEPT]), encoding="utf-8")


def main() -> None:
    """Run the checks and write their list."""
    README.unlink(missing_ok=True)
    code = pytest.main(["-q", "-p", "no:cacheprovider", str(README.parent)], plugins=[_Writer()])
    print(f"{README} written")
    if code not in (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED):
        raise SystemExit(code)


if __name__ == "__main__":
    from tools.outside_checks import main as of_the_module  # whose keys the tests know

    of_the_module()
