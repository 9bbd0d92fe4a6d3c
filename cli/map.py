"""``oxhue map``: thickness over the whole piece."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .options import (
    PHOTO,
    PLACE,
    AsJson,
    Bare,
    Between,
    Doubt,
    Film,
    Finish,
    How,
    Light,
    Observer,
    On,
    Report,
    Text,
    Texts,
    White,
    answer,
    option,
    parse_viewing,
    show_progress,
)

PANEL = "How thick is it, and what is it?", 2


def map_(
    photo: Annotated[Path, typer.Argument(metavar="PHOTO", help="A photo of the piece.")],
    film: Film,
    on: On,
    white: White = None,
    bare: Bare = None,
    piece: Annotated[
        Text,
        option(
            "--piece", PLACE, "Where the piece is on the photo; found if not said.", panel=PHOTO
        ),
    ] = None,
    known_places: Annotated[
        Texts, option("--at", "X,Y=NM", "A place of known thickness: 812,300=45nm.")
    ] = None,
    between: Between = "0..250nm",
    profile: Annotated[
        Text, option("--profile", "X1,Y1,X2,Y2", "Line to draw the thickness along.")
    ] = None,
    out: Annotated[Path, option("--out", "DIR", "Folder for the files.")] = Path("oxhue-map"),
    numbers: Annotated[
        str, option("--numbers", "KIND", "Kind of the file of numbers: tiff or npz.")
    ] = "tiff",
    how: How = None,
    finish: Finish = None,
    light: Light = "D65",
    observer: Observer = 2,
    doubt: Doubt = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Thickness of every pixel of a photo of a tinted piece.

    Writes numbers, a picture in false colours, a histogram and a summary.

    Example: oxhue map docs/examples/dial.jpg --film TiO2 --on Ti --white 740,80,140,140
    """
    from ..optics.files.atomic import check_target
    from ..optics.inference.uncertainty import parse_uncertainty
    from ..optics.report.style import use_own_style
    from ..optics.thickness_map.map_files import write_map
    from ..optics.thickness_map.photo import map_photo
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
            finish=finish,
            known_places=known_places or [],
            piece=piece,
        )
    if report is not None:
        check_target(report.path)  # now that it is known what was read
    use_own_style()
    # write_map names the kinds of numbers it takes, and parse_whole_numbers gives four.
    written = write_map(field, out, numbers=numbers, line=line)  # type: ignore[arg-type]
    answer(written, as_json, report=report, trusted=written.fits)
