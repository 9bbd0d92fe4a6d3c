"""What every answer can do: a short repr, a sentence, a document on each face, plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar, TypeVar

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from .report.document import Document

LONGEST_REPR = 199


T = TypeVar("T")
Hidden = Annotated[T, "no JSON"]
"""A field that no JSON lists: draws, densities, objects for charts."""


class Result:
    """An answer or a physical object that shows itself.

    Its document comes from ``present.py`` in the folder of its class. Fields are the keys of its
    JSON, but for those annotated as ``Hidden[...]``.

    Attributes
    ----------
    verb : str
        The verb that gives this answer; empty for what is no answer, such as a stack.
    also : tuple of str
        Properties that are listed in the JSON after the fields.
    rows : str
        The field with the rows of :meth:`to_dataframe`; empty where there is no table.
    """

    __slots__ = ()
    verb: ClassVar[str] = ""
    also: ClassVar[tuple[str, ...]] = ()
    rows: ClassVar[str] = ""

    def document(self) -> Document:
        """The answer as blocks that every face renders."""
        from .report.document import document_of

        return document_of(self)

    def summary(self) -> str:
        """What the terminal prints, without colours, at most 100 letters wide."""
        from .report.terminal import text_of

        return text_of(self.document())

    def plot(self) -> Figure:
        """The chart of this answer.

        Raises
        ------
        InputError
            If this answer has no chart.
        """
        from .errors import InputError

        figures = self.document().figures
        if not figures:
            raise InputError(f"a {type(self).__name__} has no chart")
        return figures[0].draw()

    def to_dict(self) -> dict[str, Any]:
        """Plain data with the keys of the command line's JSON."""
        from .report.json import result_dict

        return result_dict(self)

    def to_dataframe(self) -> Any:
        """The rows of this answer as a ``pandas.DataFrame``.

        Raises
        ------
        InputError
            If this answer is no table.
        ImportError
            If pandas is not installed.
        """
        from .errors import InputError

        if not self.rows:
            raise InputError(f"a {type(self).__name__} is no table; to_dict() gives its data")
        import pandas

        return pandas.DataFrame(self.to_dict()[self.rows])

    def __str__(self) -> str:
        """The answer in one sentence."""
        from .report.document import words_of

        return words_of(self.document().headline)

    def __repr__(self) -> str:
        """One line of under 200 characters."""
        line = " ".join(f"<{type(self).__name__}: {self}>".split())
        return line if len(line) <= LONGEST_REPR else f"{line[: LONGEST_REPR - 4]}...>"

    def _repr_html_(self) -> str:
        """The answer in a notebook."""
        from .report.html import html_of

        return html_of(self.document())
