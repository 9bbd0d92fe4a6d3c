"""A document on a terminal, or as plain text."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Sequence
from io import StringIO
from typing import TYPE_CHECKING, TextIO

from ..errors import show_controls
from .document import Document, Figure, Heading, Items, Line, Note, Swatch, Table
from .kept import FIRM, keep_together

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table as TerminalTable
    from rich.text import Text

_PIPE_WIDTH = 100
_BULLET = "  - "
_RANGE = re.compile(r"(\d) to (?=\d)")


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
    _print_line(document.headline, out, style="bold")
    if document.blocks:
        out.print()
    for block in document.blocks:
        if isinstance(block, Table):
            out.print(terminal_table(block, out))
        elif isinstance(block, Items):
            for line in block.lines:
                _print_line(line, out, bullet=_BULLET)
        elif isinstance(block, Heading):
            out.print(f"\n{show_controls(block.text)}", style="bold")
        elif isinstance(block, Figure):
            continue
        elif isinstance(block, Note):
            _print_line(block.line, out, style="dim")
        else:
            _print_line(block, out)
    for sentence in _cautions(document.cautions, more):
        _print_line(f"Caution. {sentence}", out)
    if document.sources:
        _print_line(f"Optical data: {', '.join(document.sources)}.", out, style="dim")


def _print_line(line: Line, out: Console, *, style: str = "", bullet: str = "") -> None:
    """Print a line, broken where it may be; a pipe gets it whole."""
    from rich.text import Text

    text = line_text(line, out)
    if not out.soft_wrap:
        text = _broken(text, out.width - len(bullet))
    parts = text.split("\n")
    margin = " " * len(bullet)
    text = Text("\n").join(
        Text.assemble(margin if i else bullet, part) for i, part in enumerate(parts)
    )
    out.print(text, style=style)


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

    text, shows_colours = Text(), out.color_system is not None and not out.no_color
    for part in _parts(line):
        if isinstance(part, Swatch) and shows_colours:
            text.append("      ", f"on {part.srgb_hex}").append(" ")
        text.append(show_controls(part.words if isinstance(part, Swatch) else part))
    return text


def terminal_table(table: Table, out: Console) -> TerminalTable | Text:
    """A table without the optional columns that do not fit, or else one line for each cell.

    No word and no colour value is ever broken.
    """
    from rich.box import SIMPLE_HEAD
    from rich.table import Table as TerminalTable
    from rich.text import Text

    cells = [[line_text(cell, out) for cell in row] for row in table.rows]
    head = [Text(name) for name in table.head]
    shown = list(range(len(head)))
    leaving = [list(table.head).index(name) for name in table.optional]
    while (widths := _fit_widths([head, *cells], shown, out.width)) is None:
        if not leaving:
            return Text("\n").join(_as_lines(table.head, cells))
        shown.remove(leaving.pop(0))
    made = TerminalTable(box=SIMPLE_HEAD, pad_edge=False)
    for column, width in zip(shown, widths, strict=True):
        made.add_column(_broken(head[column], width), width=width)
    for row in cells:
        broken = zip(shown, widths, strict=True)
        made.add_row(*(_broken(row[column], width) for column, width in broken))
    return made


def _fit_widths(
    rows: Sequence[Sequence[Text]], shown: Sequence[int], room: int
) -> list[int] | None:
    """Widths of columns that fit, the widest narrowed first; None if a word would be broken."""
    from rich.cells import cell_len

    columns = [[row[column] for row in rows] for column in shown]
    widths = [max(cell_len(text.plain) for text in column) for column in columns]
    least = [
        max((cell_len(word) for text in column for word in _firm(text).split(" ")), default=1)
        for column in columns
    ]
    # Each column has a space on either side and a gap to the next; the box adds its edges.
    excess = sum(widths) + 3 * len(shown) - 1 - room
    while excess > 0:
        slack = [width - small for width, small in zip(widths, least, strict=True)]
        if not any(part > 0 for part in slack):
            return None
        widest = max((i for i, part in enumerate(slack) if part > 0), key=widths.__getitem__)
        widths[widest] -= 1
        excess -= 1
    return widths


def _firm(text: Text) -> str:
    """The letters of a text, with firm spaces where no line may end: a patch stays at its code, and
    a range in a table whole."""
    letters = list(keep_together(_RANGE.sub(rf"\1{FIRM}to{FIRM}", text.plain)))
    for span in text.spans:
        letters[span.start : span.end + 1] = FIRM * (span.end + 1 - span.start)
    return "".join(letters)


def _broken(text: Text, width: int) -> Text:
    """A text with line ends where it must be broken; what is longer than a line is left whole."""
    from rich.cells import cell_len
    from rich.text import Text

    words, starts, at, used = _firm(text).split(" "), [], 0, 0
    for word in words:
        length = cell_len(word)
        if at and used + length > width:
            starts.append(at)
            used = 0
        at += len(word) + 1
        used += length + 1
    lines = text.divide(starts)
    for line in lines[:-1]:
        line.rstrip()
    return Text("\n").join(lines)


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
