"""A spectrum fit as a document."""

from __future__ import annotations

from ..report.document import Block, Document, Figure, Line, Note, Swatch, Table, present
from ..report.format import format_ordinal, format_percent, format_region
from ..report.provenance import NINETY
from .plots import chart_spectrum
from .result import SpectrumFit
from .summaries import NO_DOUBT
from .widening import WORDS

_WORTH_TELLING = 0.01  # probability of a doubt


@present.register
def document(fit: SpectrumFit) -> Document:
    """Thickness and index with all candidates."""
    low, high = fit.n_interval90
    blocks: list[Block] = [
        _candidate_table(fit),
        f"Index at {fit.index_at_nm:.0f} nm: n = {fit.n:.3f} ({low:.3f} to {high:.3f}), "
        f"k = {fit.k:.4f} (to {fit.k_interval90[1]:.4f}).",
        Note(
            f"{fit.descents} starts tried; residual {fit.rms_residual:.4f} rms, "
            f"noise {fit.noise:.4f}."
        ),
        Note(_doubts(fit)),
        *(Note(f"{note[:1].upper()}{note[1:]}.") for note in fit.notes),
        f"Next: {fit.next_check}.",
    ]
    caption = "The measured spectrum with the best model, above what the model leaves."
    return Document(
        headline=_headline(fit),
        blocks=blocks,
        question="How thick is it, by its spectrum?",
        figures=[Figure(lambda: chart_spectrum(fit), caption)],
        confidence=[
            NINETY,
            f"The best model leaves {fit.rms_residual:.4f} rms; noise is estimated at "
            f"{fit.noise:.4f} and connected misses at {fit.misfit:.4f} of the light.",
        ],
        sources=fit.data_sets,
    )


def _candidate_table(fit: SpectrumFit) -> Table:
    rows: list[list[Line]] = [
        [
            f"{one.thickness_nm:.1f} nm",
            format_region([one.interval90_nm], 1),
            format_percent(one.probability),
            format_ordinal(one.order),
            f"{one.rms:.4f}",
            one.model,
            Swatch(one.srgb_hex, one.name),
        ]
        for one in fit.candidates
    ]
    head = [
        "best fit", "90 % within", "probability", "order", "rms", "index", "colour straight on",
    ]  # fmt: skip
    return Table(head, rows, optional=["rms", "order"])


def _doubts(fit: SpectrumFit) -> str:
    """What was weighed besides a plain film and an instrument in order."""
    told = [
        f"{WORDS[name]} {format_percent(share)}"
        for name, share in fit.doubts.items()
        if name != NO_DOUBT and share >= _WORTH_TELLING
    ]
    plain = f"nothing more than a plain film {format_percent(fit.doubts.get(NO_DOUBT, 0.0))}"
    return f"Weighed: {', '.join([plain, *told])}."


def _headline(fit: SpectrumFit) -> str:
    if not fit.fits:
        return (
            "Nothing fits: no film in question has such a spectrum; the nearest, not to be trusted:"
        )
    if fit.no_film_needed:
        return f"No film is needed: the {fit.explained_by} explains the spectrum as well."
    region = fit.region90_nm if len(fit.region90_nm) > 1 else [fit.interval90_nm]
    return f"{fit.thickness_nm:.1f} nm, 90 % within {format_region(region, 1)}."
