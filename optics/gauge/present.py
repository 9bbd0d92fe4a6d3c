"""Estimates as documents: one spot, and many readings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..report.document import Block, Document, Figure, Line, Note, Swatch, Table, present
from ..report.format import (
    format_interval,
    format_ordinal,
    format_percent,
    format_region,
    join_either,
)
from ..report.provenance import NINETY, uncertainty_table
from ..units import format_digits
from .candidates import told_region
from .plots import chart_estimate, chart_many
from .result import Candidate, Estimate, ManyEstimates, RowEstimate

_MOST_ROWS = 200
_MOST_WAYS = 4
_APART_NM, _APART = 3.0, 0.25  # medians that far apart, and so much of the interval, are told
_MOST_KINDS = 4


@present.register
def _estimate(estimate: Estimate) -> Document:
    looks = [*estimate.seen, *estimate.before]
    odd = f"{format_digits(100.0 * estimate.fit_p)} %"
    caption = "Probability over thickness, above the colours of the likeliest film."
    return Document(
        headline=_headline(estimate),
        blocks=[
            _candidate_table(estimate.candidates),
            *_summary(estimate),
            *_kinds(estimate.candidates[0]),
            *_widened(estimate),
            *_lamp(estimate),
            *list_shares(estimate.films),
            *_colours_read(estimate),
            *(f"Note: {warning}." for warning in estimate.warnings),
            f"Next: {estimate.next_check}.",
        ],
        question="How thick is it?",
        figures=[Figure(lambda: chart_estimate(estimate), caption)],
        confidence=[
            NINETY,
            f"Share of simulated readings at least as unusual as this one: {odd}; below 1 % "
            f"nothing fits.",
            uncertainty_table([(one.text, one.how, one.doubts) for one in looks]),
        ],
        sources=estimate.data_sets,
    )


def _headline(estimate: Estimate) -> str:
    said = [f'"{reading.text}"' for reading in estimate.seen]
    said += [one.text for one in estimate.measured]
    seen = " and ".join(said)
    if not estimate.fits and not estimate.seen:
        return f"Nothing fits: no film in question has {seen}. The nearest, not to be trusted:"
    if not estimate.fits:
        return (
            f"Nothing fits: no film in question shows {seen} (only {100 * estimate.fit_p:.2g} % of "
            f"simulated readings are as unusual). The nearest, not to be trusted:"
        )
    listed = [
        f"{_thickness(one)} ({format_percent(one.probability)})" for one in estimate.candidates
    ]
    return f"Consistent with {seen}: {join_either(listed)}."


def _thickness(one: Candidate) -> str:
    return f"{'at least ' if one.open_upward else ''}{one.thickness_nm:.0f} nm"


def _order(one: Candidate) -> str:
    return "" if one.order is None else format_ordinal(one.order)


def _within(one: Candidate) -> str:
    """Its interval, or its region where the interval swallows what that leaves out."""
    told = told_region(one)
    return format_interval(told[0]) if len(told) == 1 else format_region(told)


def _candidate_table(candidates: Sequence[Candidate]) -> Table:
    rows: list[list[Line]] = [
        [
            _thickness(one),
            _within(one),
            format_percent(one.probability),
            _order(one),
            one.film,
            Swatch(one.srgb_hex, one.name),
        ]
        for one in candidates
    ]
    head = ["thickness", "90 % within", "probability", "order", "film", "colour straight on"]
    return Table(head, rows, optional=["film", "order"])


def _summary(estimate: Estimate) -> list[Block]:
    best = estimate.candidates[0]
    if len(estimate.candidates) > 1:
        return [f"All candidates together: 90 % within {format_region(estimate.region90_nm)}."]
    if best.open_upward:
        return [
            f"Once it is opaque, more {best.film} looks the same: nothing that was seen or "
            f"measured sets an upper end."
        ]
    if best.order is None:
        return []
    return [
        f"Index times thickness: {estimate.optical_thickness_nm:.0f} nm, 90 % within "
        f"{format_interval(estimate.optical_interval90_nm)}."
    ]


def _kinds(best: Candidate) -> list[Block]:
    """What the thickness is with each kind of film, where these say so different things of it."""
    each = [one.thickness_nm for one in best.by_film]
    low, high = best.interval90_nm
    if best.open_upward or np.ptp(each or [0.0]) < max(_APART_NM, _APART * (high - low)):
        return []
    told = [
        f"{one.thickness_nm:.0f} nm if {one.film} ({format_percent(one.share)})"
        for one in best.by_film[:_MOST_KINDS]
    ]
    return [f"By kind of film: {', '.join(told)}."]


def _widened(estimate: Estimate) -> list[Block]:
    """Which doubt widens the answer most, and what would settle it."""
    doubt = estimate.widened_by
    if doubt is None:
        return []
    return [
        f"Widened by the chance of {format_percent(doubt.probability)} that {doubt.said}: 90 % "
        f"lie within {doubt.width_nm:.0f} nm in all, and within {doubt.width_without_nm:.0f} nm "
        f"without it. To settle it: {doubt.check}."
    ]


def _lamp(estimate: Estimate) -> list[Block]:
    """How a look through a film that dims the light was taken."""
    if all(reading.doubts.lamp_lift == 1.0 for reading in estimate.seen):
        return []
    return [
        "The look through is taken as held to a lamp: no glare of the room, and an eye or a phone "
        "that adapts, so that its hue counts for more than its brightness."
    ]


def list_shares(films: dict[str, float]) -> list[Block]:
    """The kinds of film and their probabilities, where there are several."""
    if len(films) < 2:
        return []
    ranked = sorted(films.items(), key=lambda item: -item[1])
    return [f"Film: {', '.join(f'{name} {format_percent(share)}' for name, share in ranked)}."]


def _colours_read(estimate: Estimate) -> list[Block]:
    """The colours that were read off pictures, which nobody typed."""
    read = [(reading, reading.colour) for reading in estimate.seen]
    return [
        (f"Read from {one.text}, as {one.how}: ", Swatch(str(c.srgb_hex), str(c.name)))
        for one, c in read
        if c is not None and str(c.srgb_hex)[1:] not in one.text.casefold()
    ]


@present.register
def _row(row: RowEstimate) -> Document:
    best = row.candidates[0]
    return Document(
        headline=f"{row.id}: {_thickness(best)} from {row.seen}, {_verdict(row)}",
        blocks=[
            _candidate_table(row.candidates),
            f"Next: {row.next_check}.",
        ],
        question="How thick is it?",
    )


@present.register
def _many(found: ManyEstimates) -> Document:
    headline, blocks = table_of_rows(found.readings)
    ways = [(how, how, doubts) for how, doubts in found.ways[:_MOST_WAYS]]
    return Document(
        headline=headline,
        blocks=blocks,
        question="How thick are they?",
        confidence=[NINETY, uncertainty_table(ways)],
        sources=found.data_sets,
        figures=[Figure(lambda: chart_many(found), "Thickness of each reading, with its 90 %.")],
    )


def table_of_rows(rows: Sequence[RowEstimate]) -> tuple[str, list[Block]]:
    """How many readings there are, and a table of them."""
    lost = sum(not row.fits for row in rows)
    headline = f"{len(rows)} reading{'s' if len(rows) != 1 else ''}" + (
        f", {lost} of which fit no film in question" if lost else ""
    )
    shown: list[list[Line]] = []
    for row in rows[:_MOST_ROWS]:
        best = row.candidates[0]
        colour = Swatch(best.srgb_hex, best.name)
        within, order = format_region(row.region90_nm), _order(best)
        shown.append([row.id, row.seen, _thickness(best), within, order, _verdict(row), colour])
    head = ["id", "seen", "thickness", "90 % within", "order", "likely", "colour straight on"]
    blocks: list[Block] = [Table(head, shown, optional=["order", "seen"])]
    if len(rows) > _MOST_ROWS:
        blocks.append(Note(f"The first {_MOST_ROWS} of {len(rows)}; JSON and CSV list all."))
    return headline, blocks


def _verdict(row: RowEstimate) -> str:
    return format_percent(row.candidates[0].probability) if row.fits else "does not fit"
