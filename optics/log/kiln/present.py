"""The next heat of a kiln as a document."""

from __future__ import annotations

from dataclasses import replace

from ...report.document import Block, Document, Line, Table, present
from ...report.format import format_percent
from ...tint.present import show_recipes
from .advice import NextHeats


@present.register
def show_next_heats(found: NextHeats) -> Document:
    """What limits the first recipe, one notch of each knob, the telling piece, then all recipes."""
    whole = show_recipes(found)
    telling = f"The piece that would teach most: {found.teaches_words}."
    if not found.recipes:
        return replace(whole, blocks=[telling, *whole.blocks])
    rows: list[list[Line]] = [[one.knob, format_percent(one.chance)] for one in found.notches]
    blocks: list[Block] = [
        f"What limits it: {found.limited_by}. Without the log the same heat would have "
        f"{format_percent(found.chance_before)}.",
        Table(["turned by one notch", "chance"], rows),
        telling,
        *whole.blocks,
    ]
    return replace(whole, blocks=blocks, question="What should the next heat be?")
