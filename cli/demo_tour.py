"""A worked tour: the numeral plate of a public clock, tinted in a workshop's kiln."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..optics.files.atomic import make_folder, write_atomically
from ..optics.gauge.gauge import gauge
from ..optics.gauge.result import Estimate
from ..optics.inference.reading import parse_reading
from ..optics.look.look import look
from ..optics.look.plots import chart_look
from ..optics.look.result import Look
from ..optics.report.style import save_chart
from ..optics.show.charts import chart_estimate
from ..optics.show.grounds import COMPUTED, NINETY, source_table, uncertainty_table
from ..optics.show.old_html import CAUTIONS, Section, report_html
from ..optics.show.old_paper import Cell, Drawing, PaperItems, PaperTable, swatch_line
from ..optics.show.plain import Plain, data_sets, estimate_plain
from ..optics.show.text import format_swatch, show_estimate

if TYPE_CHECKING:
    from rich.console import Console

RAMP = "TiO2 0..200nm / Ti"
SEEN_WORD, SEEN_PHOTO = "purple", "#5a3a78"
_LEAD = (
    "A workshop that restores public clocks and sundials tints titanium numeral plates in a kiln. "
    "The oxide is clear; its colour comes from its thickness alone. First the colours a plate runs "
    "through, then the oxide under a colour seen."
)


def show_demo(
    folder: Path, out: Console | None, report: Path | None = None, command: str = "oxhue demo"
) -> Plain:
    """Print the tour, write its report and charts, and give all of it as plain data.

    Parameters
    ----------
    folder : Path
        Made where it does not exist.
    out : Console or None
        Nothing is printed without one.
    report : Path, optional
        Where the report goes in place of ``report.html`` in the folder.
    command : str
        What was typed, for the foot of the report.

    Raises
    ------
    InputError
        If the folder cannot be made or written to.
    """
    make_folder(folder)
    ramp = look(RAMP, spectrum=True)
    word = gauge(["TiO2"], "Ti", [parse_reading(SEEN_WORD)])
    photo = gauge(["TiO2"], "Ti", [parse_reading(SEEN_PHOTO, "card")])
    charts = {
        "ramp.png": chart_look(ramp),
        "seen-as-a-word.png": chart_estimate(word),
        "seen-beside-a-card.png": chart_estimate(photo),
    }
    # The files first: where there is no room for them, nothing has been said yet.
    for name, figure in charts.items():
        save_chart(figure, folder / name)
    page = _report(ramp, word, photo, command)
    page_at = report or folder / "report.html"
    write_atomically(page_at, lambda stream: stream.write(page.encode("utf-8")))
    if out is not None:
        _tell(ramp, word, photo, out)
        out.print(f"Written: {page_at}, and {', '.join(charts)} in {folder}.")
    return {
        "stack": RAMP,
        "ramp": [
            {"from_nm": low, "to_nm": high, "srgb_hex": hex_value, "name": name}
            for low, high, hex_value, name in bands(ramp)
        ],
        "estimates": [estimate_plain(word), estimate_plain(photo)],
        "report": str(page_at),
        "charts": [str(folder / name) for name in charts],
        "cautions": list(CAUTIONS),
    }


def _tell(ramp: Look, word: Estimate, photo: Estimate, out: Console) -> None:
    out.print(_LEAD)
    out.print()
    out.print(f'The ramp, oxhue look "{RAMP}":')
    for low, high, hex_value, name in bands(ramp):
        out.print(f"{low:5.0f} to {high:3.0f} nm  ", format_swatch(hex_value, name, out))
    for estimate, seen in ((word, f"--seen {SEEN_WORD}"), _photo_command(photo)):
        out.print()
        out.print(f"oxhue gauge --film TiO2 --on Ti {seen}:")
        show_estimate(estimate, out)
    out.print()
    for caution in CAUTIONS:
        out.print(f"Caution. {caution}")
    out.print()


def _photo_command(photo: Estimate) -> tuple[Estimate, str]:
    return photo, f'--seen "{SEEN_PHOTO}" --how card'


def bands(ramp: Look) -> list[tuple[float, float, str, str]]:
    """Runs of one colour name: from and to [nm], the hex in the middle, the name."""
    nm = np.asarray(ramp.films.layers[0].thickness_nm)
    names, hexes = np.asarray(ramp.reflected.name), np.asarray(ramp.reflected.srgb_hex)
    starts = np.flatnonzero(np.concatenate([[True], names[1:] != names[:-1]]))
    ends = np.concatenate([starts[1:] - 1, [nm.size - 1]])
    return [
        (float(nm[a]), float(nm[b]), str(hexes[(a + b) // 2]), str(names[a]))
        for a, b in zip(starts, ends, strict=True)
    ]


def _report(ramp: Look, word: Estimate, photo: Estimate, command: str) -> str:
    sections = [
        Section(
            "The colours of a titanium plate",
            [
                "From bare metal on, square on in daylight. Thickness of the oxide in nanometres.",
                Drawing(chart_look(ramp), "Colour strip and reflectance against oxide thickness."),
                PaperTable(
                    ["oxide", "colour"],
                    [
                        [f"{low:.0f} to {high:.0f} nm", swatch_line(hex_value, name)]
                        for low, high, hex_value, name in bands(ramp)
                    ],
                ),
            ],
        ),
        _estimate_section(word, f"Seen: {SEEN_WORD}, a word said across the bench"),
        _estimate_section(photo, f"Seen: {SEEN_PHOTO}, in a photo beside a white card"),
        Section(
            "How sure this is",
            [
                COMPUTED,
                NINETY,
                uncertainty_table(
                    [(r.text, r.how, r.doubts) for r in word.readings + photo.readings]
                ),
                f"Simulations are seeded with {word.seed}.",
            ],
        ),
        Section("Cautions", [PaperItems(CAUTIONS)]),
        Section("Optical data", [source_table(data_sets(word))]),
    ]
    foot = [f"Made by oxhue {version('oxhue')} with", command]
    return report_html("A titanium numeral plate in the kiln", _LEAD, sections, foot)


def _estimate_section(estimate: Estimate, title: str) -> Section:
    rows: list[list[Cell]] = [
        [
            f"{one.thickness_nm:.0f} nm",
            f"{one.interval90_nm[0]:.0f} to {one.interval90_nm[1]:.0f} nm",
            f"{100.0 * one.probability:.0f} %",
            str(one.order),
            one.film,
            swatch_line(one.srgb_hex, one.name),
        ]
        for one in estimate.candidates
    ]
    head = ["thickness", "90 % within", "probability", "order", "film", "colour square on"]
    text = "Probability over thickness, above the colours of the likeliest film."
    return Section(
        title,
        [
            Drawing(chart_estimate(estimate), text),
            PaperTable(head, rows),
            f"Next: {estimate.next_check}.",
        ],
    )
