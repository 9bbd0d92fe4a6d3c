"""How a result shows itself in a notebook."""

from __future__ import annotations


class Displayed:
    """A result that notebooks show as HTML: a table, swatches and a small chart."""

    __slots__ = ()

    def _repr_html_(self) -> str | None:
        """HTML of this result."""
        from .show.notebook import html_of

        return html_of(self)
