"""A document as CSV, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from io import StringIO

from ..errors import show_controls
from .document import Block, Document, Figure, Heading, Items, Note, Table, words_of

_FORMULA = re.compile(r"[=+@\t\r]|-(?!\d*\.?\d+(e[+-]?\d+)?$)", re.IGNORECASE)
"""What a spreadsheet would compute; a minus may be that of a number."""


def document_csv(document: Document) -> str:
    """The answer in the first row, then its lines; each table under its head, set off by a gap."""
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([cell_of(words_of(document.headline))])
    for block in document.blocks:
        writer.writerows([[cell_of(words) for words in row] for row in _rows(block)])
    return stream.getvalue()


def _rows(block: Block) -> Iterator[list[str]]:
    if isinstance(block, Table):
        yield []
        yield list(block.head)
        yield from ([words_of(cell) for cell in row] for row in block.rows)
        yield []
    elif isinstance(block, Items):
        yield from ([words_of(line)] for line in block.lines)
    elif isinstance(block, Heading):
        yield [block.text]
    elif isinstance(block, Note):
        yield [words_of(block.line)]
    elif not isinstance(block, Figure):
        yield [words_of(block)]


def cell_of(words: str) -> str:
    """A cell that no spreadsheet takes for a formula, and no terminal for a command."""
    words = show_controls(words)
    return f"'{words}" if _FORMULA.match(words) else words
