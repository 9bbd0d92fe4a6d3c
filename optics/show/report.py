"""One self-contained page for paper or browser: text, tables and charts drawn into it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from io import BytesIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_STYLE = """
body { font: 11pt/1.45 Georgia, serif; color: #222; max-width: 46rem; margin: 2rem auto;
       padding: 0 1rem; }
h1 { font-size: 1.6rem; } h2 { font-size: 1.15rem; margin-top: 2rem; }
table { border-collapse: collapse; margin: 1rem 0; width: 100%; }
th, td { text-align: left; padding: .25rem .6rem .25rem 0; border-bottom: 1px solid #ccc; }
figure { margin: 1rem 0; } figure svg { width: 100%; height: auto; }
.swatch { display: inline-block; width: 2.6em; height: 1em; border: 1px solid #555;
          vertical-align: -.1em; margin-right: .5em; print-color-adjust: exact;
          -webkit-print-color-adjust: exact; }
.small { font-size: .85rem; color: #555; }
@page { margin: 18mm; } @media print { body { margin: 0; } figure, tr { break-inside: avoid; } }
"""

CAUTIONS = (
    "Hot metal looks like cold metal: let it cool, and hold it with tongs.",
    "Kilns and flames burn; plated or lacquered metal gives off harmful fumes when heated: strip "
    "it first and ventilate.",
    "Fine titanium dust and swarf burn fiercely; keep them from sparks, and water off the fire.",
    "Vacuum vessels of glass can implode and feedthroughs carry dangerous current: guard both.",
    "These notes do not replace local codes or licensed practice; where they differ, follow those.",
)
"""The usual cautions of the work the figures are for."""


@dataclass(frozen=True)
class Swatch:
    """A cell that shows a colour with its hex and its name."""

    srgb_hex: str
    name: str


Cell = str | Swatch


@dataclass(frozen=True)
class Table:
    """Rows under a heading line."""

    head: Sequence[str]
    rows: Sequence[Sequence[Cell]]


@dataclass(frozen=True)
class Section:
    """One part of a report; what is there is shown in this order."""

    title: str
    paragraphs: Sequence[str] = ()
    table: Table | None = None
    figure: Figure | None = None
    figure_text: str = ""
    items: Sequence[str] = field(default=())


def report_html(title: str, lead: str, sections: Sequence[Section], foot: str) -> str:
    """The page as text; everything given is escaped, nothing is fetched, no script runs.

    Parameters
    ----------
    title, lead, foot : str
        Heading, first paragraph, and the small print: version, command, data.
    sections : sequence of Section
    """
    body = "\n".join(_section(section) for section in sections)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f"<h1>{escape(title)}</h1>\n<p>{escape(lead)}</p>\n{body}\n"
        f'<p class="small">{escape(foot)}</p>\n</body>\n</html>\n'
    )


def _section(section: Section) -> str:
    parts = [f"<h2>{escape(section.title)}</h2>"]
    parts += [f"<p>{escape(text)}</p>" for text in section.paragraphs]
    if section.figure is not None:
        parts.append(_drawn(section.figure, section.figure_text))
    if section.table is not None:
        parts.append(_table(section.table))
    if section.items:
        parts.append("<ul>" + "".join(f"<li>{escape(i)}</li>" for i in section.items) + "</ul>")
    return "\n".join(parts)


def _table(table: Table) -> str:
    head = "".join(f"<th>{escape(cell)}</th>" for cell in table.head)
    rows = "".join(
        "<tr>" + "".join(f"<td>{_cell(cell)}</td>" for cell in row) + "</tr>\n"
        for row in table.rows
    )
    return f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>"


def _cell(cell: Cell) -> str:
    if isinstance(cell, str):
        return escape(cell)
    patch = f'<span class="swatch" style="background:{escape(cell.srgb_hex)}"></span>'
    return f"{patch}{escape(cell.srgb_hex)} {escape(cell.name)}"


def _drawn(figure: Figure, text: str) -> str:
    from matplotlib import rc_context

    stream = BytesIO()
    with rc_context({"svg.hashsalt": "oxhue", "svg.fonttype": "path"}):
        figure.savefig(stream, format="svg", metadata={"Date": None})
    svg = stream.getvalue().decode("utf-8")
    drawing = svg[svg.index("<svg") :].replace(
        "<svg", f'<svg role="img" aria-label="{escape(text)}"', 1
    )
    return f'<figure>{drawing}<figcaption class="small">{escape(text)}</figcaption></figure>'
