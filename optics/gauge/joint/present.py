"""Spots of one piece as a document."""

from __future__ import annotations

from collections.abc import Mapping

from ...inference.faults import NONE, find_fault
from ...report.document import Block, Document, Figure, present
from ...report.format import format_percent
from ...report.provenance import NINETY
from ..gauge import PLAIN_LEVEL
from ..plots import chart_piece
from ..present import list_shares, table_of_rows
from .piece import PieceEstimate

_LIKELY_FAULT = 0.3  # probability from which a shared fault is told
_JOINT = (
    "The spots share exposure, white balance, glare, angle and index, and faults of surface, "
    "oxide, camera and light, which are inferred with them."
)


@present.register
def _piece(piece: PieceEstimate) -> Document:
    headline, blocks = table_of_rows(piece.readings)
    gain, glare = piece.joint.gain, piece.joint.glare
    blocks += [
        f"Exposure off by a factor of {gain.value:.2f} "
        f"({gain.interval90[0]:.2f} to {gain.interval90[1]:.2f}).",
        f"Glare {100.0 * glare.value:.0f} % of the light "
        f"({100.0 * glare.interval90[0]:.0f} to {100.0 * glare.interval90[1]:.0f} %).",
        *list_shares(piece.films),
        *_shared_faults(piece.faults),
    ]
    if piece.plain_p < PLAIN_LEVEL:
        blocks.append("Flat clear films in the stated light hardly have all of these colours.")
    if not piece.converged:
        blocks.append(f"Not to be trusted: {piece.joint.why}.")
    return Document(
        headline=headline,
        blocks=blocks,
        question="How thick is it, spot by spot?",
        confidence=[NINETY, _JOINT],
        sources=tuple(dict.fromkeys(name.partition(",")[0] for name in piece.films)),
        figures=[Figure(lambda: chart_piece(piece), "Thickness of each spot, with its 90 %.")],
    )


def _shared_faults(faults: Mapping[str, float]) -> list[Block]:
    """The likeliest fault of the whole piece, and what would settle it."""
    likely = {name: p for name, p in faults.items() if name != NONE and p >= _LIKELY_FAULT}
    if not likely:
        return []
    each = [f"{find_fault(name).said} ({format_percent(p)})" for name, p in likely.items()]
    first = find_fault(next(iter(likely)))
    return [f"What all spots may share: {'; '.join(each)}. To settle it: {first.check}."]
