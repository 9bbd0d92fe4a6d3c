"""``oxhue materials``: which optical data are there, and from where?"""

from __future__ import annotations

from typing import Annotated

import typer

from . import completing
from .options import AsJson, Chart, Report, answer


def materials(
    name: Annotated[
        str | None,
        typer.Argument(
            metavar="NAME",
            help="A material such as TiO2.",
            autocompletion=completing.complete_materials,
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
    from ..optics.report.style import check_chart_name

    if chart is not None:
        check_chart_name(chart)
        if name is None:
            raise InputError("a chart shows one material; name it, as in 'oxhue materials TiO2'")
    answer(describe_materials(name), as_json, chart, report)
