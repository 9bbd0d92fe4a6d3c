"""``oxhue sheet``: how is it deposited?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from .options import (
    Angle,
    AsJson,
    Chart,
    Light,
    Observer,
    Report,
    answer,
    parse_viewing,
    show_progress,
)

if TYPE_CHECKING:
    from ..optics.deposition.residual_gas import Getter


def sheet(
    stack: Annotated[str, typer.Argument(metavar="STACK", help="Layers from the light inward.")],
    source: Annotated[
        str, typer.Option("--source", metavar="KIND", help="point, plane, wire, boat or sputter.")
    ],
    distance: Annotated[
        str, typer.Option("--distance", metavar="LENGTH", help="From source to piece: 30cm.")
    ],
    rate: Annotated[
        list[str] | None,
        typer.Option(
            "--rate",
            metavar="RATE",
            help="Growth on the piece, 1nm/s by default; Al=10nm/s for one.",
        ),
    ] = None,
    pressure: Annotated[
        str,
        typer.Option(
            "--pressure", metavar="PRESSURE", help="Of the residual gas, without working gas."
        ),
    ] = "1e-5mbar",
    size: Annotated[
        str, typer.Option("--size", metavar="LENGTH", help="50mm across, or 25x75mm.")
    ] = "50mm",
    made: Annotated[
        list[str] | None,
        typer.Option(
            "--made", metavar="STEP", help="A step as it came out: '1:Al 92nm' or 1:gauge.json."
        ),
    ] = None,
    offset: Annotated[
        str, typer.Option("--offset", metavar="LENGTH", help="Piece off the axis.")
    ] = "0mm",
    tilt: Annotated[
        str, typer.Option("--tilt", metavar="DEG", help="Face turned to the axis, degrees.")
    ] = "0",
    turning: Annotated[
        bool, typer.Option("--turning", help="The piece turns about its own middle.")
    ] = False,
    focus: Annotated[
        float,
        typer.Option("--focus", metavar="N", help="Exponent of the cosine of a plane or boat."),
    ] = 1.0,
    ring: Annotated[
        str,
        typer.Option(
            "--ring", metavar="LENGTH", help="Diameter of the ring worn into a sputter target."
        ),
    ] = "0mm",
    area: Annotated[
        str | None,
        typer.Option(
            "--area", metavar="AREA", help="Hot surface that gives vapour; 1cm2 by default."
        ),
    ] = None,
    wire: Annotated[
        str | None,
        typer.Option("--wire", metavar="METAL", help="Metal of the wire: W, Mo, Ta or Ti."),
    ] = None,
    wire_diameter: Annotated[
        str, typer.Option("--wire-diameter", metavar="LENGTH", help="0.8mm.")
    ] = "0.8mm",
    wire_length: Annotated[
        str, typer.Option("--wire-length", metavar="LENGTH", help="Heated, 50mm.")
    ] = "50mm",
    current: Annotated[
        str | None,
        typer.Option("--current", metavar="CURRENT", help="A current you mean to use: 25A."),
    ] = None,
    tooling: Annotated[
        str,
        typer.Option(
            "--tooling", metavar="FACTOR", help="Factor, or measured over computed: 99nm/90nm."
        ),
    ] = "1",
    gas: Annotated[
        str,
        typer.Option("--gas", metavar="GAS", help="What is left: water (unbaked) or air (leak)."),
    ] = "water",
    plastic: Annotated[
        bool, typer.Option("--plastic", help="Plastic masks, tape or parts near the piece.")
    ] = False,
    getter: Annotated[
        str | None,
        typer.Option(
            "--getter", metavar="AREA", help="Wall coated by a sacrificial titanium run: 0.3m2."
        ),
    ] = None,
    pumping: Annotated[
        str | None,
        typer.Option(
            "--pumping", metavar="SPEED", help="Pumping speed, needed with --getter: 50l/s."
        ),
    ] = None,
    witness: Annotated[
        str | None,
        typer.Option(
            "--witness", metavar="BASE", help="Witness slide, if not like the piece: glass."
        ),
    ] = None,
    every_nm: Annotated[
        str | None,
        typer.Option(
            "--every", metavar="THICKNESS", help="Interval between looks inside a layer: 10nm."
        ),
    ] = None,
    angle: Angle = "0",
    light: Light = "D65",
    observer: Observer = 2,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Run sheet: charge, heat, time and vacuum of each layer, and what the witness must show.

    Steps are numbered from the substrate outward, in the order of deposition.

    Example: oxhue sheet "SiO2 188nm / Al 80nm / glass" --source boat --distance 30cm --rate 2nm/s
    """
    # long: options handed on, one a line
    from ..optics.deposition.geometry import Placement, Source
    from ..optics.deposition.residual_gas import Chamber
    from ..optics.deposition.setup import Heater, Setup
    from ..optics.report.style import check_chart_name
    from ..optics.run_sheet.inputs import parse_piece, parse_tooling
    from ..optics.run_sheet.run_sheet import run_sheet
    from ..optics.units import parse_quantity

    def read(text: str, dimension: str, option: str) -> float:
        return parse_quantity(text, dimension, option)

    def read_if(text: str | None, dimension: str, option: str) -> float | None:
        return None if text is None else read(text, dimension, option)

    if chart is not None:
        check_chart_name(chart)
    setup = Setup(
        Source(
            source,  # type: ignore[arg-type]  # it names the kinds it takes
            focus,
            read(wire_length, "length_mm", "--wire-length"),
            read(ring, "length_mm", "--ring"),
        ),
        Placement(
            read(distance, "length_mm", "--distance"),
            read(offset, "length_mm", "--offset"),
            read(tilt, "angle_deg", "--tilt"),
            turning,
        ),
        parse_piece(size),
        Heater(
            read_if(area, "area_cm2", "--area"),
            read(wire_diameter, "length_mm", "--wire-diameter"),
            wire,
            read_if(current, "current_A", "--current"),
        ),
        parse_tooling(tooling),
    )
    chamber = Chamber(
        read(pressure, "pressure_mbar", "--pressure"), gas, plastic, _getter(getter, pumping)
    )
    with show_progress("changing the layers still to come" if made else "planning the run"):
        planned = run_sheet(
            stack,
            setup,
            chamber,
            rate=rate,
            made=made or [],
            conditions=parse_viewing(light, observer),
            witness=witness,
            every_nm=read_if(every_nm, "length_nm", "--every"),
            angle_deg=read(angle, "angle_deg", "--angle"),
        )
    answer(planned, as_json, chart, report)


def _getter(area: str | None, pumping: str | None) -> Getter | None:
    from ..optics.deposition.residual_gas import Getter
    from ..optics.errors import InputError
    from ..optics.units import parse_quantity

    if area is None and pumping is None:
        return None
    if area is None or pumping is None:
        raise InputError("--getter and --pumping go together, as --getter 0.3m2 --pumping 50l/s")
    return Getter(
        parse_quantity(area, "area_cm2", "--getter"),
        parse_quantity(pumping, "pumping_l_s", "--pumping"),
    )
