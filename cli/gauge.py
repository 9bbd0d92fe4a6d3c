"""``oxhue gauge``: how thick is it, from what I saw?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from .gauge_rows import ManyQuestion, gauge_rows
from .options import (
    EXIT_NO_TRUST,
    AsJson,
    Chart,
    Cluster,
    Film,
    How,
    Light,
    Observer,
    On,
    Report,
    Seed,
    answer,
    parse_viewing,
    show_progress,
    split_films,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ..optics.inference.reading import Reading

Looks = Annotated[
    list[str] | None,
    typer.Option(
        metavar="COLOUR",
        help="A word, #hex or L,a,b; 'angle=60' after it if tilted. Repeat for more looks.",
    ),
]


def gauge(
    film: Film,
    on: On,
    seen: Looks = None,
    through: Annotated[
        list[str] | None,
        typer.Option("--through", metavar="COLOUR", help="Colour seen through the piece."),
    ] = None,
    behind: Annotated[
        list[str] | None,
        typer.Option("--behind", metavar="COLOUR", help="Colour seen from behind, through glass."),
    ] = None,
    before: Annotated[
        list[str] | None,
        typer.Option(
            "--before",
            metavar="COLOUR",
            help="Colour it had when thinner, or nearer the thin edge; repeat from thin to thick.",
        ),
    ] = None,
    photo: Annotated[
        Path | None, typer.Option("--photo", metavar="FILE", help="Photo with the spot in it.")
    ] = None,
    patch: Annotated[
        str | None, typer.Option("--patch", metavar="X,Y,W,H", help="Where the film is on it.")
    ] = None,
    white: Annotated[
        str | None, typer.Option("--white", metavar="X,Y,W,H", help="Where a white card is on it.")
    ] = None,
    bare: Annotated[
        str | None, typer.Option("--bare", metavar="X,Y,W,H", help="Where bare metal is on it.")
    ] = None,
    readings: Annotated[
        Path | None,
        typer.Option("--readings", metavar="FILE", help="CSV of many pieces, one a row."),
    ] = None,
    one_piece: Annotated[
        bool,
        typer.Option(
            "--one-piece", help="With --readings: the rows are spots of one piece in one photo."
        ),
    ] = False,
    rising: Annotated[
        bool, typer.Option("--rising", help="With --one-piece: never thinner from row to row.")
    ] = False,
    in_a_row: Annotated[
        bool,
        typer.Option(
            "--in-a-row",
            help="With --one-piece: the rows follow a line, and thickness changes gently along it.",
        ),
    ] = False,
    as_csv: Annotated[
        bool, typer.Option("--csv", help="With --readings: print CSV, one estimate a row.")
    ] = False,
    as_lines: Annotated[
        bool,
        typer.Option("--lines", help="With --readings: print JSON lines, one estimate a row."),
    ] = False,
    how: How = None,
    between: Annotated[
        str, typer.Option("--between", metavar="RANGE", help="Thickness known to lie in.")
    ] = "0..250nm",
    angle: Annotated[
        str | None,
        typer.Option("--angle", metavar="DEG", help="Angle of every look that states none."),
    ] = None,
    doubt: Annotated[
        list[str] | None,
        typer.Option("--doubt", metavar="NAME=VALUE", help="Set a doubt, as in glare=0.1."),
    ] = None,
    cluster: Cluster = None,
    seed: Seed = 1,
    light: Light = "D65",
    observer: Observer = 2,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Thickness of a film from its colour, with every candidate and its probability.

    Example: oxhue gauge --film TiO2 --on Ti --seen purple
    """
    # long: options handed on, one a line
    from ..optics.errors import InputError
    from ..optics.gauge.gauge import gauge as estimate_thickness
    from ..optics.inference.reading import parse_reading
    from ..optics.inference.uncertainty import parse_uncertainty
    from ..optics.report.style import check_chart_name
    from ..optics.units import parse_range

    if chart is not None:
        check_chart_name(chart)
    films = split_films(film)
    settings = parse_uncertainty(doubt or [])
    viewing = parse_viewing(light, observer)
    looked = seen or through or behind or before or photo
    if cluster is not None and (readings is None or one_piece):
        raise InputError("--cluster goes with --readings of many pieces")
    range_nm = parse_range(between, "length_nm", "--between")
    if readings is not None:
        if looked or chart:
            raise InputError("--readings goes without single looks, photos and charts")
        asked = ManyQuestion(
            readings, how, settings, one_piece, rising, in_a_row, as_csv, as_json, as_lines, cluster
        )
        gauge_rows(films, on, asked, range_nm, viewing, seed, report)
        return
    if as_csv or as_lines or one_piece or rising or in_a_row:
        raise InputError("--csv, --lines, --one-piece, --rising and --in-a-row go with --readings")
    looks = [parse_reading(text, how, angle=angle, settings=settings) for text in seen or []]
    looks += [
        parse_reading(text, how, angle=angle, settings=settings, view="through")
        for text in through or []
    ]
    looks += [
        parse_reading(text, how, angle=angle, settings=settings, view="back")
        for text in behind or []
    ]
    if photo is not None:
        looks.append(_read_from_photo(photo, patch, white, bare, on, how, settings))
    elif patch or white or bare:
        raise InputError("--patch, --white and --bare are places on a photo: add --photo FILE")
    earlier = [parse_reading(text, how, angle=angle, settings=settings) for text in before or []]
    with show_progress("tabulating the colours of all films in question"):
        estimate = estimate_thickness(
            films, on, looks, before=earlier, between_nm=range_nm, conditions=viewing, seed=seed
        )
    answer(estimate, as_json, chart, report)
    if not estimate.fits:
        raise typer.Exit(EXIT_NO_TRUST)


def _read_from_photo(
    photo: Path,
    patch: str | None,
    white: str | None,
    bare: str | None,
    on: str,
    how: str | None,
    settings: Mapping[str, float],
) -> Reading:
    from ..optics.errors import InputError
    from ..optics.gauge.photo import reading_from_photo
    from ..optics.images.white_balance import parse_patch

    if patch is None:
        raise InputError("--photo needs --patch x,y,w,h: where the film is on it")
    card = parse_patch(white) if white else None
    metal = parse_patch(bare) if bare else None
    return reading_from_photo(
        photo, parse_patch(patch), on, white=card, bare=metal, how=how, settings=settings
    )
