"""A table that turns into lines where the terminal is too narrow for its words."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console, ConsoleOptions, RenderResult
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

_LEAST_LETTERS = 7  # a column narrower than this, and than its words, is no longer read


class FittingTable(Table):
    """A table, or each of its cells on a line behind its head where words would be cut."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        if self._fits(console, options):
            yield from super().__rich_console__(console, options)
        else:
            yield from self._lines()

    def _fits(self, console: Console, options: ConsoleOptions) -> bool:
        """Whether every column gets its longest word, or enough letters to be read."""
        wide = options.update(width=10_000, max_width=10_000)
        needed = 0
        for column in self.columns:
            cells = [column.header, *column.cells]
            longest = max(Measurement.get(console, wide, cell).minimum for cell in cells)
            needed += min(longest, 2 * _LEAST_LETTERS) + 2
        return needed <= options.max_width

    def _lines(self) -> Iterator[Text]:
        heads = [str(column.header) for column in self.columns]
        width = max(map(len, heads), default=0)
        yield Text("")
        for cells in zip(*(column.cells for column in self.columns), strict=True):
            for head, cell in zip(heads, cells, strict=True):
                if not str(cell).strip():
                    continue
                shown = cell if isinstance(cell, Text) else Text(str(cell))
                yield Text.assemble(head.ljust(width), "  ", shown)
            yield Text("")
