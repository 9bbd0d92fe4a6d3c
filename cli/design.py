"""``oxhue design``: what to deposit for this reflectance?"""

from __future__ import annotations

from typing import Annotated

import typer

from .options import (
    EXIT_INTERRUPTED,
    EXIT_NO_TRUST,
    Angle,
    AsJson,
    Chart,
    Cluster,
    Light,
    Observer,
    Report,
    answer,
    parse_viewing,
    show_progress,
)


def design(
    on: Annotated[
        str,
        typer.Option(
            "--on",
            metavar="BASE",
            help="What it is deposited on: 'glass' counts one face, 'glass 4mm' the far face too.",
        ),
    ],
    goals: Annotated[
        list[str],
        typer.Option(
            "--goal",
            metavar="GOAL",
            help="R, T or A with >, < or =; a band, an angle, s or p, luminous, solar; or a "
            "colour, or emittance. Repeat for more.",
        ),
    ],
    materials: Annotated[
        str,
        typer.Option("--with", metavar="NAMES", help="Materials you have, separated by commas."),
    ],
    max_layers: Annotated[
        int, typer.Option("--max-layers", metavar="N", help="The most films to deposit.")
    ] = 8,
    thinnest_nm: Annotated[
        str, typer.Option("--thinnest", metavar="THICKNESS", help="Thinnest film that can be made.")
    ] = "5nm",
    thickest_nm: Annotated[
        str, typer.Option("--thickest", metavar="THICKNESS", help="Thickest film that can be made.")
    ] = "500nm",
    total_nm: Annotated[
        str | None,
        typer.Option("--total", metavar="THICKNESS", help="The most all films may measure."),
    ] = None,
    errors: Annotated[
        str | None,
        typer.Option(
            "--tolerance",
            metavar="ERRORS",
            help="Standard deviations: '3%', '1nm', 'index 1%', 'tooling 2%', 'angle 1deg', or "
            "several separated by commas.",
        ),
    ] = None,
    make_robust: Annotated[
        bool,
        typer.Option("--robust", help="Trade merit for a better yield under --tolerance."),
    ] = False,
    count: Annotated[
        int, typer.Option("--designs", metavar="N", help="How many designs to give.")
    ] = 3,
    effort: Annotated[
        int, typer.Option("--effort", metavar="N", help="Refinements the search may spend.")
    ] = 600,
    samples: Annotated[
        int, typer.Option("--samples", metavar="N", help="Pieces simulated for each yield.")
    ] = 5000,
    cluster: Cluster = None,
    seed: Annotated[int, typer.Option("--seed", metavar="N", help="Seed of all random draws.")] = 1,
    angle: Angle = "0",
    light: Light = "D65",
    observer: Observer = 2,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Films to deposit for a reflectance, a transmittance or a colour.

    Ctrl-C gives the best designs so far. Colours asked for are meant under D65.

    Example: oxhue design --on glass --goal "R>95% 420..680nm" --with Al,SiO2,TiO2
    """
    # long: options handed on, one a line
    from ..optics.design.design import design as find_designs
    from ..optics.errors import InputError
    from ..optics.report.style import check_chart_name
    from ..optics.units import parse_quantity

    if chart is not None:
        check_chart_name(chart)
    if seed < 0:
        raise InputError(f"--seed must be 0 or more, not {seed}")
    with show_progress("looking for designs", cluster) as tell:
        found = find_designs(
            on,
            goals,
            materials,
            max_layers=max_layers,
            thinnest_nm=parse_quantity(thinnest_nm, "length_nm", "--thinnest"),
            thickest_nm=parse_quantity(thickest_nm, "length_nm", "--thickest"),
            total_nm=None if total_nm is None else parse_quantity(total_nm, "length_nm", "--total"),
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
    answer(found, as_json, chart, report)
    if found.interrupted:
        raise typer.Exit(EXIT_INTERRUPTED)
    if not found.met:
        raise typer.Exit(EXIT_NO_TRUST)
