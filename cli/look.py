"""``oxhue look``: what does this coating look like?"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from .options import Angle, AsJson, Chart, Light, Observer, Report, answer, viewing_of


def look(
    stack: Annotated[str, typer.Argument(metavar="STACK", help="Layers from the light inward.")],
    from_: Annotated[
        str, typer.Option("--from", metavar="SIDE", help="Side looked at: front or back.")
    ] = "front",
    spectrum: Annotated[
        bool, typer.Option("--spectrum", help="Add R and T over wavelength to the JSON.")
    ] = False,
    angle: Angle = "0",
    light: Light = "D65",
    observer: Observer = 2,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Colour of a stack, reflected and seen through.

    Example: oxhue look "TiO2 45nm / Ti"
    """
    from ..optics.look.look import look as look_job
    from ..optics.report.style import check_chart_name
    from ..optics.show.charts import chart_look
    from ..optics.show.plain import check_listed, look_plain
    from ..optics.show.text import show_look
    from ..optics.units import parse_quantity
    from .reporting import grounds_of

    if chart is not None:
        check_chart_name(chart)
    seen = look_job(
        stack,
        parse_quantity(angle, "angle_deg", "--angle"),
        from_,  # type: ignore[arg-type]  # the job names the sides it takes
        viewing_of(light, observer),
        spectrum=spectrum or chart is not None or report is not None,
    )
    if as_json:
        check_listed(seen)  # before a chart is written
    drawable = len(seen.stack.sweep_shape) < 2  # a report of more has its table alone
    answer(
        lambda: look_plain(seen if spectrum else replace(seen, response=None)),
        lambda out: show_look(seen, out),
        as_json,
        chart,
        lambda: chart_look(seen),
        report,
        lambda: grounds_of(seen),
        lambda: [chart_look(seen)] if drawable else [],
    )
