"""Answers as text for a terminal: one line first, then the figures, always in words too."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

_MOST_ROWS = 40
_INDEX_LINES_NM = (450.0, 550.0, 650.0)


def console(stream: TextIO | None = None) -> Console:
    """A console that colours only where the terminal can, and never wraps a pipe's lines."""
    from rich.console import Console

    stream = stream or sys.stdout
    width = None if stream.isatty() else 100
    # Names of files and stacks may hold brackets and colons, which are not markup.
    return Console(
        file=stream, highlight=False, markup=False, emoji=False,
        soft_wrap=not stream.isatty(), width=width,
    )  # fmt: skip


def format_swatch(hex_value: str, name: str, out: Console) -> Text:
    """Hex and name of a colour, behind a patch of it where the terminal shows colours."""
    from rich.text import Text

    words = f"{hex_value}  {name}"
    if out.color_system is None:
        return Text(words)
    return Text.assemble(("      ", f"on {hex_value}"), " ", words)


def format_angle(angle_deg: float) -> str:
    """An angle of incidence as people say it."""
    return f"{angle_deg:g}° from square on" if angle_deg else "square on"


def new_table(*columns: str) -> Table:
    """An empty table with a rule under its heads; on a narrow terminal, one line for each cell."""
    from rich.box import SIMPLE_HEAD

    from .old_narrow import FittingTable

    table = FittingTable(box=SIMPLE_HEAD, pad_edge=False)
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def format_percent(share: float) -> str:
    """A probability in words that never claims certainty."""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100.0 * share:.0f} %"


def format_interval(interval: tuple[float, float]) -> str:
    """An interval of thickness in words."""
    return f"{interval[0]:.0f} to {interval[1]:.0f} nm"


def format_ordinal(order: int) -> str:
    """1st, 2nd, 3rd ..."""
    return {1: "1st", 2: "2nd", 3: "3rd"}.get(order, f"{order}th")
