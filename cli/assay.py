"""``oxhue assay``: is it metal, oxide, or something else?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from .options import (
    EXIT_NO_TRUST,
    AsJson,
    Chart,
    Light,
    Observer,
    Report,
    Seed,
    answer_parts,
    parse_viewing,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ..optics.assay.observations import Observation
    from ..optics.colour.conditions import ViewingConditions

Text = str | None


def assay(
    metal: Annotated[
        str,
        typer.Option(
            "--metal", metavar="METAL", help="What was laid down: Ti, Al, C ... or unknown."
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
    from ..optics.assay.assay import assay as assay_job
    from ..optics.errors import InputError
    from ..optics.report.style import check_chart_name
    from ..optics.show.charts_assay import chart_verdict
    from ..optics.show.plain_assay import verdict_plain
    from ..optics.show.text_assay import show_verdict
    from .reporting import provenance_of

    if chart is not None:
        check_chart_name(chart)
    viewing = parse_viewing(light, observer)
    if expect is not None:
        if any((seen, behind, through, finish, ohms, mass_gain, wipe, scratch, warmed, guess)):
            raise InputError("--expect tells what a film should show; leave out what was noticed")
        _expect(expect, viewing, chart, as_json, report)
        return
    noticed = [
        *_read_colours(seen or [], behind or [], through or [], finish or [], how, viewing),
        *_read_measurements(ohms, strip, four_point, mass_gain, area, viewing),
        *_read_handling(wipe, scratch, warmed, guess, viewing),
        *_read_circumstances(metal, pressure, rate),
    ]
    verdict = assay_job(noticed, metal, on, seed, viewing)
    answer_parts(
        lambda: verdict_plain(verdict),
        lambda out: show_verdict(verdict, out),
        as_json,
        chart,
        lambda: chart_verdict(verdict),
        report,
        lambda: provenance_of(verdict),
    )
    if not verdict.fits:
        raise typer.Exit(EXIT_NO_TRUST)


def _read_colours(
    front: list[str],
    behind: list[str],
    through: list[str],
    finish: list[str],
    how: str | None,
    viewing: ViewingConditions,
) -> Iterator[Observation]:
    from ..optics.assay import inputs as read

    yield from (read.parse_front_colour(text, how, viewing) for text in front)
    yield from (read.parse_back_colour(text, how, viewing) for text in behind)
    yield from (read.parse_light_through(text, how, viewing) for text in through)
    yield from (read.parse_finish(text, viewing) for text in finish)


def _read_measurements(
    ohms: Text,
    strip: Text,
    four_point: Text,
    mass_gain: Text,
    area: Text,
    viewing: ViewingConditions,
) -> Iterator[Observation]:
    from ..optics.assay.inputs import parse_gained_mass, parse_meter
    from ..optics.errors import InputError

    if ohms is not None:
        yield parse_meter(ohms, strip, four_point)
    elif strip is not None or four_point is not None:
        raise InputError("--strip and --four-point go with --ohms")
    if mass_gain is not None:
        yield parse_gained_mass(mass_gain, area, viewing)
    elif area is not None:
        raise InputError("--area goes with --mass-gain")


def _read_handling(
    wipe: Text, scratch: Text, warmed: Text, guess: Text, viewing: ViewingConditions
) -> Iterator[Observation]:
    from ..optics.assay import inputs as read

    readers = (
        (wipe, read.parse_wipe), (scratch, read.parse_scratch), (warmed, read.parse_warmed),
        (guess, read.parse_meant_thickness),
    )  # fmt: skip
    yield from (reader(text, viewing) for text, reader in readers if text is not None)


def _read_circumstances(metal: str, pressure: Text, rate: Text) -> Iterator[Observation]:
    from ..optics.assay.inputs import parse_deposition
    from ..optics.errors import InputError

    if pressure is not None and rate is not None:
        yield parse_deposition(metal, pressure, rate)
    elif pressure is not None or rate is not None:
        raise InputError("--pressure and --rate go together: both set how much gas a film takes up")


def _expect(
    text: str, viewing: ViewingConditions, chart: Chart, as_json: bool, report: Report
) -> None:
    from ..optics.assay.expectation import expect
    from ..optics.show.charts_assay import chart_expectation
    from ..optics.show.plain_assay import expectation_plain
    from ..optics.show.text_assay import show_expectation
    from .reporting import provenance_of

    expectation = expect(text, viewing)
    answer_parts(
        lambda: expectation_plain(expectation),
        lambda out: show_expectation(expectation, out),
        as_json,
        chart,
        lambda: chart_expectation(expectation),
        report,
        lambda: provenance_of(expectation),
    )
