"""``oxhue log``: what have I done, what did it teach, what next?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from .options import (
    PLACE,
    AsJson,
    Chart,
    File,
    LogFile,
    Report,
    Seed,
    Text,
    Texts,
    White,
    answer,
    open_log,
    option,
    show_progress,
)
from .streams import say

PANEL = "Data, and your own kiln", 4

Name = Annotated[str, typer.Argument(metavar="NAME", help="Name of the jar, kiln or flame.")]
Run = Annotated[int, typer.Argument(metavar="RUN", help="Number of the run.")]

log = typer.Typer(help="What have I done, what did it teach, what next?")


@log.command("setup")
def log_setup(
    name: Name,
    kind: Annotated[str, option("--kind", "KIND", "chamber, kiln or flame.")] = "chamber",
    jar: Annotated[
        File,
        option("--jar", "FILE", "TOML file that describes a chamber."),
    ] = None,
    place: Annotated[
        Texts,
        option("--place", "NAME=LENGTHS", "Where pieces lie: rim=7cm,2cm,30; repeat for more."),
    ] = None,
    source: Annotated[
        Text, option("--source", "KIND", "Of all runs that say no other: wire, boat, sputter …")
    ] = None,
    metal: Annotated[Text, option("--metal", "METAL", "What it deposits, usually.")] = None,
    wire: Annotated[Text, option("--wire", "METAL", "Metal of its wire.")] = None,
    wire_diameter: Annotated[Text, option("--wire-diameter", "LENGTH", "0.4mm.")] = None,
    wire_length: Annotated[Text, option("--wire-length", "LENGTH", "Heated part: 200mm.")] = None,
    coil: Annotated[Text, option("--coil", "DIAMETER,PITCH", "Wound wire: 5mm,0.8mm.")] = None,
    distance: Annotated[Text, option("--distance", "LENGTH", "From source to piece: 5cm.")] = None,
    note: Annotated[str, option("--note", "TEXT", "Anything else.")] = "",
    log_file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Record a jar, kiln or flame; a change of it is recorded again, as its next version.

    Example: oxhue log setup jar --kind chamber
    """
    usual = {
        "source": source, "metal": metal, "wire": wire, "wire_diameter": wire_diameter,
        "wire_length": wire_length, "coil": coil, "distance": distance,
    }  # fmt: skip
    with open_log(log_file, write=True) as book:
        made = book.setup(
            name, kind=kind, jar=jar, places=_pairs(place or []), usual=usual, note=note
        )
        answer(made, as_json)


