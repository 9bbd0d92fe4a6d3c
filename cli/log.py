"""``oxhue log``: what have I done, what did it teach, what next?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .options import AsJson, Chart, Report, Seed, answer, show_progress

if TYPE_CHECKING:
    from ..optics.log.log import Log

PANEL = "Data, and your own kiln", 4

LogFile = Annotated[
    Path | None,
    typer.Option(
        "--log", metavar="FILE", help="The log; by default OXHUE_LOG or oxhue-log.sqlite here."
    ),
]
Name = Annotated[str, typer.Argument(metavar="NAME", help="Name of the jar, kiln or flame.")]
Run = Annotated[int, typer.Argument(metavar="RUN", help="Number of the run.")]
Text = str | None

log = typer.Typer(help="What have I done, what did it teach, what next?")


@log.command("setup")
def log_setup(
    name: Name,
    kind: Annotated[
        str, typer.Option("--kind", metavar="KIND", help="chamber, kiln or flame.")
    ] = "chamber",
    jar: Annotated[
        Path | None,
        typer.Option("--jar", metavar="FILE", help="TOML file that describes a chamber."),
    ] = None,
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="Anything else.")] = "",
    file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Record a jar, kiln or flame; a change of it is recorded again, as its next version.

    Example: oxhue log setup jar --kind chamber
    """
    with _opened(file, write=True) as book:
        answer(book.setup(name, kind=kind, jar=jar, note=note), as_json)


