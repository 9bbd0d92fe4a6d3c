"""All cases of speed against named references: ``python -m benchmarks``.

``--case 2`` runs one case and prints it; ``--quick`` runs everything at toy sizes, to see that
it runs. A full run writes ``RESULTS.md`` and ``growth.png`` beside this file.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from . import doorcases, enginecases, growth, jobcases, mirrorcases
from .results import CaseResult, as_markdown

HERE = Path(__file__).parent
CASES: dict[int, Callable[[bool], CaseResult]] = {
    1: enginecases.one_layer_sweep,
    2: enginecases.random_multilayers,
    3: enginecases.alike_multilayers,
    4: enginecases.gradients,
    5: enginecases.oblique,
    6: jobcases.gauge_tables,
    7: jobcases.maps,
    8: jobcases.start_up,
    9: mirrorcases.designs,
    10: doorcases.door,
}


def main(arguments: list[str] | None = None) -> None:
    """Run the cases asked for, print each as it ends, and write the page of a full run."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--case", type=int, choices=CASES, action="append", help="one case alone")
    parser.add_argument("--quick", action="store_true", help="toy sizes, to see that it runs")
    parser.add_argument("--out", type=Path, help="folder for RESULTS.md and growth.png")
    asked = parser.parse_args(arguments)
    results = []
    for number in asked.case or CASES:
        result = CASES[number](asked.quick)
        results.append(result)
        print(
            f"\n{number}. {result.title}",
            *result.checks,
            *result.findings,
            *result.notes,
            sep="\n  ",
        )
        sys.stdout.flush()
    out = asked.out or (None if asked.quick or asked.case else HERE)
    if out is None:
        return
    out.mkdir(parents=True, exist_ok=True)
    lines = growth.measured(asked.quick)
    growth.draw(lines, out / "growth.png")
    page = as_markdown(results, [*map(str, lines), "", growth.EXPLANATION], "growth.png")
    (out / "RESULTS.md").write_text(page, encoding="utf-8")
    print(f"\nwritten: RESULTS.md and growth.png in {out}")


if __name__ == "__main__":
    main()
