"""Data sets as a document."""

from __future__ import annotations

from collections.abc import Sequence

from ..films.materials.catalogue import MaterialEntry, load_file
from ..report.document import Block, Document, Figure, Note, Table, present
from .plots import chart_material
from .result import DataSets

_INDEX_LINES_NM = (450.0, 550.0, 650.0)
_SPREAD = (
    "Sets of one material differ by sample, method and year; that spread is part of every "
    "interval. Cite the paper behind the set you used."
)


@present.register
def document(found: DataSets) -> Document:
    """All materials in a table, or one material's data sets with their sources."""
    entries = found.materials
    named = found.material is not None
    headline, blocks = _detailed(entries) if named else _listed(entries)
    caption = "Index and extinction of every data set, the default drawn bold."
    return Document(
        headline=headline,
        blocks=blocks,
        question="Which optical data are there, and from where?",
        figures=[Figure(lambda: chart_material(entries), caption)] if named else [],
        confidence=[_SPREAD],
    )


def _detailed(entries: Sequence[MaterialEntry]) -> tuple[str, list[Block]]:
    count = "1 data set" if len(entries) == 1 else f"{len(entries)} data sets"
    blocks: list[Block] = []
    for entry in entries:
        low, high = entry.range_nm
        doi = f", doi:{entry.doi}" if entry.doi else ""
        page = "; ".join(entry.database_pages) or "not from the open database"
        kind = entry.phase or entry.kind
        blocks += [
            f"{entry.label}  ({_rank(entry)}; {kind}; {entry.confidence})",
            f"  {_index_line(entry)}",
            Note(f"  range {low:g} to {high:g} nm" + _extension(entry)),
            Note(f"  {entry.source}{doi}"),
            Note(f"  {page}; licence {entry.licence}"),
        ]
    return f"{entries[0].name}: {entries[0].formula_name}, {count}", blocks


def _rank(entry: MaterialEntry) -> str:
    if entry.default:
        return "default"
    if entry.phase_default and entry.phase:
        return f"default for {entry.phase}"
    return "alternative"


def _listed(entries: Sequence[MaterialEntry]) -> tuple[str, list[Block]]:
    names = list(dict.fromkeys(entry.name for entry in entries))
    rows = []
    for name in names:
        own = [entry for entry in entries if entry.name == name]
        chosen = next((entry for entry in own if entry.default), own[0])
        phases = dict.fromkeys(entry.phase for entry in own if entry.phase)
        rows.append(
            [name, chosen.kind, chosen.formula_name, ", ".join(phases), str(len(own)),
             chosen.variant, chosen.confidence]
        )  # fmt: skip
    head = ["material", "kind", "what it is", "phases", "sets", "default", "confidence"]
    table = Table(head, rows, optional=["confidence", "phases", "default"])
    return f"{len(names)} materials, {len(entries)} data sets", [table]


def _index_line(entry: MaterialEntry) -> str:
    material = load_file(entry.file)
    low, high = material.range_nm
    inside = [nm for nm in _INDEX_LINES_NM if low <= nm <= high]
    if not inside:
        return "no data between 450 and 650 nm"
    values = zip(inside, material.nk(inside), strict=True)
    return "   ".join(f"{nm:g} nm: {z.real:.3f} + {z.imag:.3g}i" for nm, z in values)


def _extension(entry: MaterialEntry) -> str:
    if not entry.extension:
        return ""
    low, high = entry.measured_range_nm
    return f"; published {low:g} to {high:g} nm, {entry.extension}"
