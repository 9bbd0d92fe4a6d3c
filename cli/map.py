"""``oxhue map``: thickness over the whole piece."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .options import (
    EXIT_NO_TRUST,
    AsJson,
    Film,
    How,
    Light,
    Observer,
    On,
    Report,
    answer,
    parse_viewing,
    show_progress,
)


def map_(
    photo: Annotated[Path, typer.Argument(metavar="PHOTO", help="A photo of the piece.")],
    film: Film,
    on: On,
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="Folder the files go to.")
    ] = Path("oxhue-map"),
    white: Annotated[
        str | None, typer.Option("--white", metavar="X,Y,W,H", help="Where a white card is.")
    ] = None,
    bare: Annotated[
        str | None, typer.Option("--bare", metavar="X,Y,W,H", help="Where the metal is bare.")
    ] = None,
    known_places: Annotated[
        list[str] | None,
        typer.Option("--at", metavar="X,Y=NM", help="A place of known thickness: 812,300=45nm."),
    ] = None,
    profile: Annotated[
        str | None,
        typer.Option("--profile", metavar="X1,Y1,X2,Y2", help="Line to draw the thickness along."),
    ] = None,
    numbers: Annotated[
        str,
        typer.Option("--numbers", metavar="KIND", help="Kind of the file of numbers: tiff or npz."),
    ] = "tiff",
    how: How = None,
    doubt: Annotated[
        list[str] | None,
        typer.Option("--doubt", metavar="NAME=VALUE", help="Set a doubt, as in glare=0.1."),
    ] = None,
    between: Annotated[
        str, typer.Option("--between", metavar="RANGE", help="Thickness known to lie in.")
    ] = "0..250nm",
    light: Light = "D65",
    observer: Observer = 2,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Thickness of every pixel of a photo of a tinted piece.

    Needs: a photo. Writes numbers, a picture in false colours, a histogram and a summary.
    """
    from ..optics.inference.uncertainty import parse_uncertainty
    from ..optics.thickness_map.map_files import write_map
    from ..optics.thickness_map.thickness_map import map_photo
    from ..optics.units import parse_range, parse_whole_numbers

    line = parse_whole_numbers(profile, 4, "--profile") if profile else None
    with show_progress("gauging every colour of the picture"):
        field = map_photo(
            photo,
            film,
            on,
            white=white,
            bare=bare,
            how=how,
            doubts=parse_uncertainty(doubt or []),
            between_nm=parse_range(between, "length_nm", "--between"),
            conditions=parse_viewing(light, observer),
            known_places=known_places or [],
        )
    # write_map names the kinds of numbers it takes, and parse_whole_numbers gives four.
    written = write_map(field, out, numbers=numbers, line=line)  # type: ignore[arg-type]
    answer(written, as_json, report=report)
    if not written.share_fitted:
        raise typer.Exit(EXIT_NO_TRUST)
