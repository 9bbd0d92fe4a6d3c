"""A document on a terminal, or as plain text."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from io import StringIO
from typing import TYPE_CHECKING, TextIO

from .document import Document, Items, Line, Note, Swatch, Table

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table as TerminalTable
    from rich.text import Text

_PIPE_WIDTH = 100


def console(stream: TextIO | None = None) -> Console:
    """A console that colours only where the terminal can, and never wraps a pipe's lines."""
    from rich.console import Console

    stream = stream or sys.stdout
    width = None if stream.isatty() else _PIPE_WIDTH
    # Names of files and stacks may hold brackets and colons, which are not markup.
    return Console(
        file=stream, highlight=False, markup=False, emoji=False,
        soft_wrap=not stream.isatty(), width=width,
    )  # fmt: skip


def text_of(document: Document) -> str:
    """A document as plain text, as a pipe gets it."""
    stream = StringIO()
    print_document(document, console(stream))
    return stream.getvalue().rstrip("\n")


def print_document(document: Document, out: Console, more: str = "") -> None:
    """Print a document: the answer first, remarks dim, cautions and data last.

    Parameters
    ----------
    document : Document
    out : Console
    more : str
        Where further cautions are read; empty prints them all.
    """
    out.print(line_text(document.headline, out), style="bold")
    if document.blocks:
        out.print()
    for block in document.blocks:
        if isinstance(block, Table):
            out.print(terminal_table(block, out))
        elif isinstance(block, Items):
            for line in block.lines:
                out.print(line_text(("  - ", *_parts(line)), out))
        elif isinstance(block, Note):
            out.print(line_text(block.line, out), style="dim")
        else:
            out.print(line_text(block, out))
    for sentence in _cautions(document.cautions, more):
        out.print(f"Caution. {sentence}")
    if document.sources:
        out.print(f"Optical data: {', '.join(document.sources)}.", style="dim")


def _cautions(cautions: Sequence[str], more: str) -> Iterator[str]:
    """All cautions, or the first with a pointer to the others."""
    left = len(cautions) - 1
    if not more or left < 1:
        yield from cautions
        return
    yield f"{cautions[0]} ({left} more {'caution' if left == 1 else 'cautions'}: {more}.)"


def line_text(line: Line, out: Console) -> Text:
    """A line, with a patch before each colour where the terminal shows colours."""
    from rich.text import Text

    text = Text()
    for part in _parts(line):
        if isinstance(part, Swatch) and out.color_system is not None:
            text.append("      ", f"on {part.srgb_hex}").append(" ")
        text.append(part.words if isinstance(part, Swatch) else part)
    return text


def terminal_table(table: Table, out: Console) -> TerminalTable | Text:
    """A table without the optional columns that do not fit, or else one line for each cell.

    No word and no colour value is ever broken.
    """
    from rich.box import SIMPLE_HEAD
    from rich.table import Table as TerminalTable
    from rich.text import Text

    cells = [[line_text(cell, out) for cell in row] for row in table.rows]
    shown = _columns_that_fit(table, cells, out)
    if shown is None:
        return Text("\n").join(_as_lines(table.head, cells))
    made = TerminalTable(box=SIMPLE_HEAD, pad_edge=False)
    for column in shown:
        made.add_column(table.head[column], min_width=_least_width(column, table, cells))
    for row in cells:
        made.add_row(*(row[column] for column in shown))
    return made


def _columns_that_fit(
    table: Table, cells: Sequence[Sequence[Text]], out: Console
) -> list[int] | None:
    shown = list(range(len(table.head)))
    leaving = [list(table.head).index(name) for name in table.optional]
    while True:
        needed = sum(_least_width(column, table, cells) + 2 for column in shown) + 1
        if needed <= out.width:
            return shown
        if not leaving:
            return None
        shown.remove(leaving.pop(0))


def _least_width(column: int, table: Table, cells: Sequence[Sequence[Text]]) -> int:
    """Width of the longest word of a column, which its colour patches belong to."""
    from rich.cells import cell_len

    texts = [table.head[column], *(row[column].plain for row in cells)]
    words = [word for text in texts for word in text.split()]
    patched = any(row[column].spans for row in cells)
    return max(map(cell_len, words), default=1) + 7 * patched


def _as_lines(head: Sequence[str], cells: Sequence[Sequence[Text]]) -> Iterator[Text]:
    from rich.text import Text

    width = max(map(len, head), default=0)
    for row in cells:
        yield Text()
        for name, cell in zip(head, row, strict=True):
            if cell.plain.strip():
                yield Text.assemble(name.ljust(width), "  ", cell)
    yield Text()


def _parts(line: Line) -> tuple[str | Swatch, ...]:
    return line if isinstance(line, tuple) else (line,)
