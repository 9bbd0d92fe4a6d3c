"""A worked tour: the numeral plate of a public clock, tinted in a workshop's kiln."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import ClassVar

import numpy as np

from ..optics.errors import InputError
from ..optics.files.atomic import check_target, make_folder, write_atomically
from ..optics.gauge.gauge import gauge
from ..optics.gauge.result import Estimate
from ..optics.inference.reading import parse_reading
from ..optics.log.jar.learnt import JarLearnt
from ..optics.log.log import Log
from ..optics.look.look import look
from ..optics.look.plots import chart_look
from ..optics.look.result import Look
from ..optics.numerics.parallel import ignore_progress
from ..optics.report.document import Block, Document, Figure, Heading, Line, Swatch, Table
from ..optics.report.html import CAUTIONS, report_html
from ..optics.report.provenance import COMPUTED, NINETY, uncertainty_table
from ..optics.report.style import draw_svg
from ..optics.result import Hidden, Result

RAMP = "TiO2 0..200nm / Ti"
SEEN_WORD, SEEN_PHOTO = "purple", "#5a3a78"
_OWN = SEEN_PHOTO.encode()  # stands in every report of the tour
_LEAD = (
    "A workshop that restores public clocks and sundials tints titanium numeral plates in a kiln. "
    "The oxide is clear; its colour comes from its thickness alone. First the colours a plate runs "
    "through, then the oxide under a colour seen, then what the workshop's own log of runs teaches."
)


@dataclass(frozen=True)
class ColourBand:
    """A run of one colour name over the thickness of the oxide."""

    from_nm: float
    to_nm: float
    srgb_hex: str
    name: str


@dataclass(frozen=True, eq=False, repr=False)
class Tour(Result):
    """The tour's answers, and the files that hold them."""

    verb: ClassVar[str] = "demo"

    stack: str
    ramp: list[ColourBand]
    estimates: tuple[Estimate, Estimate]
    report: str
    charts: list[str]
    cautions: tuple[str, ...]
    learnt: JarLearnt
    drawn: Hidden[tuple[Figure, ...]]

    def document(self) -> Document:
        """The plate's colours, and the oxide by a word and by a photo."""
        word, photo = self.estimates
        strip_chart, word_chart, photo_chart, log_chart = self.drawn
        rows: list[list[Line]] = [
            [_span(one.from_nm, one.to_nm), Swatch(one.srgb_hex, one.name)] for one in self.ramp
        ]
        return Document(
            headline=_LEAD,
            blocks=[
                Heading(f'The ramp, oxhue look "{RAMP}":'),
                strip_chart,
                Table(["oxide", "colour"], rows),
                *_section(word, word_chart, f"oxhue gauge --film TiO2 --on Ti --seen {SEEN_WORD}:"),
                *_section(
                    photo,
                    photo_chart,
                    f'oxhue gauge --film TiO2 --on Ti --seen "{SEEN_PHOTO}" --how card:',
                ),
                *_log_section(self.learnt, log_chart),
                f"Written: {self.report}, and {', '.join(Path(one).name for one in self.charts)}.",
            ],
            cautions=self.cautions,
            question="A titanium numeral plate in the kiln",
            confidence=[
                COMPUTED,
                NINETY,
                uncertainty_table(
                    [(one.text, one.how, one.doubts) for one in word.seen + photo.seen]
                ),
                f"Simulations are seeded with {word.seed}.",
            ],
            sources=word.data_sets,
        )


def _span(from_nm: float, to_nm: float) -> str:
    first, last = f"{from_nm:.0f}", f"{to_nm:.0f}"
    return f"{first} nm" if first == last else f"{first} to {last} nm"


def _section(estimate: Estimate, chart: Figure, title: str) -> list[Block]:
    found = estimate.document()
    return [Heading(title), found.headline, chart, *found.blocks]


def _log_section(learnt: JarLearnt, chart: Figure) -> list[Block]:
    found = learnt.document()
    figures = chart, *found.figures[1:]
    lead = (
        "Eight runs of titanium and aluminium and six kiln pieces, invented for this tour. Each "
        "run of the jar is set against what the others make one expect."
    )
    title = "The run log, oxhue log import clock-log.csv, then oxhue log learn jar:"
    return [Heading(title), lead, found.headline, *figures, *found.blocks]


