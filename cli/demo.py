"""``oxhue demo``: show me."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .options import Report
from .reporting import made_by


def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Where the report and its charts go.")
    ] = Path("oxhue-demo"),
    report: Report = None,
) -> None:
    """Colours of a titanium numeral plate in the kiln, and its oxide from a colour seen.

    Example: oxhue demo
    """
    from ..optics.show.demo import show_demo
    from ..optics.show.text import console

    if report is None:
        show_demo(folder, console())
    else:
        show_demo(folder, console(), report.path, made_by(report.context)[1])
