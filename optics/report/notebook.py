"""A document in a notebook: what the terminal says, with swatches and a chart."""

from __future__ import annotations

from .document import Document, Items
from .html import block_html, figure_html

_STYLE = """<style>
.oxhue { max-width: 46rem; background: #fff; color: #1b1b1b; padding: .4rem .8rem; }
.oxhue table { border-collapse: collapse; } .oxhue figure { margin: .4rem 0; }
.oxhue th, .oxhue td { text-align: left; padding: .15rem .8rem .15rem 0; background: #fff;
  color: #1b1b1b; border-bottom: 1px solid #ccc; } .oxhue .short { white-space: nowrap; }
.oxhue svg { width: 100%; height: auto; max-height: 26rem; } .oxhue .wide { overflow-x: auto; }
.oxhue .patch { display: inline-block; width: 2.2em; height: .95em; border: 1px solid #555;
  vertical-align: -.1em; margin-right: .45em; }
</style>"""


def html_of(document: Document) -> str:
    """A document as one ``<div>``; everything in it is escaped."""
    parts = [block_html(document.headline)]
    parts += [figure_html(figure) for figure in document.figures[:1]]
    parts += [block_html(block) for block in document.blocks]
    if document.cautions:
        parts.append(block_html(Items(document.cautions)))
    return f'{_STYLE}<div class="oxhue">' + "\n".join(parts) + "</div>"
