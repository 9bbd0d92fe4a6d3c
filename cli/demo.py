"""``oxhue demo``: show me."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .options import AsJson, Report, answer_parts
from .reporting import format_command

if TYPE_CHECKING:
    from rich.console import Console


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
    from .demo_tour import show_demo

    where = () if report is None else (report.path, format_command(report.context)[1])

    def tour(out: Console | None) -> dict[str, Any]:
        return show_demo(folder, out, *where)

    answer_parts(lambda: tour(None), tour, as_json)
