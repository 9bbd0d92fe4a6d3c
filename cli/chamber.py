"""``oxhue chamber``: what gas is in my jar?"""

from __future__ import annotations

from typing import Annotated

from .options import AsJson, Chart, File, Report, Text, answer, option

PANEL = "What should I deposit, and how?", 3

RUN = "The run"


def chamber(
    jar: Annotated[
        File, option("--jar", "FILE", "TOML file that describes the jar by the names below.")
    ] = None,
    volume: Annotated[Text, option("--volume", "VOLUME", "Of the chamber: 3l.")] = None,
    rise: Annotated[
        Text,
        option(
            "--rise",
            "P,P,TIME",
            "Valve shut, from one pressure to the next: 5e-3mbar,5e-2mbar,60s.",
        ),
    ] = None,
    leak: Annotated[Text, option("--leak", "FLOW", "In place of a test: 1e-3mbar.l/s.")] = None,
    outgassing: Annotated[
        Text, option("--outgassing", "FLOW", "Off the walls after an hour: 1e-4mbar.l/s.")
    ] = None,
    base_pressure: Annotated[
        Text, option("--base-pressure", "PRESSURE", "What the pump holds: 1e-5mbar.")
    ] = None,
    residue: Annotated[
        Text, option("--residue", "GAS", "What that is of, without a leak: water or air.")
    ] = None,
    pumping: Annotated[Text, option("--pumping", "SPEED", "Of the pump alone: 2l/s.")] = None,
    ultimate: Annotated[
        Text, option("--ultimate", "PRESSURE", "What the pump reaches alone: 1e-3mbar.")
    ] = None,
    tube: Annotated[
        Text, option("--tube", "LENGTH,BORE", "Between pump and chamber: 1m,8mm.")
    ] = None,
    walls: Annotated[Text, option("--walls", "AREA", "Inner surface: 1200cm2.")] = None,
    plastic: Annotated[
        bool, option("--plastic", None, "Plastic masks, tape or parts near the piece.")
    ] = False,
    gauge: Annotated[
        Text, option("--gauge", "KIND", "What it is read on: pirani, ion or absolute.")
    ] = None,
    flush: Annotated[
        Text, option("--flush", "N,PRESSURE", "Puffs of working gas: 3,5mbar.", panel=RUN)
    ] = None,
    working_gas: Annotated[
        Text, option("--working-gas", "GAS", "Let in: argon, nitrogen or air.", panel=RUN)
    ] = None,
    working_pressure: Annotated[
        Text,
        option("--working-pressure", "PRESSURE", "What the gauge shows with it.", panel=RUN),
    ] = None,
    metal: Annotated[
        str, option("--metal", "METALS", "Metals to weigh, separated by commas.", panel=RUN)
    ] = "Ti,Al,Cr,Cu,Ag,Au",
    rate: Annotated[str, option("--rate", "RATE", "Growth on the piece.", panel=RUN)] = "0.2nm/s",
    source: Annotated[
        str, option("--source", "KIND", "wire, boat, plane, point or sputter.", panel=RUN)
    ] = "wire",
    distance: Annotated[
        str, option("--distance", "LENGTH", "From source to piece.", panel=RUN)
    ] = "5cm",
    duration: Annotated[
        str, option("--for", "TIME", "How long the metal grows.", panel=RUN)
    ] = "20min",
    pumped: Annotated[
        str, option("--pumped", "TIME", "How long the pump has run before.", panel=RUN)
    ] = "30min",
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Gas in the chamber from pump-down to the end of a run, and what metals become in it.

    Example: oxhue chamber --volume 3l --rise "5e-3mbar,5e-2mbar,60s" --pumping 2l/s
    """
    # long: options handed on, one a line
    from ..optics.chamber.chamber import chamber as weigh_gas

    state = weigh_gas(
        jar,
        volume=volume,
        rise=rise,
        leak=leak,
        outgassing=outgassing,
        base_pressure=base_pressure,
        residue=residue,  # type: ignore[arg-type]  # it names what it takes
        pumping=pumping,
        ultimate=ultimate,
        tube=tube,
        walls=walls,
        plastic=plastic or None,
        gauge=gauge,  # type: ignore[arg-type]  # the same
        flush=flush,
        working_gas=working_gas,
        working_pressure=working_pressure,
        metal=metal,
        rate=rate,
        source=source,  # type: ignore[arg-type]  # the same
        distance=distance,
        duration=duration,
        pumped=pumped,
    )
    answer(state, as_json, chart, report)
