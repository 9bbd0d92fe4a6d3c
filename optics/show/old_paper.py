"""Answers as blocks for a page: what the terminal would be told, taken down in its parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table as TerminalTable
from rich.text import Text

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class PaperPatch:
    """A small field of a colour; hex and name follow it in words."""

    srgb_hex: str


Line = tuple[str | PaperPatch, ...]
"""Words with patches of colour among them."""

Cell = str | Line


@dataclass(frozen=True)
class PaperTable:
    """Rows under a heading line."""

    head: Sequence[str]
    rows: Sequence[Sequence[Cell]]


@dataclass(frozen=True)
class PaperItems:
    """A list without order."""

    lines: Sequence[Cell]


@dataclass(frozen=True)
class Drawing:
    """A chart, and what it shows in words."""

    figure: Figure
    text: str


Block = str | Line | PaperTable | PaperItems | Drawing

_ITEM, _CAUTION = "  - ", "Caution. "


class Paper(Console):
    """A console that keeps what is printed on it as blocks, cautions apart.

    The functions that answer on a terminal print on it too, so that a page says what the terminal
    says.

    Attributes
    ----------
    blocks : list of Block
    cautions : list of str
    """

    def __init__(self) -> None:
        super().__init__(
            file=StringIO(), color_system="truecolor", force_terminal=True, width=100,
            legacy_windows=False, no_color=False, _environ={},
        )  # fmt: skip
        self.blocks: list[Block] = []
        self.cautions: list[str] = []

    def print(self, *objects: Any, **_options: Any) -> None:
        """Take down what would be printed."""
        if len(objects) == 1 and isinstance(objects[0], TerminalTable):
            self.blocks.append(_table(objects[0]))
            return
        line = tuple(part for one in objects for part in _line(one))
        words = "".join(part for part in line if isinstance(part, str))
        if not line or (not words.strip() and len(line) == 1):
            return
        if words.startswith(_CAUTION):
            self.cautions.append(words.removeprefix(_CAUTION))
        elif words.startswith(_ITEM):
            self._add_item(words.removeprefix(_ITEM))
        else:
            self.blocks.append(words if len(line) == 1 else line)

    def _add_item(self, words: str) -> None:
        last = self.blocks[-1] if self.blocks else None
        if isinstance(last, PaperItems):
            self.blocks[-1] = PaperItems([*last.lines, words])
        else:
            self.blocks.append(PaperItems([words]))


def swatch_line(srgb_hex: str, name: str) -> Line:
    """A patch with its hex and its name."""
    return PaperPatch(srgb_hex), f"{srgb_hex}  {name}"


def _table(table: TerminalTable) -> PaperTable:
    columns = [[_cell(cell) for cell in column.cells] for column in table.columns]
    head = ["".join(part for part in _line(column.header) if isinstance(part, str))
            for column in table.columns]  # fmt: skip
    return PaperTable(head, list(zip(*columns, strict=True)))


def _cell(content: object) -> Cell:
    line = _line(content)
    return line[0] if len(line) == 1 and isinstance(line[0], str) else line


def _line(content: object) -> Line:
    """Words, and the patches that stand in a text as spaces on a colour."""
    if not isinstance(content, Text):
        return (str(content),)
    parts: list[str | PaperPatch] = []
    at = 0
    for part in sorted(content.spans):
        style = str(part.style)
        if not style.startswith("on #"):
            continue
        parts += [content.plain[at : part.start], PaperPatch(style.removeprefix("on "))]
        at = part.end
    parts.append(content.plain[at:].lstrip() if parts else content.plain[at:])
    return tuple(part for part in parts if part != "")
