"""``oxhue gauge``: how thick is it, from what I saw?"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .gauge_rows import ManyQuestion, gauge_rows
from .options import (
    BY_DAYLIGHT,
    LOGGED,
    PHOTO,
    PLACE,
    SEEN_UNDER,
    AsJson,
    Bare,
    Between,
    Chart,
    ClearLayer,
    Cluster,
    Doubt,
    File,
    Film,
    Finish,
    How,
    Light,
    LogFile,
    Observer,
    OfPiece,
    OfRun,
    OfSetup,
    On,
    Report,
    Seed,
    Text,
    Texts,
    Trusted,
    White,
    answer,
    check_log_options,
    option,
    parse_viewing,
    read_known,
    record_look,
    refuse_unused,
    show_progress,
    was_typed,
)

if TYPE_CHECKING:
    from pathlib import Path

    from ..optics.inference.reading import Reading
    from ..optics.report.document import Figure

PANEL = "How thick is it, and what is it?", 1

MANY = "Many readings at once"


def gauge(
    context: typer.Context,
    film: Film,
    on: On,
    seen: Annotated[
        Texts,
        option(
            "--seen",
            "COLOUR",
            "A word, #hex or L,a,b; 'angle=60' after it if tilted. Repeat for more looks.",
        ),
    ] = None,
    through: Annotated[
        Texts,
        option(
            "--through",
            "COLOUR",
            "Seen through the piece: a colour, 'OD 1.5', 6% or opaque.",
        ),
    ] = None,
    behind: Annotated[
        Texts, option("--behind", "COLOUR", "Colour seen from behind, through glass.")
    ] = None,
    ohms: Annotated[
        Text, option("--ohms", "OHM/SQ", "Sheet resistance of a film that conducts, or open.")
    ] = None,
    before: Annotated[
        Texts,
        option(
            "--before",
            "COLOUR",
            "Colour it had when thinner, or nearer the thin edge; repeat from thin to thick.",
        ),
    ] = None,
    between: Between = "0..250nm",
    photo: Annotated[
        File, option("--photo", "FILE", "Photo with the spot in it.", panel=PHOTO)
    ] = None,
    patch: Annotated[
        Text, option("--patch", PLACE, "Where the film is on it.", panel=PHOTO)
    ] = None,
    white: White = None,
    bare: Bare = None,
    readings: Annotated[
        File, option("--readings", "FILE", "CSV of many pieces, one a row.", panel=MANY)
    ] = None,
    one_piece: Annotated[
        bool,
        option("--one-piece", None, "The rows are spots of one piece in one photo.", panel=MANY),
    ] = False,
    rising: Annotated[
        bool,
        option("--rising", None, "With --one-piece: never thinner from row to row.", panel=MANY),
    ] = False,
    in_a_row: Annotated[
        bool,
        option(
            "--in-a-row",
            None,
            "With --one-piece: the rows follow a line along which thickness changes gently.",
            panel=MANY,
        ),
    ] = False,
    leave_out_bad: Annotated[
        bool,
        option("--leave-out-bad", None, "Name rows that are no readings, and go on.", panel=MANY),
    ] = False,
    as_csv: Annotated[
        bool, option("--csv", None, "Print CSV, one estimate a row.", panel=MANY)
    ] = False,
    as_lines: Annotated[
        bool, option("--lines", None, "Print JSON lines, one estimate a row.", panel=MANY)
    ] = False,
    setup: OfSetup = None,
    of_run: OfRun = None,
    piece: OfPiece = "piece",
    record: Annotated[
        bool, option("--record", None, "Keep what was seen in the log.", panel=LOGGED)
    ] = False,
    log_file: LogFile = None,
    how: How = None,
    angle: Annotated[
        Text,
        option("--angle", "DEG", "Angle of every look that states none.", panel=SEEN_UNDER),
    ] = None,
    finish: Finish = None,
    clear_layer: ClearLayer = None,
    light: Light = "D65",
    observer: Observer = 2,
    doubt: Doubt = None,
    seed: Seed = 1,
    have: Annotated[
        Text,
        option("--have", "TOOLS", "What you own for a further look: colour meter, spectrometer."),
    ] = None,
    cluster: Cluster = None,
    trusted: Trusted = False,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Thickness of a film from its colour, with every candidate and its probability.

    Example: oxhue gauge --film TiO2 --on Ti --seen purple
    """
    # long: options read one after the other, each refused where it does not belong
    from ..optics.errors import InputError
    from ..optics.gauge.gauge import gauge as estimate_thickness
    from ..optics.inference.measured import parse_light_share
    from ..optics.inference.reading import write_reading
    from ..optics.inference.uncertainty import parse_uncertainty
    from ..optics.units import parse_range

    settings = parse_uncertainty(doubt or [])
    viewing = parse_viewing(light, observer)
    range_nm = parse_range(between, "length_nm", "--between")
    check_log_options(context, setup=setup, record=record)
    if record:
        refuse_unused(context, BY_DAYLIGHT, "light", "observer")
    elif was_typed(context, "between"):
        refuse_unused(context, "--between says the range", "setup", "of_run", "log_file")
    if not was_typed(context, "between"):
        known = read_known(setup, "gauge", log_file, run=of_run)
        range_nm = known.get("between_nm", range_nm)
    if (cluster is not None or trusted) and (readings is None or one_piece):
        raise InputError("--cluster and --trusted go with --readings of many pieces")
    if readings is not None:
        if seen or through or behind or ohms or before or photo:
            raise InputError("--readings goes without single looks and photos")
        if patch or white or bare:
            raise InputError("--patch, --white and --bare are places on a photo: add --photo FILE")
        if record:
            raise InputError("--record keeps looks at one piece; leave out --readings")
        refuse_unused(context, "many readings get no advice of their own", "have")
        asked = ManyQuestion(
            readings, how, angle, settings, one_piece, rising, in_a_row, as_csv, as_json, as_lines,
            cluster, trusted, finish, leave_out_bad, clear_layer,
        )  # fmt: skip
        gauge_rows(
            film, on, asked, range_nm=range_nm, viewing=viewing, seed=seed, chart=chart,
            report=report,
        )  # fmt: skip
        return
    if as_csv or as_lines or one_piece or rising or in_a_row or leave_out_bad:
        raise InputError(
            "--csv, --lines, --one-piece, --rising, --in-a-row and --leave-out-bad go with "
            "--readings"
        )
    read = partial(_read_looks, how=how, angle=angle, settings=settings)
    shares = [text for text in through or [] if parse_light_share(text)]
    coloured = [text for text in through or [] if text not in shares]
    looks = read(seen) + read(coloured, "through") + read(behind, "back")
    places = {"patch": patch, "white": white, "bare": bare}
    if photo is not None:
        looks.append(_read_from_photo(photo, places, on, how, angle, settings))
    elif any(places.values()):
        raise InputError("--patch, --white and --bare are places on a photo: add --photo FILE")
    told: dict[str, Any] = {"through": shares, "ohms": ohms, "before": read(before)}
    told |= {
        "have": have or (),
        "between_nm": range_nm,
        "conditions": viewing,
        "finish": finish,
        "clear_layer": clear_layer,
        "seed": seed,
    }
    with show_progress("tabulating the colours of all films in question"):
        estimate = estimate_thickness(film, on, looks, **told)
    if record:
        spot = [write_reading(looks[-1])] if photo is not None else []
        record_look(
            setup or "", log_file, run=of_run, as_json=as_json, piece=piece, on=on, photo=photo,
            ohms=ohms, seen=[*(seen or []), *spot] or None, through=through, behind=behind,
            how=how, angle=angle,
        )  # fmt: skip
    drawn = _pictures(photo, places)
    answer(estimate, as_json, chart, report, trusted=estimate.fits, pictures=drawn)


