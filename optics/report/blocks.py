"""A document as plain data, for a page that draws its blocks itself."""

from __future__ import annotations

from typing import Any

from .document import Block, Document, Figure, Heading, Items, Line, Note, Swatch, Table


def document_dict(document: Document) -> dict[str, Any]:
    """A document with its blocks in order; charts by their captions alone."""
    return {
        "question": document.question,
        "headline": _parts(document.headline),
        "blocks": [_block(one) for one in document.blocks],
        "cautions": list(document.cautions),
        "figures": [figure.caption for figure in document.figures],
        "confidence": [_block(one) for one in document.confidence],
        "sources": list(document.sources),
    }


def _block(block: Block) -> dict[str, Any]:
    if isinstance(block, Table):
        rows = [[_parts(cell) for cell in row] for row in block.rows]
        return {"table": rows, "head": list(block.head)}
    if isinstance(block, Items):
        return {"items": [_parts(line) for line in block.lines]}
    if isinstance(block, Heading):
        return {"heading": block.text}
    if isinstance(block, Figure):
        return {"figure": block.caption}
    if isinstance(block, Note):
        return {"note": _parts(block.line)}
    return {"words": _parts(block)}


def _parts(line: Line) -> list[str | dict[str, str]]:
    """Words as texts, swatches as their hex value and their words."""
    parts = line if isinstance(line, tuple) else (line,)
    return [
        {"hex": one.srgb_hex, "words": one.words.replace("  ", " ")}
        if isinstance(one, Swatch)
        else one
        for one in parts
    ]
