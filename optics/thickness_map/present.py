"""A thickness map as a document."""

from __future__ import annotations

import numpy as np

from ..report.document import Block, Document, Figure, present
from ..report.format import format_interval, format_percent
from ..report.provenance import NINETY, labels_of_pairs, uncertainty_table
from .plots import chart_histogram, chart_map, chart_profile
from .result import FieldMap

_ORDERS = (
    "The interval of a pixel holds for the order chosen, which is settled by continuity over the "
    "piece; state a place of known thickness where you have one."
)


@present.register
def document(field: FieldMap) -> Document:
    """The middle of the piece, how sure a pixel is, and what was written."""
    share = f"{100.0 * field.share_fitted:.0f} %"
    of = "place of the piece" if field.piece else "picture"
    blocks: list[Block] = [f"{share} of the {of} has a thickness; the rest is left out."]
    blocks += [f"Note: {note}." for note in field.notes]
    if field.files:
        blocks.append(f"Written to {field.folder}: {', '.join(field.files)}.")
    return Document(
        headline=_headline(field),
        blocks=blocks,
        question="How thick is it everywhere?",
        figures=_figures(field),
        confidence=[NINETY, _ORDERS, uncertainty_table([("every pixel", "picture", field.doubts)])],
        sources=labels_of_pairs(field.pairs),
    )


def _headline(field: FieldMap) -> str:
    fitted = field.order > 0
    if not fitted.any():
        return "Nothing fits: no pixel shows a colour of the films in question."
    low, middle, high = np.quantile(field.median_nm[fitted], [0.05, 0.5, 0.95])
    width = np.median((field.high_nm - field.low_nm)[fitted])
    found = (
        f"Half of the piece is thinner than {middle:.0f} nm, nine tenths of it lie within "
        f"{format_interval((low, high))}; a single pixel is known to ±{0.5 * width:.0f} nm (90 %)."
    )
    if field.fits:
        return found
    films, strange = ", ".join(field.films), format_percent(1.0 - field.share_of_tried)
    return (
        f"Hardly anything fits: {strange} of what was tried shows no colour of {films} on "
        f"{field.on}. Of the rest: {found[:1].lower()}{found[1:]}"
    )


def _figures(field: FieldMap) -> list[Figure]:
    figures = [
        Figure(lambda: chart_map(field), "Thickness in false colours."),
        Figure(lambda: chart_histogram(field), "How often each thickness occurs."),
    ]
    line = field.line
    if line is not None:
        figures.append(Figure(lambda: chart_profile(field, line), "Thickness along the line."))
    return figures
