"""A table of results by file: ``python -m benchmarks.mutation.tally first.jsonl [again.jsonl …]``.

Later files hold the survivors of the earlier ones, tried once more; ``--survivors`` lists what is
left. Changes that only types know of are not counted, nor those a later file gives the verdict
``wording``.
"""

from __future__ import annotations

import argparse
import json
import re
from collections import Counter
from pathlib import Path
from typing import Any

TYPES = re.compile(
    r"NDArray\[|TypeAlias|TypeVar|ParamSpec|Literal\[|^Callable\[|__all__|= Callable\["
)


def read(paths: list[Path]) -> tuple[dict[Any, dict[str, Any]], dict[Any, str]]:
    """The first row of every mutant, and the last verdict on it."""
    first: dict[Any, dict[str, Any]] = {}
    last: dict[Any, str] = {}
    for path in paths:
        for row in map(json.loads, path.read_text(encoding="utf-8").splitlines()):
            if TYPES.search(row["before"]):
                continue
            key = row["file"], row["place"], row["after"]
            if row["verdict"] == "wording":
                first.pop(key, None)
                continue
            first.setdefault(key, row)
            last[key] = row["verdict"] if last.get(key) != "killed" else "killed"
    return first, last


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.mutation.tally")
    parser.add_argument("results", nargs="+", type=Path)
    parser.add_argument("--survivors", action="store_true")
    asked = parser.parse_args()
    first, last = read(asked.results)
    tried, before, after = Counter(), Counter(), Counter()
    for key, row in first.items():
        for group in (row["file"], str(Path(row["file"]).parent)):
            tried[group] += 1
            before[group] += row["verdict"] != "survived"
            after[group] += last[key] != "survived"
    print("| file | mutants | killed at first | killed now |\n|---|---|---|---|")
    for group in sorted(tried):
        shares = (
            f"{count[group]} ({count[group] / tried[group]:.0%})" for count in (before, after)
        )
        print(f"| {group} | {tried[group]} | {' | '.join(shares)} |")
    for key, row in first.items():
        if asked.survivors and last[key] == "survived":
            print(row["file"], row["place"], row["before"], "->", row["after"], sep="\t")


if __name__ == "__main__":
    main()
