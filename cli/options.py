"""Options every verb shares, and the door through which each answer leaves."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .reporting import ReportTo, report_to, write_document
from .streams import say, writes_utf8

if TYPE_CHECKING:
    from ..optics.colour.conditions import ViewingConditions
    from ..optics.log.log import Log
    from ..optics.log.records import LoggedRun
    from ..optics.report.document import Figure
    from ..optics.result import Result

EXIT_BAD_INPUT = 2
EXIT_NO_TRUST = 3
EXIT_INTERRUPTED = 130

PHOTO = "Places on a photo"
SEEN_UNDER = "How it is looked at"
CONTROL = "Precision and work"
OUTPUT = "How the answer leaves"
LOGGED = "With the run log"
PLACE = "X,Y,W,H"
BY_DAYLIGHT = "what --record keeps is weighed by daylight"
_FINISHES = ("polished", "satin", "brushed", "rolled")
_LAYERS = ("over", "under", "either")
_WAYS = ("word", "photo", "card", "instrument")


def option(
    name: str,
    metavar: str | None,
    help: str,
    *,
    panel: str | None = None,
    complete: Callable[[str], list[str]] | None = None,
) -> Any:
    """An option by its name, what belongs after it (None for a flag) and its help."""
    return typer.Option(
        name, metavar=metavar, help=help, rich_help_panel=panel, autocompletion=complete
    )


def complete_materials(incomplete: str) -> list[str]:
    """Names of the materials shipped."""
    from ..optics.films.materials.catalogue import list_materials

    return _keep_starting(dict.fromkeys(entry.name for entry in list_materials()), incomplete)


def complete_metals(incomplete: str) -> list[str]:
    """Metals that can be tinted."""
    from ..optics.oxidation.metals import metal_names

    return _keep_starting(metal_names(), incomplete)


def complete_lights(incomplete: str) -> list[str]:
    """Lights a colour can be seen under."""
    from ..optics.colour.illuminants import illuminant_names

    return _keep_starting(illuminant_names(), incomplete)


def complete_finishes(incomplete: str) -> list[str]:
    """Finishes a piece may be said to have."""
    return _keep_starting(_FINISHES, incomplete)


def complete_layers(incomplete: str) -> list[str]:
    """Where a clear layer may lie."""
    return _keep_starting(_LAYERS, incomplete)


def complete_ways(incomplete: str) -> list[str]:
    """How a colour may have been read."""
    return _keep_starting(_WAYS, incomplete)


def _keep_starting(names: Iterable[str], incomplete: str) -> list[str]:
    begun = incomplete.casefold()
    return [name for name in names if name.casefold().startswith(begun)]


def _check_chart(path: Path | None) -> Path | None:
    """Refuse a chart that cannot be drawn before any work is done."""
    if path is not None:
        from ..optics.files.atomic import claim_target
        from ..optics.report.style import check_chart_name

        check_chart_name(path)
        claim_target(path)
    return path


Text = str | None
Texts = list[str] | None
File = Path | None
StackText = Annotated[str, typer.Argument(metavar="STACK", help="Layers from the light inward.")]
Film = Annotated[
    str,
    option(
        "--film",
        "MATERIAL",
        "What the film may be; several separated by commas.",
        complete=complete_materials,
    ),
]
On = Annotated[
    str,
    option("--on", "BASE", "What the film is on.", complete=complete_materials),
]
White = Annotated[
    Text, option("--white", PLACE, "Where a white card is on the photo.", panel=PHOTO)
]
Bare = Annotated[Text, option("--bare", PLACE, "Where bare metal is on the photo.", panel=PHOTO)]
Between = Annotated[str, option("--between", "RANGE", "Range the thickness is known to lie in.")]
Finish = Annotated[
    Text,
    option(
        "--finish",
        "FINISH",
        "Finish of the piece, if known: polished, satin, brushed or rolled.",
        panel=SEEN_UNDER,
        complete=complete_finishes,
    ),
]
ClearLayer = Annotated[
    Text,
    option(
        "--clear-layer",
        "PLACE",
        "Allow for lacquer, wax or an oxide nobody stated: over the film, under it, or either.",
        panel=SEEN_UNDER,
        complete=complete_layers,
    ),
]
How = Annotated[
    Text,
    option(
        "--how",
        "KIND",
        "Kind of reading: word, photo, card or instrument.",
        panel=SEEN_UNDER,
        complete=complete_ways,
    ),
]
Angle = Annotated[
    str,
    option("--angle", "DEG", "Angle of view: 0 is straight on, up to 90.", panel=SEEN_UNDER),
]
Light = Annotated[
    str,
    option(
        "--light",
        "LIGHT",
        "D65 (daylight), A (bulb), FL2 (office tube), LED-B3 (white LED) ...",
        panel=SEEN_UNDER,
        complete=complete_lights,
    ),
]
Observer = Annotated[
    int, option("--observer", "DEG", "Field of view, 2 or 10 degrees.", panel=SEEN_UNDER)
]
Doubt = Annotated[
    Texts,
    option(
        "--doubt",
        "NAME=VALUE",
        "Size of one source of error, such as glare=0.1; a wrong name lists them all.",
        panel=CONTROL,
    ),
]
Seed = Annotated[int, option("--seed", "N", "Seed of the simulations.", panel=CONTROL)]
Cluster = Annotated[
    Text,
    option("--cluster", "ADDRESS", "Work on the Dask cluster at tcp://host:port.", panel=CONTROL),
]
Trusted = Annotated[
    bool,
    option(
        "--trusted",
        None,
        "With --cluster: connect to another machine without a certificate.",
        panel=CONTROL,
    ),
]
AsJson = Annotated[
    bool, option("--json", None, "Print one JSON object and nothing else.", panel=OUTPUT)
]
Chart = Annotated[
    File,
    typer.Option(
        "--chart",
        metavar="FILE",
        callback=_check_chart,
        help="Write a chart, .png, .svg or .pdf.",
        rich_help_panel=OUTPUT,
    ),
]
Report = Annotated[
    ReportTo | None,
    typer.Option(
        "--report",
        metavar="FILE",
        parser=Path,
        callback=report_to,
        help="Write the answer as a page to print, .html.",
        rich_help_panel=OUTPUT,
    ),
]


LogFile = Annotated[
    File,
    option(
        "--log", "FILE", "The log; by default OXHUE_LOG or oxhue-log.sqlite here.", panel=LOGGED
    ),
]
OfSetup = Annotated[
    Text,
    option("--setup", "NAME", "Use what the log learnt of this jar, kiln or flame.", panel=LOGGED),
]
OfRun = Annotated[
    int | None,
    option("--run", "RUN", "The run of the piece; the newest by default.", panel=LOGGED),
]
OfPiece = Annotated[
    str, option("--piece", "NAME", "With --record: which piece of the run.", panel=LOGGED)
]


def parse_viewing(light: str, observer: int) -> ViewingConditions:
    """Light and observer, checked."""
    from ..optics.colour.conditions import ViewingConditions

    return ViewingConditions(light, observer)


def refuse_unused(context: typer.Context, why: str, *names: str) -> None:
    """Refuse parameters that were typed though the question asked makes no use of them.

    Parameters
    ----------
    context : typer.Context
        Of the verb.
    why : str
        What the question is, as in ``"--expect FILM asks what a film shows"``.
    *names : str
        Of the verb's parameters, as in Python.
    """
    from ..optics.errors import InputError

    for one in context.command.params:
        if one.name in names and was_typed(context, one.name or ""):
            raise InputError(f"{why}; {max(one.opts, key=len)} says nothing about it: leave it out")


class AnswerTaker:
    """Takes answers and progress in place of a terminal.

    Attributes
    ----------
    tell : callable
        Told in words how far the work is.
    result, listed : Result, optional
        The answer, and what its JSON lists of it.
    trusted : bool
    pictures : sequence of Figure
        Of what was asked about, for a report.
    """

    def __init__(self, tell: Callable[[str], None]) -> None:
        self.tell = tell
        self.result: Result | None = None
        self.listed: Result | None = None
        self.trusted = True
        self.pictures: Sequence[Figure] = ()


LISTENER: ContextVar[AnswerTaker | None] = ContextVar("who takes answers", default=None)


def was_typed(context: typer.Context, name: str) -> bool:
    """Whether a parameter, by its name in Python, was given and not left as it is."""
    source = context.get_parameter_source(name)
    return source is not None and source.name != "DEFAULT"


@contextmanager
def open_log(file: Path | None, *, write: bool | None) -> Iterator[Log]:
    """A log, for writing or not; None for one that must be there, written to if it may be."""
    from ..optics.errors import InputError
    from ..optics.log.database import is_made, log_path
    from ..optics.log.log import Log

    try:
        book = Log.open(file, write=is_made(log_path(file)) if write is None else write)
    except InputError:
        if write is not None:
            raise
        book = Log.open(file, write=False)
    with book:
        yield book


def read_known(setup: str | None, verb: str, log_file: Path | None, **which: Any) -> dict[str, Any]:
    """What the log knows for a verb; nothing where no setup is named."""
    if setup is None:
        return {}
    with open_log(log_file, write=None) as book, show_progress("weighing the runs of the log"):
        return book.known(setup, verb, **which)


_COLOURS = ("seen", "behind", "through")


def _complete(looks: str | Sequence[str] | None, how: str | None, angle: str | None) -> list[str]:
    """Colours with their angle and way of reading; a share of light has neither."""
    from ..optics.inference.measured import parse_light_share
    from ..optics.inference.reading import complete_text

    return [
        complete_text(one, how=how, angle=angle) if parse_light_share(one) is None else one
        for one in ([looks] if isinstance(looks, str) else looks or [])
    ]


def record_look(
    setup: str,
    log_file: Path | None,
    *,
    run: int | None,
    as_json: bool,
    how: str | None = None,
    angle: str | None = None,
    **looks: Any,
) -> None:
    """Keep what was noticed of a piece of a run, the newest by default.

    Colours are kept with the angle and the way of reading that were stated for all of them.
    """
    if how is not None or angle is not None:
        looks |= {name: _complete(looks.get(name), how, angle) or None for name in _COLOURS}
    with open_log(log_file, write=True) as book:
        number = book.newest(setup).run if run is None else run
        book.saw(number, **looks)
    if not as_json:
        say(f"kept as looks of run {number} of {setup}")


def check_log_options(context: typer.Context, *, setup: str | None, record: bool) -> None:
    """Refuse options of the log that belong to no setup, and what is kept where nothing is.

    Raises
    ------
    InputError
        If one is typed.
    """
    from ..optics.errors import InputError

    if setup is None:
        if record:
            raise InputError("--record needs --setup NAME: the jar, kiln or flame it belongs to")
        refuse_unused(context, "no --setup NAME of a log is given", "log_file", "of_run", "piece")
    if not record:
        refuse_unused(context, "nothing is kept without --record", "piece")


def say_planned(plan: LoggedRun, as_json: bool) -> None:
    """Say that a plan was recorded, where a person reads it."""
    if not as_json:
        say(f"kept as run {plan.run} of {plan.setup}, a plan; once done: "
            f"oxhue log run {plan.setup} --like {plan.run}")  # fmt: skip


@contextmanager
def show_progress(
    what: str, cluster: str | None = None, *, trusted: bool = False
) -> Iterator[Callable[[str], None]]:
    """Say on stderr what is being worked on, where a person is looking at it.

    Given is a function to tell how far it is. What is spread meanwhile runs on the cluster whose
    address is given, if one is.
    """
    with _use_cluster(cluster, trusted):
        if (listener := LISTENER.get()) is not None:
            listener.tell(what)
            yield listener.tell
            return
        if sys.stderr is None or not sys.stderr.isatty():
            yield lambda _: None
            return
        from rich.console import Console
        from rich.markup import escape

        with Console(stderr=True).status(what) as status:
            yield lambda text: status.update(escape(text))


@contextmanager
def _use_cluster(cluster: str | None, trusted: bool) -> Iterator[None]:
    if cluster is None:
        if trusted:
            from ..optics.errors import InputError

            raise InputError("--trusted says something about --cluster ADDRESS: name one")
        yield
        return
    import logging

    from ..optics.numerics.cluster import is_open, on_cluster

    if trusted and is_open(cluster):
        say(f"oxhue: whoever answers at {cluster} can run any program on this machine")
    with on_cluster(cluster, trusted=trusted):
        logging.disable()  # what becomes of the cluster is said in one sentence, by us
        try:
            yield
        finally:
            logging.disable(logging.NOTSET)


def answer(
    result: Result,
    as_json: bool,
    chart: Path | None = None,
    report: ReportTo | None = None,
    *,
    listed: Result | None = None,
    trusted: bool = True,
    pictures: Sequence[Figure] = (),
) -> None:
    """Write the chart and the report if wanted, then the answer to stdout as JSON or as text.

    ``listed`` is what the JSON lists, where it is less than what charts need; ``pictures`` are of
    what was asked about, for a report. An answer that cannot be trusted ends the program with
    exit code 3.
    """
    if (listener := LISTENER.get()) is not None:
        listener.result, listener.listed, listener.trusted = result, listed or result, trusted
        listener.pictures = pictures
        return
    # Refused, if it is, before any file is written.
    data = (listed or result).to_dict() if as_json else {}
    if chart is not None or report is not None:
        from ..optics.report.style import use_own_style

        use_own_style()
    if chart is not None:
        from ..optics.report.style import save_chart

        save_chart(result.plot(), chart)
    if report is not None:
        write_document(report, result.document(), pictures)
    if as_json:
        # in one go: written piece by piece a long answer takes four times as long
        text = json.dumps(data, ensure_ascii=not writes_utf8(sys.stdout), allow_nan=False)
        sys.stdout.write(f"{text}\n")
    else:
        from ..optics.report.terminal import console, print_document

        print_document(result.document(), console(), more="--report FILE.html prints them")
        if chart is not None:
            say(f"chart written: {chart}")
        if report is not None:
            say(f"report written: {report.path}")
    if not trusted:
        raise typer.Exit(EXIT_NO_TRUST)
