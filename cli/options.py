"""Options every verb shares, and the door through which each answer leaves."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from . import completing
from .reporting import Report as Report
from .reporting import ReportTo, write_document
from .streams import say, writes_utf8

if TYPE_CHECKING:
    from ..optics.colour.conditions import ViewingConditions
    from ..optics.result import Result

EXIT_BAD_INPUT = 2
EXIT_NO_TRUST = 3
EXIT_INTERRUPTED = 130

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]
Chart = Annotated[
    Path | None,
    typer.Option("--chart", metavar="FILE", help="Write a chart, .png, .svg or .pdf."),
]
Light = Annotated[
    str,
    typer.Option(
        "--light",
        metavar="LIGHT",
        help="Light it is seen under: D65, D50, A, FL2, LED-B3 ...",
        autocompletion=completing.complete_lights,
    ),
]
Film = Annotated[
    str,
    typer.Option(
        "--film",
        metavar="MATERIAL",
        help="What the film may be; several parted by commas.",
        autocompletion=completing.complete_materials,
    ),
]
On = Annotated[
    str,
    typer.Option(
        "--on",
        metavar="BASE",
        help="What it lies on.",
        autocompletion=completing.complete_materials,
    ),
]
How = Annotated[
    str | None,
    typer.Option(
        "--how",
        metavar="KIND",
        help="Kind of reading: word, photo, card or instrument.",
        autocompletion=completing.complete_ways,
    ),
]
Observer = Annotated[
    int, typer.Option("--observer", metavar="DEG", help="Field of view, 2 or 10 degrees.")
]
Seed = Annotated[int, typer.Option("--seed", metavar="N", help="Seed of the simulations.")]
Cluster = Annotated[
    str | None,
    typer.Option(
        "--cluster", metavar="ADDRESS", help="Work on a Dask cluster: tcp://host:port of it."
    ),
]
Angle = Annotated[
    str, typer.Option("--angle", metavar="DEG", help="Angle from square on, 0 to 90 degrees.")
]


def parse_viewing(light: str, observer: int) -> ViewingConditions:
    """Light and observer, checked."""
    from ..optics.colour.conditions import ViewingConditions

    return ViewingConditions(light, observer)


def split_films(text: str) -> list[str]:
    """The films of ``--film``, parted by commas."""
    from ..optics.errors import InputError

    films = [name.strip() for name in text.split(",")]
    if not all(films):
        raise InputError(f"--film {text!r} names an empty film; part films by single commas")
    return films


@contextmanager
def show_progress(what: str, cluster: str | None = None) -> Iterator[Callable[[str], None]]:
    """Say on stderr what is being worked on, where a person is looking at it.

    Given is a function to tell how far it is. What is spread meanwhile runs on the cluster whose
    address is given, if one is.
    """
    with _use_cluster(cluster):
        if sys.stderr is None or not sys.stderr.isatty():
            yield lambda _: None
            return
        from rich.console import Console
        from rich.markup import escape

        with Console(stderr=True).status(what) as status:
            yield lambda text: status.update(escape(text))


@contextmanager
def _use_cluster(cluster: str | None) -> Iterator[None]:
    if cluster is None:
        yield
        return
    import logging

    from ..optics.numerics.cluster import on_cluster

    with on_cluster(cluster):
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
) -> None:
    """Write the chart and the report if wanted, then the answer to stdout as JSON or as text.

    ``listed`` is what the JSON lists, where it is less than what charts need.
    """
    # Refused, if it is, before any file is written.
    data = (listed or result).to_dict() if as_json else {}
    if chart is not None:
        from ..optics.report.style import save_chart

        save_chart(result.plot(), chart)
    if report is not None:
        write_document(report, result.document())
    if as_json:
        json.dump(data, sys.stdout, ensure_ascii=not writes_utf8(sys.stdout), allow_nan=False)
        sys.stdout.write("\n")
        return
    from ..optics.report.terminal import console, print_document

    print_document(result.document(), console(), more="--report FILE.html prints them")
    if chart is not None:
        say(f"chart written: {chart}")
    if report is not None:
        say(f"report written: {report.path}")
