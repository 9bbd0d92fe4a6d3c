"""An answer as a document: blocks that terminal, report, notebook and page each render.

Nothing here knows how a face looks, and no face looks at wording.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import singledispatch
from importlib import import_module
from importlib.util import find_spec
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Drawn


@dataclass(frozen=True)
class Swatch:
    """A field of a colour, its hex value and its name.

    Attributes
    ----------
    srgb_hex, name : str
    with_hex : bool
        Whether the hex value stands among the words; not where a table would be too wide.
    """

    srgb_hex: str
    name: str = ""
    with_hex: bool = True

    @property
    def words(self) -> str:
        """The colour in words: hex and name."""
        if not self.name or not self.with_hex:
            return self.name or self.srgb_hex
        return f"{self.srgb_hex}  {self.name}"


Line = str | Swatch | tuple[str | Swatch, ...]
"""Words with swatches among them."""


@dataclass(frozen=True)
class Table:
    """Rows under a line of heads.

    Attributes
    ----------
    head : sequence of str
    rows : sequence of sequences of Line
    optional : sequence of str
        Heads of columns that may be left out where there is no room, the first to go first.
    """

    head: Sequence[str]
    rows: Sequence[Sequence[Line]]
    optional: Sequence[str] = ()


@dataclass(frozen=True)
class Items:
    """A list without order."""

    lines: Sequence[Line]


@dataclass(frozen=True)
class Note:
    """A remark that matters less than the answer: conditions, laws, sources of a number."""

    line: Line


@dataclass(frozen=True)
class Heading:
    """A title over what follows."""

    text: str


@dataclass(frozen=True)
class Figure:
    """A chart, drawn when it is needed, and what it shows in words; ``svg`` is the text of its
    file where it has been drawn already."""

    draw: Callable[[], Drawn]
    caption: str
    svg: str = ""


Block = Line | Table | Items | Note | Heading | Figure
"""One part of a document; a bare line is a paragraph. A terminal passes figures over."""


@dataclass(frozen=True)
class Document:
    """An answer, in the order in which it is read.

    Attributes
    ----------
    headline : Line
        The answer in one sentence.
    blocks : sequence of Block
    cautions : sequence of str
        Sentences on what can hurt people at this work.
    question : str
        What was asked, in the words of the bench: a report's title.
    figures : sequence of Figure
        The first is the chart of this answer.
    confidence : sequence of Block
        How sure this is, for a report.
    sources : sequence of str
        Labels of the optical data it rests on.
    """

    headline: Line
    blocks: Sequence[Block] = ()
    cautions: Sequence[str] = ()
    question: str = ""
    figures: Sequence[Figure] = ()
    confidence: Sequence[Block] = ()
    sources: Sequence[str] = ()


def words_of(line: Line) -> str:
    """A line in words alone."""
    parts = line if isinstance(line, tuple) else (line,)
    return "".join(part.words if isinstance(part, Swatch) else part for part in parts)


@singledispatch
def present(result: object) -> Document:
    """The document of a result; each ``present.py`` registers one for its result types.

    Raises
    ------
    TypeError
        For what is no result of ours.
    """
    raise TypeError(f"{type(result).__name__} is no result that can be shown")


def document_of(result: object) -> Document:
    """The document of a result, by ``present.py`` in the folder of its class or above it.

    Physical objects, which lie below this room, have theirs in :mod:`.objects`.
    """
    package = type(result).__module__
    while package := package.rpartition(".")[0]:
        if find_spec(f"{package}.present"):
            import_module(f"{package}.present")
            return present(result)
    import_module(f"{__package__}.objects")
    return present(result)
