"""``oxhue demo``: show me."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .options import AsJson, Report, answer, show_progress
from .reporting import format_command

PANEL = "Where to start", 1


def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Where the report and its charts go.")
    ] = Path("oxhue-demo"),
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Colours of a titanium numeral plate in the kiln, and its oxide from a colour seen.

    Example: oxhue demo
    """
    with show_progress("loading what charts are drawn with") as tell:
        from ..optics.report.style import use_own_style
        from .demo_tour import run_demo

        use_own_style()
        if report is None:
            tour = run_demo(folder, tell=tell)
        else:
            _, command = format_command(report.context)
            tour = run_demo(folder, report=report.path, command=command, tell=tell)
    answer(tour, as_json)
