"""A document as one self-contained page for paper or browser; charts are drawn into it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from .document import Block, Document, Figure, Heading, Items, Line, Note, Swatch, Table, words_of
from .kept import keep_together
from .provenance import cite_sources
from .style import draw_svg, svg_element

_STYLE = """
:root { color-scheme: light; }
body { font: 11pt/1.45 Georgia, "Liberation Serif", serif; color: #1b1b1b; background: #fff;
       max-width: 47rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.55rem; line-height: 1.2; margin: 0 0 .4rem; }
h2 { font-size: 1.12rem; margin: 1.9rem 0 .5rem; break-after: avoid; }
h3 { font-size: 1rem; margin: 1.4rem 0 .3rem; break-after: avoid; }
.lead { font-size: 1.1rem; border-left: .25rem solid #1b1b1b; padding-left: .8rem; }
.pen { display: flex; gap: 1.5rem; margin: 1.2rem 0; font-size: .9rem; }
.pen span { flex: 1; border-bottom: 1px solid #777; padding-bottom: .15rem; }
table { border-collapse: collapse; margin: .9rem 0; width: 100%; font-size: .95rem; }
th, td { text-align: left; padding: .22rem .7rem .22rem 0; border-bottom: 1px solid #ccc;
         vertical-align: top; overflow-wrap: break-word; }
th { border-bottom: 1.5px solid #555; }
.short { white-space: nowrap; }
p { margin: .55rem 0; } ul { padding-left: 1.3rem; }
.wide { overflow-x: auto; }
figure { margin: 1rem 0; } figure svg { width: 100%; height: auto; max-height: 23cm; }
.patch { display: inline-block; width: 2.2em; height: .95em; border: 1px solid #555;
         vertical-align: -.1em; margin-right: .45em; print-color-adjust: exact;
         -webkit-print-color-adjust: exact; }
.small { font-size: .85rem; color: #4a4a4a; } figcaption { margin-top: .2rem; }
code { font: .92em/1.4 "DejaVu Sans Mono", Consolas, Menlo, monospace; overflow-wrap: anywhere; }
.fine { font-size: .82rem; } .fine h2 { font-size: .95rem; margin: 1.1rem 0 .3rem; }
.fine p { margin: .3rem 0; } .fine li { margin: .1rem 0; }
.fine table { font-size: .78rem; margin: .4rem 0; }
.fine th, .fine td { padding: .08rem .6rem .08rem 0; }
.cited ul { columns: 2; column-gap: 1.4rem; font-size: .64rem; line-height: 1.25;
            padding-left: 1rem; }
footer { border-top: 1px solid #777; margin-top: 2rem; padding-top: .4rem; }
@page { size: A4; margin: 14mm 17mm; @bottom-right { content: counter(page) " / " counter(pages);
        font: 9pt Georgia, serif; color: #4a4a4a; } }
@media print { :root { font-size: 14px; }
  body { margin: 0; padding: 0; max-width: none; font-size: 9.6pt; line-height: 1.36; }
  figure, tr, li { break-inside: avoid; } thead { display: table-header-group; }
  p { orphans: 2; widows: 2; } .wide { overflow: visible; }
  .long { columns: 2; column-gap: 1.4rem; } .long table { margin-top: 0; }
  figure svg { max-height: 6.4cm; }
  figure { margin: .5rem 0; } figure + figure svg, figure:has(+ figure) svg { max-height: 5.6cm; }
  th, td { padding-right: .4rem; } footer { margin-top: .3rem; } .cited li { break-inside: auto; }
  .fine h2 { margin: .7rem 0 .2rem; } h2 { margin: 1rem 0 .3rem; }
  table { font-size: .88rem; margin: .5rem 0; } p { margin: .35rem 0; } }
"""

_IN_NOTEBOOK = """<style>
.oxhue { max-width: 46rem; background: #fff; color: #1b1b1b; padding: .4rem .8rem; }
.oxhue table { border-collapse: collapse; } .oxhue figure { margin: .4rem 0; }
.oxhue th, .oxhue td { text-align: left; padding: .15rem .8rem .15rem 0; background: #fff;
  color: #1b1b1b; border-bottom: 1px solid #ccc; } .oxhue .short { white-space: nowrap; }
.oxhue svg { width: 100%; height: auto; max-height: 26rem; } .oxhue .wide { overflow-x: auto; }
.oxhue .patch { display: inline-block; width: 2.2em; height: .95em; border: 1px solid #555;
  vertical-align: -.1em; margin-right: .45em; }
</style>"""
CAUTIONS = (
    "Hot metal looks like cold metal: let it cool, and hold it with tongs.",
    "Kilns and flames burn; plated or lacquered metal gives off harmful fumes when heated: strip "
    "it first and ventilate.",
    "Fine titanium dust and swarf burn fiercely; keep them from sparks, and water off the fire.",
    "Vacuum vessels of glass can implode and feedthroughs carry dangerous current: guard both.",
    "These notes do not replace local codes or licensed practice; where they differ, follow those.",
)
"""The usual cautions of the work the figures are for."""

_LONG, _SLIM = 20, 3  # a table with more rows and no more columns is printed in two columns
_SHORT = 20  # letters that a cell keeps on one line
_PEN = ("Piece", "Date", "By")
"""What a workshop writes on a sheet by hand."""


def report_html(document: Document, asked: Sequence[Block], foot: Sequence[str]) -> str:
    """The page as text; everything given is escaped, nothing is fetched, no script runs.

    Parameters
    ----------
    document : Document
    asked : sequence of Block
        The question as it was put, and what was taken where nothing was said.
    foot : sequence of str
        Small print: who made it; what follows the first is set as typed.
    """
    title = escape(document.question)
    lead = _words(words_of(document.headline))
    pen = "".join(f"<span>{escape(word)}</span>" for word in _PEN)
    made, *typed = foot
    command = "".join(f"<br><code>{escape(line)}</code>" for line in typed)
    body = "\n".join(sections(document, asked))
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f'<main>\n<h1>{title}</h1>\n<p class="lead">{lead}</p>\n'
        f'<div class="pen">{pen}</div>\n{body}\n</main>\n'
        f'<footer class="small">{escape(made)}{command}</footer>\n</body>\n</html>\n'
    )


def html_of(document: Document) -> str:
    """A document as one ``<div>``; everything in it is escaped."""
    parts = [block_html(document.headline)]
    parts += [figure_html(figure) for figure in document.figures[:1]]
    parts += [block_html(block) for block in document.blocks]
    if document.cautions:
        parts.append(block_html(Items(document.cautions)))
    return f'{_IN_NOTEBOOK}<div class="oxhue">' + "\n".join(parts) + "</div>"


def sections(document: Document, asked: Sequence[Block]) -> list[str]:
    """The parts of a page below its headline, each under its own heading."""
    figures = map(figure_html, document.figures)
    answer = [*figures, *map(block_html, document.blocks)]
    cautions = list(dict.fromkeys([*document.cautions, CAUTIONS[-1]]))
    parts = [_section("The answer", answer)]
    if asked:
        parts.append(_section("What was asked", map(block_html, asked)))
    parts.append(_section("Cautions", [block_html(Items(cautions))], "fine"))
    parts.append(_section("How sure this is", map(block_html, document.confidence), "fine"))
    if document.sources:
        cited = [block_html(Items(cite_sources(document.sources)))]
        parts.append(_section("Optical data", cited, "fine cited"))
    return parts


def block_html(block: Block) -> str:
    """One block as HTML, everything in it escaped."""
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Items):
        return "<ul>" + "".join(f"<li>{_line(line)}</li>" for line in block.lines) + "</ul>"
    if isinstance(block, Heading):
        return f"<h3>{escape(block.text)}</h3>"
    if isinstance(block, Figure):
        return figure_html(block)
    if isinstance(block, Note):
        return f'<p class="small">{_line(block.line)}</p>'
    return f"<p>{_line(block)}</p>"


def figure_html(figure: Figure) -> str:
    """A chart drawn into the page, with its caption."""
    svg, caption = figure.svg or draw_svg(figure.draw()), _words(figure.caption)
    drawing = svg_element(svg, figure.caption)
    return f'<figure>{drawing}<figcaption class="small">{caption}</figcaption></figure>'


def _section(title: str, parts: Iterable[str], kind: str = "") -> str:
    return (
        f'<section class="{kind}">\n'
        + "\n".join([f"<h2>{escape(title)}</h2>", *parts])
        + "\n</section>"
    )


def _table(table: Table) -> str:
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in table.head)
    rows = "".join(
        "<tr>"
        + "".join(f"<td{_keep_together(cell)}>{_line(cell)}</td>" for cell in row)
        + "</tr>\n"
        for row in table.rows
    )
    long = " long" if len(table.rows) > _LONG and len(table.head) <= _SLIM else ""
    return (
        f'<div class="wide{long}"><table>\n<thead><tr>{head}</tr></thead>\n'
        f"<tbody>\n{rows}</tbody>\n</table></div>"
    )


def _keep_together(cell: Line) -> str:
    """A short cell stays on one line, so that a long neighbour takes the breaks; a colour may have
    its name below its code, or tables of colours would be wider than a sheet."""
    parts = cell if isinstance(cell, tuple) else (cell,)
    short = len(words_of(cell)) <= _SHORT and not any(isinstance(one, Swatch) for one in parts)
    return ' class="short"' if short else ""


def _line(line: Line) -> str:
    parts = line if isinstance(line, tuple) else (line,)
    return "".join(_swatch(part) if isinstance(part, Swatch) else _words(part) for part in parts)


def _words(text: str) -> str:
    return escape(keep_together(text))


def _swatch(swatch: Swatch) -> str:
    """A patch on one line with what follows it, and a name of two words on one line."""
    first, gap, name = swatch.words.partition("  ")
    patch = f'<span class="patch" style="background:{escape(swatch.srgb_hex)}"></span>'
    return f'<span class="short">{patch}{_words(first)}</span>{gap[:1]}{_words(name)}'
