"""How a result shows itself in a notebook, without knowing who draws it.

Results lie far below the rooms that draw. They say only that they can be displayed; the package's
door plugs in a drawer, which is loaded when a notebook first asks.
"""

from __future__ import annotations

from collections.abc import Callable

Drawer = Callable[[object], str]
_drawers: list[Drawer] = []


class Displayed:
    """A result that notebooks show as HTML: a table, swatches and a small chart."""

    __slots__ = ()

    def _repr_html_(self) -> str | None:
        """HTML of this result; None, and so its plain form, while nobody draws."""
        return _drawers[-1](self) if _drawers else None


def draw_with(drawer: Drawer) -> None:
    """Let results be drawn by this function from now on."""
    _drawers[:] = [drawer]
