"""``oxhue design``: what to deposit for this reflectance?"""

from __future__ import annotations

from typing import Annotated

import typer

from .options import (
    CONTROL,
    EXIT_INTERRUPTED,
    Angle,
    AsJson,
    Chart,
    Cluster,
    Light,
    Observer,
    Report,
    Seed,
    Text,
    Texts,
    Trusted,
    answer,
    option,
    parse_viewing,
    refuse_unused,
    show_progress,
)

PANEL = "What should I deposit, and how?", 1

MAKE = "What can be made"


def design(
    context: typer.Context,
    on: Annotated[
        str,
        option(
            "--on",
            "BASE",
            "What it is deposited on: 'glass' counts one face, 'glass 4mm' the far face too.",
        ),
    ],
    goals: Annotated[
        list[str],
        option(
            "--goal",
            "GOAL",
            "R, T or A with >, < or =; a band, an angle, s or p, luminous, solar; a colour, "
            "emittance, phase or delay, or 'hot mirror', 'notch 532nm'. Repeat for more.",
        ),
    ],
    materials: Annotated[
        str, option("--with", "NAMES", "Materials you have, separated by commas.")
    ],
    max_layers: Annotated[
        int, option("--max-layers", "N", "The most films to deposit.", panel=MAKE)
    ] = 8,
    thinnest_nm: Annotated[
        str, option("--thinnest", "THICKNESS", "Thinnest film that can be made.", panel=MAKE)
    ] = "5nm",
    thickest_nm: Annotated[
        str, option("--thickest", "THICKNESS", "Thickest film that can be made.", panel=MAKE)
    ] = "500nm",
    total_nm: Annotated[
        Text, option("--total", "THICKNESS", "The most that all films may measure.", panel=MAKE)
    ] = None,
    limits: Annotated[
        Texts, option("--limit", "LIMIT", "Of one material: Ag=12..60nm, SiO2=..300nm.", panel=MAKE)
    ] = None,
    outermost: Annotated[
        Text, option("--outermost", "LAYER", "What must lie on top: 'SiO2 20nm'.", panel=MAKE)
    ] = None,
    light_from: Annotated[
        str,
        option("--light-from", "MEDIUM", "In place of air: glass, n=1.56; angles are in it."),
    ] = "air",
    errors: Annotated[
        Text,
        option(
            "--tolerance",
            "ERRORS",
            "Standard deviations: '3%', '1nm', 'index 1%' of a material, 'index each 1%' of a "
            "layer, 'tooling 2%', 'angle 1deg', or several separated by commas.",
            panel=MAKE,
        ),
    ] = None,
    make_robust: Annotated[
        bool,
        option("--robust", None, "Trade merit for a better yield under --tolerance.", panel=MAKE),
    ] = False,
    angle: Angle = "0",
    light: Light = "D65",
    observer: Observer = 2,
    count: Annotated[int, option("--designs", "N", "How many designs to give.", panel=CONTROL)] = 3,
    effort: Annotated[
        int, option("--effort", "N", "Refinements the search may spend.", panel=CONTROL)
    ] = 600,
    samples: Annotated[
        int, option("--samples", "N", "Pieces simulated for each yield.", panel=CONTROL)
    ] = 5000,
    seed: Seed = 1,
    cluster: Cluster = None,
    trusted: Trusted = False,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Films to deposit for a reflectance, a transmittance or a colour.

    Ctrl-C gives the best designs so far. Colours asked for are meant under D65. --angle is that of
    goals which name none, and of the colour shown. The guide has all that goals can say.

    Example: oxhue design --on glass --goal "R>95% 420..680nm" --with Al,SiO2,TiO2
    """
    from ..optics.design.design import design as find_designs
    from ..optics.errors import InputError
    from ..optics.units import parse_quantity

    if seed < 0:
        raise InputError(f"--seed must be 0 or more, not {seed}")
    if errors is None:
        refuse_unused(context, "pieces are simulated under --tolerance alone", "samples")
    with show_progress("looking for designs", cluster, trusted=trusted) as tell:
        found = find_designs(
            on,
            goals,
            materials,
            max_layers=max_layers,
            thinnest_nm=parse_quantity(thinnest_nm, "length_nm", "--thinnest"),
            thickest_nm=parse_quantity(thickest_nm, "length_nm", "--thickest"),
            total_nm=None if total_nm is None else parse_quantity(total_nm, "length_nm", "--total"),
            limits=limits or (),
            outermost=outermost,
            light_from=light_from,
            errors=errors,
            make_robust=make_robust,
            count=count,
            effort=effort,
            samples=samples,
            seed=seed,
            conditions=parse_viewing(light, observer),
            angle_deg=parse_quantity(angle, "angle_deg", "--angle"),
            report=tell,
        )
    answer(found, as_json, chart, report, trusted=found.met or found.interrupted)
    if found.interrupted:
        raise typer.Exit(EXIT_INTERRUPTED)
