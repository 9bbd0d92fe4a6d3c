"""``oxhue materials``: which optical data are there, and from where?"""

from __future__ import annotations

from typing import Annotated

import typer

from .options import AsJson, Chart, Report, Text, answer, complete_materials

PANEL = "Data, and your own kiln", 1


def materials(
    name: Annotated[
        Text,
        typer.Argument(
            metavar="NAME", help="A material such as TiO2.", autocompletion=complete_materials
        ),
    ] = None,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """The optical data sets shipped, with source, range and confidence.

    Example: oxhue materials TiO2
    """
    from ..optics.data_sets.result import describe_materials
    from ..optics.errors import InputError

    if chart is not None and name is None:
        raise InputError("a chart shows one material; name it, as in 'oxhue materials TiO2'")
    answer(describe_materials(name), as_json, chart, report)