def _pictures(photo: Path | None, places: Mapping[str, str | None]) -> list[Figure]:
    """The photo with its marks, drawn when a report shows it."""
    if photo is None:
        return []
    from ..optics.gauge.marked_photo import chart_marked_photo
    from ..optics.images.patches import parse_patch
    from ..optics.report.document import Figure

    words = {"patch": "spot", "white": "white card", "bare": "bare metal"}
    marked = {words[name]: parse_patch(place) for name, place in places.items() if place}
    draw = partial(chart_marked_photo, photo, marked)
    return [Figure(draw, "The photo, with the places that were read.")]


def _read_looks(
    texts: Texts,
    view: Any = "front",
    *,
    how: str | None,
    angle: str | None,
    settings: Mapping[str, float],
) -> list[Reading]:
    from ..optics.inference.reading import parse_reading

    return [
        parse_reading(text, how, angle=angle, settings=settings, view=view) for text in texts or []
    ]


def _read_from_photo(
    photo: Path,
    places: Mapping[str, str | None],
    on: str,
    how: str | None,
    angle: str | None,
    settings: Mapping[str, float],
) -> Reading:
    from ..optics.errors import InputError
    from ..optics.gauge.photo import reading_from_photo
    from ..optics.images.white_balance import parse_patch

    marked = {name: parse_patch(place) for name, place in places.items() if place}
    if "patch" not in marked:
        raise InputError("--photo needs --patch x,y,w,h: where the film is on it")
    return reading_from_photo(
        photo,
        marked["patch"],
        on,
        white=marked.get("white"),
        bare=marked.get("bare"),
        how=how,
        angle=angle,
        settings=settings,
    )