def _learn_log(folder: Path) -> JarLearnt:
    """What the workshop's log teaches of its jar; the log's rows are left in the folder."""
    rows = files(__package__).joinpath("clock-log.csv").read_bytes()
    kept = folder / "clock-log.csv"
    write_atomically(kept, lambda stream: stream.write(rows))
    with TemporaryDirectory() as place, Log.open(Path(place) / "clocks.sqlite") as log:
        log.import_(kept)
        learnt = log.learn("jar")
    assert isinstance(learnt, JarLearnt)  # a chamber teaches of a jar
    return learnt


def run_demo(
    folder: Path,
    *,
    report: Path | None = None,
    command: str = "oxhue demo",
    tell: Callable[[str], None] = ignore_progress,
) -> Tour:
    """Work out the tour and write its report and charts.

    Parameters
    ----------
    folder : Path
        Made where it does not exist.
    report : Path, optional
        Where the report goes in place of ``report.html`` in the folder.
    command : str
        What was typed, for the foot of the report.
    tell : callable
        Told what is being worked on.

    Raises
    ------
    InputError
        If the folder cannot be made or written to, or holds a report that is no demo's.
    """
    make_folder(folder)
    _check_own(folder / "report.html")
    if report is not None:
        check_target(report)
    tell("the colours of a plate in the kiln")
    ramp = look(RAMP, spectrum=True)
    tell("the oxide under a colour seen")
    word = gauge("TiO2", "Ti", SEEN_WORD)
    photo = gauge("TiO2", "Ti", parse_reading(SEEN_PHOTO, "card"))
    tell("what the log of runs teaches")
    learnt = _learn_log(folder)
    tell("drawing the charts and the report")
    caption = "Colour strip and reflectance against oxide thickness."
    strip = Figure(lambda: chart_look(ramp), caption)
    own = (one.document().figures[0] for one in (word, photo, learnt))
    names = "ramp.svg", "seen-as-a-word.svg", "seen-with-a-card.svg", "log.svg"
    # Drawn once, for the file and the report; the files first: where there is no room for them,
    # nothing has been said yet.
    charts = {
        name: replace(chart, svg=draw_svg(chart.draw()))
        for name, chart in zip(names, (strip, *own), strict=True)
    }
    for name, chart in charts.items():
        _write_text(folder / name, chart.svg)
    tour = Tour(
        stack=RAMP,
        ramp=find_bands(ramp),
        estimates=(word, photo),
        report=str(report or folder / "report.html"),
        charts=[str(folder / name) for name in charts],
        cautions=CAUTIONS,
        learnt=learnt,
        drawn=tuple(charts.values()),
    )
    page = report_html(tour.document(), asked=[], foot=_foot(command))
    _write_text(Path(tour.report), page)
    return tour


def _write_text(path: Path, text: str) -> None:
    write_atomically(path, lambda stream: stream.write(text.encode("utf-8")))


def _check_own(report: Path) -> None:
    """Refuse to write over a report that somebody made with another question."""
    check_target(report)
    if report.exists() and _OWN not in report.read_bytes():
        raise InputError(f"{str(report)!r} is no report of the demo; name another folder")


def _foot(command: str) -> Sequence[str]:
    return [f"Made by oxhue {version('oxhue')} with", command]


def find_bands(ramp: Look) -> list[ColourBand]:
    """Runs of one colour name, each with the colour of its middle."""
    nm = np.asarray(ramp.films.layers[0].thickness_nm)
    names, hexes = np.asarray(ramp.reflected.name), np.asarray(ramp.reflected.srgb_hex)
    starts = np.flatnonzero(np.concatenate([[True], names[1:] != names[:-1]]))
    ends = np.concatenate([starts[1:] - 1, [nm.size - 1]])
    return [
        ColourBand(float(nm[a]), float(nm[b]), str(hexes[(a + b) // 2]), str(names[a]))
        for a, b in zip(starts, ends, strict=True)
    ]
