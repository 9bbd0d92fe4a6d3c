"""Spots along a line drawn through a photo, gauged together as one piece."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache, partial
from json import dumps, loads
from pathlib import Path
from typing import Any

import numpy as np

from ...optics.errors import InputError
from ...optics.gauge.joint.piece import PieceEstimate, gauge_one_piece
from ...optics.gauge.marked_photo import chart_marked_photo
from ...optics.images.patches import Patch, parse_patch
from ...optics.inference.reading import Reading
from ...optics.report.document import Figure
from ...optics.units import parse_whole_numbers
from ..fields import Fields
from .faces import face_asked, leave_as
from .thickness import between_of, films_of, read_spot

FEWEST, MOST = 3, 12


def row_question(fields: Fields, photo: Path | None = None) -> dict[str, Any]:
    """Thickness at ``spots`` places from one end of ``line`` (x1,y1,x2,y2) to the other."""
    if photo is None:
        raise InputError("a line needs a photo: drop one on the page first")
    face = face_asked(fields)
    found, alike, places = _gauged(dumps(fields.all_but("face", "ticket"), sort_keys=True), photo)
    if face != "page":
        pictures = [Figure(partial(chart_marked_photo, photo, _marks(fields, places)), _CAPTION)]
        asked = [_asked(fields, len(places))]
        return leave_as(face, found, asked=asked, pictures=pictures, trusted=found.converged)
    drawing = {
        "at": [[place.x + place.width / 2, place.y + place.height / 2] for place in places],
        "seen_hex": [one.middle_hex for one in alike],
    }
    return {"answer": found.to_dict(), "drawing": drawing, "trusted": found.converged}


_CAPTION = "The photo, with the places that were read."


@lru_cache(maxsize=4)  # its report, chart and tables are asked for one after the other
def _gauged(asked: str, photo: Path) -> tuple[PieceEstimate, list[Reading], list[Patch]]:
    """The row that is ``asked`` for, as JSON; what was read at each place."""
    fields = Fields(loads(asked))
    places = places_along(
        parse_whole_numbers(fields.text("line"), 4, "the line"),
        fields.whole("spots", 7, FEWEST, MOST),
        fields.whole("side", 20, 3, 400),
    )
    readings = [read_spot(fields, photo, place) for place in places]
    noisiest = max(one.doubts.noise_de for one in readings)  # spots of one piece share one doubt
    alike = [replace(one, doubts=replace(one.doubts, noise_de=noisiest)) for one in readings]
    found = gauge_one_piece(
        films_of(fields),
        fields.text("on"),
        alike,
        between_nm=between_of(fields),
        conditions=fields.viewing(),
        finish=fields.text_if("finish"),
        in_a_row=True,
    )
    return found, alike, places


def _asked(fields: Fields, spots: int) -> str:
    """The question in one line."""
    light = fields.text("light", "D65")
    low, high = between_of(fields)
    return (
        f"Asked: {spots} spots in a row on one piece; film {', '.join(films_of(fields))} on "
        f"{fields.text('on')}; between {low:g} and {high:g} nm; light {light}."
    )


def _marks(fields: Fields, places: list[Patch]) -> Mapping[str, Patch]:
    words = {"white": "white card", "bare": "bare metal"}
    marked = {said: parse_patch(at) for name, said in words.items() if (at := fields.text_if(name))}
    return {f"{i}": place for i, place in enumerate(places, 1)} | marked


def places_along(line: tuple[int, ...], spots: int, side: int) -> list[Patch]:
    """Squares of one size with their middles evenly along a line, its ends included.

    Raises
    ------
    InputError
        If both ends are one place.
    """
    start, end = np.array(line[:2], dtype=float), np.array(line[2:], dtype=float)
    if np.hypot(*(end - start)) < side:
        raise InputError("the line is shorter than one mark; draw it along the piece")
    middles = start + np.linspace(0.0, 1.0, spots)[:, None] * (end - start)
    corners = np.maximum(0, np.rint(middles - side / 2)).astype(int)
    return [Patch(int(x), int(y), side, side) for x, y in corners]