@log.command("run")
def log_run(
    name: Name,
    source: Annotated[
        Text, option("--source", "KIND", "point, plane, wire, boat or sputter.")
    ] = None,
    metal: Annotated[Text, option("--metal", "METAL", "What was deposited or heated.")] = None,
    current: Annotated[Text, option("--current", "CURRENT", "Through the source: 4.8A.")] = None,
    volts: Annotated[Text, option("--volts", "VOLTAGE", "Of a sputter source: 500V.")] = None,
    time: Annotated[Text, option("--for", "TIME", "How long it ran or was hot: 12min.")] = None,
    at: Annotated[Text, option("--at", "HEAT", "Heat of a kiln: 450C.")] = None,
    heat_log: Annotated[
        File, option("--heat-log", "FILE", "A thermocouple's log, in place of --at and --for.")
    ] = None,
    rate: Annotated[Text, option("--rate", "RATE", "As measured: 0.3nm/s.")] = None,
    charge: Annotated[Text, option("--charge", "MASS", "Used up: 120mg.")] = None,
    distance: Annotated[Text, option("--distance", "LENGTH", "From source to piece: 5cm.")] = None,
    wire: Annotated[Text, option("--wire", "METAL", "Metal of a wire source.")] = None,
    wire_diameter: Annotated[Text, option("--wire-diameter", "LENGTH", "0.4mm.")] = None,
    wire_length: Annotated[Text, option("--wire-length", "LENGTH", "Heated part: 200mm.")] = None,
    coil: Annotated[Text, option("--coil", "DIAMETER,PITCH", "Wound wire: 5mm,0.8mm.")] = None,
    gauge_reading: Annotated[
        Text, option("--gauge-reading", "PRESSURE", "During the run: 8e-3mbar.")
    ] = None,
    base_pressure: Annotated[Text, option("--base-pressure", "PRESSURE", "Before the run.")] = None,
    working_gas: Annotated[Text, option("--working-gas", "GAS", "argon.")] = None,
    working_pressure: Annotated[
        Text, option("--working-pressure", "PRESSURE", "Of the working gas.")
    ] = None,
    pumped: Annotated[
        Text, option("--pumped", "TIME", "Since the pump was started: 30min.")
    ] = None,
    flush: Annotated[Text, option("--flush", "N,PRESSURE", "Argon let in: 3,5mbar.")] = None,
    new_wire: Annotated[bool, option("--new-wire", None, "A new wire was put in.")] = False,
    mask: Annotated[Text, option("--mask", "TEXT", "What covered the piece.")] = None,
    plastic: Annotated[bool, option("--plastic", None, "Plastic near the piece.")] = False,
    melted: Annotated[bool, option("--melted", None, "The wire melted.")] = False,
    like: Annotated[
        int | None, option("--like", "RUN", "Like that run, but for the above.")
    ] = None,
    plan: Annotated[
        bool, option("--plan", None, "It is planned, not done; --like that run once it is.")
    ] = False,
    planned: Annotated[str, option("--planned", "STACK", "What it was meant to be.")] = "",
    remarks: Annotated[str, option("--remarks", "TEXT", "Anything else.")] = "",
    log_file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Record a run of a jar, kiln or flame.

    Example: oxhue log run jar --source wire --current 4.8A --for 12min --gauge-reading 8e-3mbar
    """
    # long: options handed on, one a line
    from ..optics.errors import InputError

    notes: list[str] = []
    settings: dict[str, Any] = {
        "source": source, "metal": metal, "current": current, "volts": volts, "time": time,
        "at": at, "rate": rate, "distance": distance, "wire": wire,
        "wire_diameter": wire_diameter, "wire_length": wire_length, "coil": coil,
        "gauge_reading": gauge_reading, "base_pressure": base_pressure,
        "working_gas": working_gas, "working_pressure": working_pressure, "flush": flush,
        "plastic": plastic, "melted": melted, "new_wire": new_wire, "pumped": pumped,
        "charge": charge, "mask": mask, "profile": _read_heat(heat_log, notes),
    }  # fmt: skip
    if plan and like is not None:
        raise InputError("--plan stands without --like: a plan says its own settings")
    with open_log(log_file, write=True) as book:
        made = (
            book.plan(name, planned, remarks=remarks, **settings)
            if plan
            else book.record(name, like=like, planned=planned, remarks=remarks, **settings)
        )
        answer(made, as_json)
    _tell(notes, as_json)


@log.command("saw")
def log_saw(
    run: Run,
    piece: Annotated[str, option("--piece", "NAME", "Which piece of the run.")] = "piece",
    on: Annotated[Text, option("--on", "BASE", "What it is made of.")] = None,
    metal: Annotated[Text, option("--metal", "METAL", "If not that of the run.")] = None,
    distance: Annotated[Text, option("--distance", "LENGTH", "From the source: 5cm.")] = None,
    offset: Annotated[Text, option("--offset", "LENGTH", "Off the axis: 2cm.")] = None,
    tilt: Annotated[Text, option("--tilt", "DEG", "Turned to the axis, degrees.")] = None,
    place: Annotated[
        Text, option("--place", "NAME", "Where it lay, as the setup names it.")
    ] = None,
    photo: Annotated[
        File, option("--photo", "FILE", "A photo of it; it is copied next to the log.")
    ] = None,
    patch: Annotated[
        Text, option("--patch", PLACE, "With --photo: where the film is, read as its colour.")
    ] = None,
    white: White = None,
    seen: Annotated[Texts, option("--seen", "COLOUR", "A word, #hex or L,a,b.")] = None,
    behind: Annotated[Texts, option("--behind", "COLOUR", "Seen through the base.")] = None,
    through: Annotated[
        Texts,
        option("--through", "LIGHT", "opaque, dim, clear, 'OD 2.4', 6%, a colour."),
    ] = None,
    finish: Annotated[
        Texts,
        option("--finish", "LOOK", "mirror, glossy, satin, dull, sooty, black."),
    ] = None,
    ohms: Annotated[Texts, option("--ohms", "READING", "open or 35ohm/sq.")] = None,
    wipe: Annotated[Text, option("--wipe", "EFFECT", "A dry pad: off, smears or stays.")] = None,
    scratch: Annotated[
        Text, option("--scratch", "EFFECT", "A stick marks it: easy or hard.")
    ] = None,
    warmed: Annotated[Text, option("--warmed", "EFFECT", "Gentle heat: changes or same.")] = None,
    weight: Annotated[
        Texts, option("--weight", "MASS on AREA", "Gained: '0.35mg on 12cm2'.")
    ] = None,
    thickness: Annotated[
        Text, option("--thickness", "THICKNESS", "Measured otherwise: 45nm.")
    ] = None,
    spectrum: Annotated[
        File, option("--spectrum", "FILE", "What a spectrometer wrote down of it.")
    ] = None,
    measured: Annotated[
        Text, option("--measured", "KIND", "With --spectrum: reflectance or transmittance.")
    ] = None,
    remark: Annotated[Texts, option("--remark", "TEXT", "Anything else.")] = None,
    log_file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Record what was seen or measured of a piece of a run.

    Example: oxhue log saw 1 --piece slide --on glass --seen gold --ohms open
    """
    notes: list[str] = []
    looks: dict[str, Any] = {
        "seen": [*(seen or []), *_read_patch(photo, patch, white)] or None, "behind": behind,
        "through": through, "finish": finish, "ohms": ohms, "wipe": wipe, "scratch": scratch,
        "warmed": warmed, "weight": weight, "thickness": thickness,
        "spectrum": _read_spectrum(spectrum, measured, notes), "remark": remark,
    }  # fmt: skip
    with open_log(log_file, write=True) as book:
        seen_run = book.saw(
            run, piece=piece, on=on, metal=metal, distance=distance, offset=offset, tilt=tilt,
            place=place, photo=photo, **looks,
        )  # fmt: skip
        answer(seen_run, as_json)
    _tell(notes, as_json)


def _read_heat(path: File, notes: list[str]) -> str | None:
    """A thermocouple's log as a log keeps it; what was taken for granted goes to the notes."""
    if path is None:
        return None
    from ..optics.log.heat_profile import format_profile
    from ..optics.oxidation.log_file import read_log

    heat = read_log(path)
    notes += heat.notes
    return format_profile(heat)


def _read_spectrum(path: File, measured: Text, notes: list[str]) -> str | None:
    """A spectrometer's file as a log keeps it; what was taken for granted goes to the notes."""
    from ..optics.errors import InputError

    if path is None:
        if measured is not None:
            raise InputError("--measured says what --spectrum FILE holds; add that")
        return None
    from ..optics.files.spectrum import read_spectrum
    from ..optics.log.spectra import format_spectrum, parse_spectrum

    spectrum = read_spectrum(path, measured)  # type: ignore[arg-type]  # it checks the kind
    notes += spectrum.notes
    text = format_spectrum(spectrum)
    parse_spectrum(text)
    return text


def _tell(notes: list[str], as_json: bool) -> None:
    """What was taken for granted of a file, once what it says is recorded."""
    for note in () if as_json else notes:
        say(f"note: {note}")


def _read_patch(photo: File, patch: Text, white: Text) -> list[str]:
    """The colour of a spot of a photo, as a log keeps it: L,a,b."""
    from ..optics.errors import InputError

    if patch is None:
        if white is not None:
            raise InputError("--white goes with --photo and --patch")
        return []
    if photo is None:
        raise InputError("--patch is a place on a photo: add --photo FILE")
    from ..optics.log.photos import read_spot

    return [read_spot(photo, patch, white=white)]


def _pairs(texts: list[str]) -> dict[str, str]:
    """``name=text`` as a mapping."""
    from ..optics.errors import InputError, shorten

    pairs = [text.partition("=") for text in texts]
    for text, (_, mark, _) in zip(texts, pairs, strict=True):
        if not mark:
            raise InputError(f"--place {shorten(text)!r} is not a name and lengths: rim=7cm,2cm,30")
    return {name: rest for name, _, rest in pairs}


@log.command("list")
def log_list(
    setup: Annotated[Text, option("--setup", "NAME", "Of this jar, kiln or flame alone.")] = None,
    log_file: LogFile = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Every run with what came of it.

    Example: oxhue log list
    """
    from ..optics.log.present import MOST_ROWS

    with open_log(log_file, write=False) as book:
        newest = None if as_json else MOST_ROWS
        answer(book.runs(setup, newest=newest), as_json, None, report)


@log.command("show")
def log_show(
    run: Run, log_file: LogFile = None, report: Report = None, as_json: AsJson = False
) -> None:
    """One run: what was done, and every look at its pieces.

    Example: oxhue log show 1
    """
    with open_log(log_file, write=False) as book:
        answer(book.show(run), as_json, None, report)


@log.command("learn")
def log_learn(
    name: Name,
    metal: Annotated[Text, option("--metal", "METAL", "Which pieces, or what no run says.")] = None,
    log_file: LogFile = None,
    seed: Seed = 1,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """What the runs of a jar or kiln teach, and which does not fit, with likely causes.

    Needs: a log with runs. Then: oxhue log learn jar
    """
    with (
        open_log(log_file, write=None) as book,
        show_progress("weighing what was seen of every run"),
    ):
        learnt = book.learn(name, metal=metal, seed=seed)
    answer(learnt, as_json, chart, report)


@log.command("next")
def log_next(
    name: Name,
    want: Annotated[str, option("--want", "WANT", "Of a jar 'Ti 80nm', of a kiln purple.")],
    within: Annotated[
        Text, option("--within", "SHARE", "How far off a jar's thickness may be, 15% if unsaid.")
    ] = None,
    risk: Annotated[
        Text, option("--risk", "SHARE", "Most chance of a melted wire, 5% if unsaid.")
    ] = None,
    metal: Annotated[Text, option("--metal", "METAL", "Which pieces, or what no run says.")] = None,
    base_pressure: Annotated[
        Text, option("--base-pressure", "PRESSURE", "What the gauge of a jar reads now.")
    ] = None,
    log_file: LogFile = None,
    seed: Seed = 1,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """The next run with the best odds for what is wanted.

    Needs: a log with runs. Then: oxhue log next jar --want "Ti 80nm"
    """
    with (
        open_log(log_file, write=None) as book,
        show_progress("weighing what was seen of every run"),
    ):
        found = book.next(
            name, want=want, within=_share(within, "--within"), risk=_share(risk, "--risk"),
            metal=metal, base_pressure=base_pressure, seed=seed,
        )  # fmt: skip
    answer(found, as_json, None, report)


def _share(text: str | None, option: str) -> float | None:
    """A share as people write it, ``15%`` or ``0.15``; None where none is."""
    if text is None:
        return None
    from ..optics.errors import InputError, shorten

    number, percent, rest = text.strip().partition("%")
    try:
        value = float(number) / (100.0 if percent else 1.0)
    except ValueError:
        value = float("nan")
    if rest or not 0.0 <= value <= 1.0:
        raise InputError(f"{option} {shorten(text)!r} is not a share such as 15%")
    return value


@log.command("undo")
def log_undo(log_file: LogFile = None, as_json: AsJson = False) -> None:
    """Take back what was recorded last.

    Example: oxhue log undo
    """
    with open_log(log_file, write=True) as book:
        answer(book.undo(), as_json)


@log.command("export")
def log_export(
    to: Annotated[Path, typer.Argument(metavar="FILE", help="A .jsonl or .csv file to write.")],
    log_file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Write the whole log as JSON lines or CSV.

    Example: oxhue log export clocks.csv
    """
    with open_log(log_file, write=False) as book:
        answer(book.export(to), as_json)


@log.command("import")
def log_import(
    source: Annotated[Path, typer.Argument(metavar="FILE", help="What 'log export' wrote.")],
    log_file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Add the rows of an exported file.

    Example: oxhue log import clocks.csv
    """
    with open_log(log_file, write=True) as book:
        answer(book.import_(source), as_json)
