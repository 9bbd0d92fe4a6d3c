"""How an answer leaves the page: as a report, its chart, its tables or its JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from importlib.metadata import version
from typing import Any

from ...optics.errors import InputError
from ...optics.report.csv import document_csv
from ...optics.report.document import Block, Figure
from ...optics.report.style import svg_of, use_own_style
from ...optics.result import Result
from ..fields import Fields

FACES = ("page", "report", "chart", "csv", "json")


def face_asked(fields: Fields) -> str:
    """The face of an answer that is asked for; what the page draws by itself unless said."""
    face = fields.text("face", "page")
    if face not in FACES:
        raise InputError(f"an answer is shown as {', '.join(FACES)}, not as {face!r:.40}")
    return face


def leave_as(
    face: str,
    result: Result,
    *,
    asked: Sequence[Block] = (),
    command: Sequence[str] = (),
    pictures: Sequence[Figure] = (),
    trusted: bool = True,
) -> dict[str, Any]:
    """An answer as one of ``FACES`` but the page, by its name; a chart with its scales.

    Parameters
    ----------
    face : str
    result : Result
    asked : sequence of Block
        The question, for a report.
    command : sequence of str
        The question as one would type it, where there is such a way.
    pictures : sequence of Figure
        Of what was asked about, for a report.
    trusted : bool
        Whether the answer is one to trust, which is said with it.
    """
    said = {"trusted": trusted}
    document = result.document()
    if face == "json":
        return said | {"json": result.to_dict()}
    if face == "csv":
        return said | {"csv": document_csv(document)}
    use_own_style()
    if face == "chart":
        return said | chart_of(result.plot(), document.question)
    from ...optics.report.html import report_html

    foot = [f"Made by oxhue {version('oxhue')}{' with' if command else ''}", *command]
    shown = replace(document, figures=(*pictures, *document.figures))
    return said | {"report": report_html(shown, asked, foot)}


def chart_of(figure: Any, words: str) -> dict[str, Any]:
    """A figure as SVG, with the scales by which the page reads it out."""
    from ...optics.report.chart_scale import scales_of

    svg = svg_of(figure, words)  # it must be drawn before its scales are where they will be
    return {"chart": svg, "scales": scales_of(figure)}
