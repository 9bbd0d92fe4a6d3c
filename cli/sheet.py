"""``oxhue sheet``: how is it deposited?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .options import (
    LOGGED,
    Angle,
    AsJson,
    Chart,
    Light,
    LogFile,
    Observer,
    OfSetup,
    Report,
    StackText,
    Text,
    Texts,
    answer,
    check_log_options,
    open_log,
    option,
    parse_viewing,
    read_known,
    say_planned,
    show_progress,
    was_typed,
)

PANEL = "What should I deposit, and how?", 2
if TYPE_CHECKING:
    from ..optics.run_sheet.result import RunSheet

GEOMETRY, SOURCE, GAS = "Where the piece is", "The source in detail", "The gas in the chamber"


def sheet(
    context: typer.Context,
    stack: StackText,
    source: Annotated[
        Text, option("--source", "KIND", "point, plane, wire, boat or sputter.")
    ] = None,
    distance: Annotated[Text, option("--distance", "LENGTH", "From source to piece: 30cm.")] = None,
    rate: Annotated[
        Texts,
        option("--rate", "RATE", "Growth on the piece, 1nm/s; Al=10nm/s for one."),
    ] = None,
    pressure: Annotated[
        Text, option("--pressure", "PRESSURE", "Of the residual gas alone, 1e-5mbar by default.")
    ] = None,
    working_gas: Annotated[
        Text, option("--working-gas", "GAS", "Gas let in for the run: argon.")
    ] = None,
    working_pressure: Annotated[
        Text, option("--working-pressure", "PRESSURE", "Pressure with it: 1e-2mbar.")
    ] = None,
    jar: Annotated[
        Path | None, option("--jar", "FILE", "TOML file that describes the chamber once.")
    ] = None,
    size: Annotated[str, option("--size", "LENGTH", "50mm across, or 25x75mm.")] = "50mm",
    made: Annotated[
        Texts, option("--made", "STEP", "A step as it came out: '1:Al 92nm', or 1:gauge.json.")
    ] = None,
    tooling: Annotated[
        str, option("--tooling", "FACTOR", "Factor, or measured over computed: 99nm/90nm.")
    ] = "1",
    goals: Annotated[
        Texts, option("--goal", "GOAL", "What it is for: --made changes the rest to meet it.")
    ] = None,
    monitor: Annotated[
        Text,
        option("--monitor", "WHAT", "What ends a layer: 532nm, 'led 630nm', lux, eye, ohms, any."),
    ] = None,
    errors: Annotated[
        Text,
        option("--tolerance", "ERRORS", "With --monitor: errors of time and the rest, 5%."),
    ] = None,
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
        Text, option("--wire-diameter", "LENGTH", "Thickness of the wire: 0.4mm.", panel=SOURCE)
    ] = None,
    wire_length: Annotated[
        str, option("--wire-length", "LENGTH", "Length of the heated wire, unwound.", panel=SOURCE)
    ] = "50mm",
    coil: Annotated[
        Text,
        option(
            "--coil",
            "D,PITCH",
            "Coil of the wire: its diameter and pitch, 5mm,0.8mm.",
            panel=SOURCE,
        ),
    ] = None,
    current: Annotated[
        Text,
        option(
            "--current", "CURRENT", "Through the wire, 5A, or of the discharge, 50mA.", panel=SOURCE
        ),
    ] = None,
    voltage: Annotated[
        Text, option("--voltage", "VOLTS", "Of a sputter discharge: 500V.", panel=SOURCE)
    ] = None,
    melted_at: Annotated[
        Text,
        option(
            "--melted-at",
            "CURRENT",
            "In place of the diameter: current at which one melted.",
            panel=SOURCE,
        ),
    ] = None,
    cold_ohms: Annotated[
        Text,
        option(
            "--cold-ohms",
            "OHM",
            "In place of the diameter: resistance when cold, 0.7ohm.",
            panel=SOURCE,
        ),
    ] = None,
    gas: Annotated[
        Text,
        option("--gas", "GAS", "What --pressure is of: water (unbaked) or air (leak).", panel=GAS),
    ] = None,
    base_pressure: Annotated[
        Text,
        option("--base-pressure", "PRESSURE", "Held before gas is let in: 1e-5mbar.", panel=GAS),
    ] = None,
    leak: Annotated[
        Text, option("--leak", "FLOW", "Air that leaks in: 1e-3mbar.l/s.", panel=GAS)
    ] = None,
    pumping: Annotated[
        Text, option("--pumping", "SPEED", "Speed of the pump at the chamber: 2l/s.", panel=GAS)
    ] = None,
    volume: Annotated[Text, option("--volume", "VOLUME", "Of the chamber: 3l.", panel=GAS)] = None,
    plastic: Annotated[
        bool, option("--plastic", None, "Plastic masks, tape or parts near the piece.", panel=GAS)
    ] = False,
    trouble: Annotated[
        Texts,
        option("--trouble", "WORD", "What went wrong before: golden, peels, pinholes, dull."),
    ] = None,
    getter: Annotated[
        Text,
        option("--getter", "AREA", "Wall coated by a sacrificial titanium run: 0.3m2.", panel=GAS),
    ] = None,
    setup: OfSetup = None,
    record: Annotated[
        bool, option("--record", None, "Keep the sheet as a plan of --setup.", panel=LOGGED)
    ] = False,
    log_file: LogFile = None,
    angle: Angle = "0",
    light: Light = "D65",
    observer: Observer = 2,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Run sheet: charge, heat, time and vacuum of each layer, and what the witness must show.

    STACK may be the JSON of a design, which brings its goals along. Steps are numbered from the
    substrate outward, in the order of deposition. What the witness showed after a step may stand
    in place of its thickness: --made '1:R=41% 532nm within 1%' or '1:colour purple'.

    Example: oxhue sheet "Al 80nm / glass" --source boat --distance 30cm --rate 2nm/s
    """
    from ..optics.run_sheet.run_sheet import run_sheet
    from ..optics.units import parse_quantity

    check_log_options(context, setup=setup, record=record)
    known = read_known(setup, "sheet", log_file, metal=_first_metal(stack)) if setup else {}
    parts = known.pop("setup", {}) | {
        name: said
        for name, said in {
            "source": source, "distance": distance, "size": size, "offset": offset, "tilt": tilt,
            "turning": turning, "focus": focus, "ring": ring, "area": area, "wire": wire,
            "wire_diameter": wire_diameter, "wire_length": wire_length, "coil": coil,
            "current": current, "voltage": voltage, "melted_at": melted_at,
            "cold_ohms": cold_ohms, "tooling": tooling,
        }.items()
        if setup is None or was_typed(context, name)
    }  # fmt: skip
    _check_parts(parts)
    gas_parts = known | {
        name: said
        for name, said in {
            "jar": jar, "working_gas": working_gas, "working_pressure": working_pressure,
            "plastic": plastic,
        }.items()
        if setup is None or was_typed(context, name)
    }  # fmt: skip
    with show_progress("changing the layers still to come" if made else "planning the run"):
        planned = run_sheet(
            stack,
            parts, **gas_parts,
            rate=rate, pressure=pressure, gas=gas, getter=getter, base_pressure=base_pressure,
            leak=leak, pumping=pumping, volume=volume, trouble=trouble,
            made=made or [],
            conditions=parse_viewing(light, observer), witness=witness,
            goals=goals, monitor=monitor, errors=errors,
            every_nm=None if every_nm is None else parse_quantity(every_nm, "length_nm", "--every"),
            angle_deg=parse_quantity(angle, "angle_deg", "--angle"),
        )  # fmt: skip
    if record:
        _keep_plan(planned, parts, gas_parts, setup or "", log_file, as_json)
    answer(planned, as_json, chart, report, trusted=planned.trusted)


