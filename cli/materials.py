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
            metavar="NAME", help="A material such as TiO2.", autocompletion=completing.materials
        ),
    ] = None,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """The optical data sets shipped, with source, range and confidence.

    Example: oxhue materials TiO2
    """
    from ..optics.errors import InputError
    from ..optics.films.materials.catalogue import list_materials
    from ..optics.report.style import check_chart_name
    from ..optics.show.charts import chart_material
    from ..optics.show.plain import material_plain
    from ..optics.show.text import show_materials
    from .reporting import materials_grounds

    if chart is not None:
        check_chart_name(chart)
        if name is None:
            raise InputError("a chart shows one material; name it, as in 'oxhue materials TiO2'")
    entries = list_materials(name)
    answer(
        lambda: {"materials": [material_plain(entry) for entry in entries]},
        lambda out: show_materials(entries, out, name is not None),
        as_json,
        chart,
        lambda: chart_material(entries),
        report,
        lambda: materials_grounds(entries),
        lambda: [chart_material(entries)] if name is not None else [],
    )
