"""``oxhue sheet``: how is it deposited?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from .options import (
    Angle,
    AsJson,
    Chart,
    Light,
    Observer,
    Report,
    StackText,
    Text,
    Texts,
    answer,
    option,
    parse_viewing,
    show_progress,
)

if TYPE_CHECKING:
    from ..optics.deposition.residual_gas import Getter


GEOMETRY, SOURCE, GAS = "Where the piece is", "The source in detail", "The gas in the chamber"


def sheet(
    stack: StackText,
    source: Annotated[str, option("--source", "KIND", "point, plane, wire, boat or sputter.")],
    distance: Annotated[str, option("--distance", "LENGTH", "From source to piece: 30cm.")],
    rate: Annotated[
        Texts,
        option("--rate", "RATE", "Growth on the piece, 1nm/s by default; Al=10nm/s for one."),
    ] = None,
    pressure: Annotated[
        str, option("--pressure", "PRESSURE", "Of the residual gas, without working gas.")
    ] = "1e-5mbar",
    size: Annotated[str, option("--size", "LENGTH", "50mm across, or 25x75mm.")] = "50mm",
    made: Annotated[
        Texts, option("--made", "STEP", "A step as it came out: '1:Al 92nm' or 1:gauge.json.")
    ] = None,
    tooling: Annotated[
        str, option("--tooling", "FACTOR", "Factor, or measured over computed: 99nm/90nm.")
    ] = "1",
    witness: Annotated[
        Text, option("--witness", "BASE", "Witness slide, if not like the piece: glass.")
    ] = None,
    every_nm: Annotated[
        Text,
        option("--every", "THICKNESS", "Interval between looks inside a layer: 10nm."),
    ] = None,
    offset: Annotated[
        str, option("--offset", "LENGTH", "Distance of the piece from the axis.", panel=GEOMETRY)
    ] = "0mm",
    tilt: Annotated[
        str, option("--tilt", "DEG", "Face turned to the axis, degrees.", panel=GEOMETRY)
    ] = "0",
    turning: Annotated[
        bool, option("--turning", None, "The piece turns about its own middle.", panel=GEOMETRY)
    ] = False,
    focus: Annotated[
        float,
        option("--focus", "N", "Exponent of the cosine of a plane or boat.", panel=SOURCE),
    ] = 1.0,
    ring: Annotated[
        str,
        option(
            "--ring", "LENGTH", "Diameter of the ring worn into a sputter target.", panel=SOURCE
        ),
    ] = "0mm",
    area: Annotated[
        Text,
        option("--area", "AREA", "Hot surface that gives vapour; 1cm2 by default.", panel=SOURCE),
    ] = None,
    wire: Annotated[
        Text, option("--wire", "METAL", "Metal of the wire: W, Mo, Ta or Ti.", panel=SOURCE)
    ] = None,
    wire_diameter: Annotated[
        str, option("--wire-diameter", "LENGTH", "Thickness of the wire.", panel=SOURCE)
    ] = "0.8mm",
    wire_length: Annotated[
        str, option("--wire-length", "LENGTH", "Length of the heated wire.", panel=SOURCE)
    ] = "50mm",
    current: Annotated[
        Text, option("--current", "CURRENT", "A current you mean to use: 25A.", panel=SOURCE)
    ] = None,
    gas: Annotated[
        str,
        option("--gas", "GAS", "What is left: water (unbaked) or air (leak).", panel=GAS),
    ] = "water",
    plastic: Annotated[
        bool, option("--plastic", None, "Plastic masks, tape or parts near the piece.", panel=GAS)
    ] = False,
    getter: Annotated[
        Text,
        option("--getter", "AREA", "Wall coated by a sacrificial titanium run: 0.3m2.", panel=GAS),
    ] = None,
    pumping: Annotated[
        Text,
        option("--pumping", "SPEED", "Pumping speed, needed with --getter: 50l/s.", panel=GAS),
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
    from ..optics.run_sheet.inputs import parse_piece, parse_tooling
    from ..optics.run_sheet.run_sheet import run_sheet
    from ..optics.units import parse_quantity

    def read(text: str, dimension: str, option: str) -> float:
        return parse_quantity(text, dimension, option)

    def read_if(text: str | None, dimension: str, option: str) -> float | None:
        return None if text is None else read(text, dimension, option)

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