def _first_metal(stack: str) -> str:
    """The material of the first layer that is deposited, by which the log finds its run."""
    from ..optics.run_sheet.plan_file import as_plan
    from ..optics.run_sheet.run_sheet import laying_order

    films, _, _ = as_plan(stack, None)
    first = [films.all_layers[at].medium.label for at in laying_order(films)[:1]]
    return first[0].partition("(")[0] if first else ""


def _check_parts(parts: dict[str, Any]) -> None:
    from ..optics.errors import InputError

    for name, such in (("source", "boat"), ("distance", "30cm")):
        if parts.get(name) is None:
            raise InputError(f"--{name} is missing: say --{name} {such}, or --setup NAME of a log")


def _keep_plan(
    planned: RunSheet,
    parts: dict[str, Any],
    gas: dict[str, Any],
    setup: str,
    log_file: Path | None,
    as_json: bool,
) -> None:
    """Record a sheet of one layer as a plan, with the settings that a log knows."""
    from ..optics.errors import InputError

    if len(planned.layers) != 1:
        raise InputError("--record keeps a sheet of one layer; a log's run deposits one metal")
    step = planned.layers[0]
    names = ("source", "distance", "wire", "wire_length", "coil", "current")
    settings = {name: parts[name] for name in names if parts.get(name) is not None}
    settings |= {name: gas[name] for name in ("working_gas", "working_pressure") if gas.get(name)}
    if parts.get("wire_diameter") and "tooling" not in parts:
        settings["wire_diameter"] = parts["wire_diameter"]
    with open_log(log_file, write=True) as book:
        made = book.plan(
            setup, planned.stack, metal=step.material, time=f"{step.time_s:.0f}s",
            volts=parts.get("voltage"), plastic=bool(gas.get("plastic")), **settings,
        )  # fmt: skip
    say_planned(made, as_json)
