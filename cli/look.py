"""``oxhue look``: what does this coating look like?"""

from __future__ import annotations

from typing import Annotated

import typer

from .options import Angle, AsJson, Chart, Light, Observer, Report, answer, parse_viewing


def look(
    stack: Annotated[str, typer.Argument(metavar="STACK", help="Layers from the light inward.")],
    side: Annotated[
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
    from dataclasses import replace

    from ..optics.look.look import look as look_at
    from ..optics.report.style import check_chart_name
    from ..optics.units import parse_quantity

    if chart is not None:
        check_chart_name(chart)
    drawn = chart is not None or report is not None
    seen = look_at(
        stack,
        angle_deg=parse_quantity(angle, "angle_deg", "--angle"),
        side=side,  # type: ignore[arg-type]  # look() names the sides it takes
        conditions=parse_viewing(light, observer),
        spectrum=spectrum or drawn,
    )
    listed = seen if spectrum else replace(seen, spectra=None)
    answer(seen, as_json, chart, report, listed=listed)