@log.command("run")
def log_run(
    name: Name,
    source: Annotated[
        Text, typer.Option("--source", metavar="KIND", help="point, plane, wire, boat or sputter.")
    ] = None,
    metal: Annotated[
        Text, typer.Option("--metal", metavar="METAL", help="What was deposited or heated.")
    ] = None,
    current: Annotated[
        Text, typer.Option("--current", metavar="CURRENT", help="Through the source: 4.8A.")
    ] = None,
    volts: Annotated[
        Text, typer.Option("--volts", metavar="VOLTAGE", help="Of a sputter source: 500V.")
    ] = None,
    time: Annotated[
        Text, typer.Option("--for", metavar="TIME", help="How long it ran or was hot: 12min.")
    ] = None,
    at: Annotated[Text, typer.Option("--at", metavar="HEAT", help="Heat of a kiln: 450C.")] = None,
    rate: Annotated[
        Text, typer.Option("--rate", metavar="RATE", help="As measured: 0.3nm/s.")
    ] = None,
    distance: Annotated[
        Text, typer.Option("--distance", metavar="LENGTH", help="From source to piece: 5cm.")
    ] = None,
    wire: Annotated[
        Text, typer.Option("--wire", metavar="METAL", help="Metal of a wire source.")
    ] = None,
    wire_diameter: Annotated[
        Text, typer.Option("--wire-diameter", metavar="LENGTH", help="0.4mm.")
    ] = None,
    wire_length: Annotated[
        Text, typer.Option("--wire-length", metavar="LENGTH", help="Heated part: 200mm.")
    ] = None,
    coil: Annotated[
        Text, typer.Option("--coil", metavar="DIAMETER,PITCH", help="Wound wire: 5mm,0.8mm.")
    ] = None,
    gauge_reading: Annotated[
        Text, typer.Option("--gauge-reading", metavar="PRESSURE", help="During the run: 8e-3mbar.")
    ] = None,
    base_pressure: Annotated[
        Text, typer.Option("--base-pressure", metavar="PRESSURE", help="Before the run.")
    ] = None,
    working_gas: Annotated[
        Text, typer.Option("--working-gas", metavar="GAS", help="argon.")
    ] = None,
    working_pressure: Annotated[
        Text, typer.Option("--working-pressure", metavar="PRESSURE", help="Of the working gas.")
    ] = None,
    flush: Annotated[
        Text, typer.Option("--flush", metavar="N,PRESSURE", help="Argon let in: 3,5mbar.")
    ] = None,
    new_wire: Annotated[bool, typer.Option("--new-wire", help="A new wire was put in.")] = False,
    plastic: Annotated[bool, typer.Option("--plastic", help="Plastic near the piece.")] = False,
    melted: Annotated[bool, typer.Option("--melted", help="The wire melted.")] = False,
    like: Annotated[
        int | None, typer.Option("--like", metavar="RUN", help="Like that run, but for the above.")
    ] = None,
    planned: Annotated[
        str, typer.Option("--planned", metavar="STACK", help="What it was meant to be.")
    ] = "",
    remarks: Annotated[str, typer.Option("--remarks", metavar="TEXT", help="Anything else.")] = "",
    file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Record a run of a jar, kiln or flame.

    Example: oxhue log run jar --source wire --current 4.8A --for 12min --gauge-reading 8e-3mbar
    """
    # long: options handed on, one a line
    with _opened(file, write=True) as book:
        answer(
            book.record(
                name,
                like=like,
                planned=planned,
                remarks=remarks,
                source=source,
                metal=metal,
                current=current,
                volts=volts,
                time=time,
                at=at,
                rate=rate,
                distance=distance,
                wire=wire,
                wire_diameter=wire_diameter,
                wire_length=wire_length,
                coil=coil,
                gauge_reading=gauge_reading,
                base_pressure=base_pressure,
                working_gas=working_gas,
                working_pressure=working_pressure,
                flush=flush,
                plastic=plastic,
                melted=melted,
                new_wire=new_wire,
            ),
            as_json,
        )


@log.command("saw")
def log_saw(
    run: Run,
    piece: Annotated[
        str, typer.Option("--piece", metavar="NAME", help="Which piece of the run.")
    ] = "piece",
    on: Annotated[Text, typer.Option("--on", metavar="BASE", help="What it is made of.")] = None,
    metal: Annotated[
        Text, typer.Option("--metal", metavar="METAL", help="If not that of the run.")
    ] = None,
    distance: Annotated[
        Text, typer.Option("--distance", metavar="LENGTH", help="From the source: 5cm.")
    ] = None,
    offset: Annotated[
        Text, typer.Option("--offset", metavar="LENGTH", help="Off the axis: 2cm.")
    ] = None,
    tilt: Annotated[
        Text, typer.Option("--tilt", metavar="DEG", help="Turned to the axis, degrees.")
    ] = None,
    seen: Annotated[
        list[str] | None, typer.Option("--seen", metavar="COLOUR", help="A word, #hex or L,a,b.")
    ] = None,
    behind: Annotated[
        list[str] | None, typer.Option("--behind", metavar="COLOUR", help="Seen through the base.")
    ] = None,
    through: Annotated[
        list[str] | None,
        typer.Option("--through", metavar="LIGHT", help="opaque, dim, clear, 'OD 2.4', a colour."),
    ] = None,
    finish: Annotated[
        list[str] | None,
        typer.Option("--finish", metavar="LOOK", help="mirror, glossy, satin, dull, sooty, black."),
    ] = None,
    ohms: Annotated[
        list[str] | None, typer.Option("--ohms", metavar="READING", help="open or 35ohm/sq.")
    ] = None,
    wipe: Annotated[
        Text, typer.Option("--wipe", metavar="EFFECT", help="A dry pad: off, smears or stays.")
    ] = None,
    scratch: Annotated[
        Text, typer.Option("--scratch", metavar="EFFECT", help="A stick marks it: easy or hard.")
    ] = None,
    warmed: Annotated[
        Text, typer.Option("--warmed", metavar="EFFECT", help="Gentle heat: changes or same.")
    ] = None,
    thickness: Annotated[
        Text, typer.Option("--thickness", metavar="THICKNESS", help="Measured otherwise: 45nm.")
    ] = None,
    remark: Annotated[
        list[str] | None, typer.Option("--remark", metavar="TEXT", help="Anything else.")
    ] = None,
    file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Record what was seen or measured of a piece of a run.

    Example: oxhue log saw 1 --piece slide --on glass --seen gold --ohms open
    """
    looks: dict[str, list[str] | str | None] = {
        "seen": seen, "behind": behind, "through": through, "finish": finish, "ohms": ohms,
        "wipe": wipe, "scratch": scratch, "warmed": warmed, "thickness": thickness,
        "remark": remark,
    }  # fmt: skip
    with _opened(file, write=True) as book:
        seen_run = book.saw(
            run, piece=piece, on=on, metal=metal, distance=distance, offset=offset, tilt=tilt,
            **looks,
        )  # fmt: skip
        answer(seen_run, as_json)


@log.command("list")
def log_list(
    setup: Annotated[
        Text, typer.Option("--setup", metavar="NAME", help="Of this jar, kiln or flame alone.")
    ] = None,
    file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Every run with what came of it.

    Example: oxhue log list
    """
    with _opened(file, write=False) as book:
        answer(book.runs(setup), as_json)


@log.command("show")
def log_show(run: Run, file: LogFile = None, as_json: AsJson = False) -> None:
    """One run: what was done, and every look at its pieces.

    Example: oxhue log show 1
    """
    with _opened(file, write=False) as book:
        answer(book.show(run), as_json)


@log.command("learn")
def log_learn(
    name: Name,
    metal: Annotated[
        Text, typer.Option("--metal", metavar="METAL", help="Of a kiln: which metal's pieces.")
    ] = None,
    file: LogFile = None,
    seed: Seed = 1,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """What the runs of a jar or kiln teach, and which does not fit, with likely causes.

    Needs: a log with runs. Then: oxhue log learn jar
    """
    with _opened(file, write=None) as book, show_progress("weighing what was seen of every run"):
        learnt = book.learn(name, metal=metal, seed=seed)
    answer(learnt, as_json, chart, report)


@log.command("next")
def log_next(
    name: Name,
    want: Annotated[
        str, typer.Option("--want", metavar="WANT", help="Of a jar 'Ti 80nm', of a kiln purple.")
    ],
    within: Annotated[
        str, typer.Option("--within", metavar="SHARE", help="How far off the thickness may be.")
    ] = "15%",
    risk: Annotated[
        str, typer.Option("--risk", metavar="SHARE", help="Most chance of a melted wire.")
    ] = "5%",
    metal: Annotated[
        Text, typer.Option("--metal", metavar="METAL", help="Of a kiln: which metal's pieces.")
    ] = None,
    file: LogFile = None,
    seed: Seed = 1,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """The next run with the best odds for what is wanted.

    Needs: a log with runs. Then: oxhue log next jar --want "Ti 80nm"
    """
    with _opened(file, write=None) as book, show_progress("weighing what was seen of every run"):
        found = book.next(
            name, want=want, within=_share(within, "--within"), risk=_share(risk, "--risk"),
            metal=metal, seed=seed,
        )  # fmt: skip
    answer(found, as_json, None, report)


def _share(text: str, option: str) -> float:
    """A share as people write it, ``15%`` or ``0.15``."""
    from ..optics.errors import InputError, shorten

    number, percent, rest = text.strip().partition("%")
    try:
        value = float(number) / (100.0 if percent else 1.0)
    except ValueError:
        value = float("nan")
    if rest or not 0.0 <= value <= 1.0:
        raise InputError(f"{option} {shorten(text)!r} is not a share such as 15%")
    return value


def _changing(does: Callable[[Log], Any], file: Path | None, as_json: bool) -> None:
    with _opened(file, write=True) as book:
        answer(does(book), as_json)


@log.command("undo")
def log_undo(file: LogFile = None, as_json: AsJson = False) -> None:
    """Take back what was recorded last.

    Example: oxhue log undo
    """
    _changing(lambda book: book.undo(), file, as_json)


@log.command("export")
def log_export(
    to: Annotated[Path, typer.Argument(metavar="FILE", help="A .jsonl or .csv file to write.")],
    file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Write the whole log as JSON lines or CSV.

    Example: oxhue log export clocks.csv
    """
    with _opened(file, write=False) as book:
        answer(book.export(to), as_json)


@log.command("import")
def log_import(
    source: Annotated[Path, typer.Argument(metavar="FILE", help="What 'log export' wrote.")],
    file: LogFile = None,
    as_json: AsJson = False,
) -> None:
    """Add the rows of an exported file.

    Example: oxhue log import clocks.csv
    """
    _changing(lambda book: book.import_(source), file, as_json)


@contextmanager
def _opened(file: Path | None, *, write: bool | None) -> Iterator[Log]:
    """A log, for writing or not; None for one that must be there, written to if it may be."""
    from ..optics.errors import InputError
    from ..optics.log.database import log_path
    from ..optics.log.log import Log

    try:
        book = Log.open(file, write=log_path(file).exists() if write is None else write)
    except InputError:
        if write is not None:
            raise
        book = Log.open(file, write=False)
    with book:
        yield book
