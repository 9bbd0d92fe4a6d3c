"""``oxhue assay``: is it metal, oxide, or something else?"""

from __future__ import annotations

from typing import Annotated, Any

import typer

from .options import (
    EXIT_NO_TRUST,
    AsJson,
    Chart,
    Light,
    Observer,
    Report,
    Seed,
    answer,
    parse_viewing,
)

Text = str | None


def assay(
    metal: Annotated[
        str,
        typer.Option(
            "--metal", metavar="METAL", help="What was deposited: Ti, Al, C ... or unknown."
        ),
    ] = "unknown",
    on: Annotated[str, typer.Option("--on", metavar="BASE", help="What it lies on.")] = "glass",
    seen: Annotated[
        list[str] | None,
        typer.Option("--seen", metavar="COLOUR", help="Film side: a word, #hex or L,a,b."),
    ] = None,
    behind: Annotated[
        list[str] | None,
        typer.Option("--behind", metavar="COLOUR", help="Seen from behind, through the base."),
    ] = None,
    through: Annotated[
        list[str] | None,
        typer.Option("--through", metavar="LIGHT", help="opaque, dim, clear, 'OD 2.4', a colour."),
    ] = None,
    finish: Annotated[
        list[str] | None,
        typer.Option(
            "--finish", metavar="LOOK", help="mirror, glossy, satin, dull, sooty, rainbow or black."
        ),
    ] = None,
    ohms: Annotated[
        Text, typer.Option("--ohms", metavar="READING", help="open, 120ohm or 35ohm/sq.")
    ] = None,
    strip: Annotated[
        Text,
        typer.Option("--strip", metavar="LxW", help="Film between the contacts, as in 30mmx5mm."),
    ] = None,
    four_point: Annotated[
        Text,
        typer.Option(
            "--four-point",
            metavar="FACTOR",
            help="Four points in a row: factor to ohms per square, 'wide', or their spacing.",
        ),
    ] = None,
    mass_gain: Annotated[
        Text, typer.Option("--mass-gain", metavar="MASS", help="Mass gained, as in 0.35mg.")
    ] = None,
    area: Annotated[
        Text, typer.Option("--area", metavar="AREA", help="Area that gained it, as in 12cm2.")
    ] = None,
    wipe: Annotated[
        Text, typer.Option("--wipe", metavar="EFFECT", help="A dry pad: off, smears or stays.")
    ] = None,
    scratch: Annotated[
        Text,
        typer.Option("--scratch", metavar="EFFECT", help="A wooden stick marks it: easy or hard."),
    ] = None,
    warmed: Annotated[
        Text,
        typer.Option("--warmed", metavar="EFFECT", help="Gentle heating in air: changes or same."),
    ] = None,
    guess: Annotated[
        Text, typer.Option("--guess", metavar="THICKNESS", help="Thickness it was meant to have.")
    ] = None,
    pressure: Annotated[
        Text,
        typer.Option(
            "--pressure", metavar="PRESSURE", help="In the chamber while it grew, as in 3e-5mbar."
        ),
    ] = None,
    rate: Annotated[
        Text, typer.Option("--rate", metavar="RATE", help="At which it grew, as in 0.5nm/s.")
    ] = None,
    how: Annotated[
        Text,
        typer.Option(
            "--how", metavar="KIND", help="Kind of reading: word, photo, card or instrument."
        ),
    ] = None,
    expect: Annotated[
        Text,
        typer.Option("--expect", metavar="FILM", help="Instead: what 'Ti 80nm / glass' shows."),
    ] = None,
    seed: Seed = 1,
    light: Light = "D65",
    observer: Observer = 2,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """What a film is: metal, oxide, nitride, carbon ..., from what was noticed of it.

    Example: oxhue assay --metal Ti --seen gold --through clear --ohms open
    """
    from ..optics.assay.assay import assay as weigh
    from ..optics.errors import InputError
    from ..optics.report.style import check_chart_name

    if chart is not None:
        check_chart_name(chart)
    viewing = parse_viewing(light, observer)
    noticed: dict[str, Any] = {
        "seen": seen, "behind": behind, "through": through, "finish": finish, "ohms": ohms,
        "mass_gain": mass_gain, "wipe": wipe, "scratch": scratch, "warmed": warmed, "guess": guess,
    }  # fmt: skip
    if expect is not None:
        from ..optics.assay.expectation import expect as expect_of

        if any(noticed.values()):
            raise InputError("--expect tells what a film should show; leave out what was noticed")
        answer(expect_of(expect, conditions=viewing), as_json, chart, report)
        return
    verdict = weigh(
        **noticed, strip=strip, four_point=four_point, area=area, pressure=pressure, rate=rate,
        how=how, metal=metal, on=on, conditions=viewing, seed=seed,
    )  # fmt: skip
    answer(verdict, as_json, chart, report)
    if not verdict.fits:
        raise typer.Exit(EXIT_NO_TRUST)
