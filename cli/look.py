"""``oxhue look``: what does this coating look like?"""

from __future__ import annotations

from typing import Annotated

from .options import (
    SEEN_UNDER,
    Angle,
    AsJson,
    Chart,
    Light,
    Observer,
    Report,
    StackText,
    answer,
    option,
    parse_viewing,
)

PANEL = "What does it look like?", 1


def look(
    stack: StackText,
    side: Annotated[
        str, option("--from", "SIDE", "Side looked at: front or back.", panel=SEEN_UNDER)
    ] = "front",
    angle: Angle = "0",
    light: Light = "D65",
    observer: Observer = 2,
    spectrum: Annotated[
        bool, option("--spectrum", None, "Add R and T over wavelength to the JSON.")
    ] = False,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Colour of a stack, reflected and seen through.

    Example: oxhue look "TiO2 45nm / Ti"
    """
    from dataclasses import replace

    from ..optics.look.look import look as look_at
    from ..optics.units import parse_quantity

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
