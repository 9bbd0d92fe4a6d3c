"""Thickness of every pixel of a picture as it was read.

The posterior is worked out at the nodes of a grid of colours and runs on between them, once for
each distinct colour (8 bits a channel). Which of a colour's candidates a pixel takes is settled by
continuity: blocks of 8 × 8 pixels take the candidates under which the thickness jumps least from
block to block.
"""

from __future__ import annotations

from collections.abc import Sequence

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..errors import LimitError
from ..images.image import Codes
from ..inference.binned import gauge_binned
from ..inference.likelihood import binned_table_for
from ..inference.question import DEFAULT_BETWEEN_NM, FilmQuestion
from ..inference.uncertainty import Uncertainty
from .candidates import Candidates
from .cells import block_colours, find_corners, node_lab, used_colours
from .places import KnownPlace, check_places, read_places
from .result import FieldMap
from .unwrap import fill_pixels, settle_blocks

MOST_PIXELS = 36_000_000  # what stays below a gigabyte, files and charts written


def map_thickness(
    codes: Codes,
    film: str | Sequence[str],
    on: str,
    *,
    doubts: Uncertainty,
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    conditions: ViewingConditions | str | None = None,
    finish: str | None = None,
    matrix: FloatArray | None = None,
    known_places: Sequence[KnownPlace | str] = (),
) -> FieldMap:
    """Thickness of every pixel of a photo.

    Parameters
    ----------
    codes : Codes
        The picture as read.
    film, on, between_nm, conditions, finish
        As for `gauge`.
    doubts : Doubts
        Of a reading of one pixel's colour.
    matrix : ndarray, shape (3, 3), optional
        Corrects linear light, by a white card or bare metal in the picture.
    known_places : sequence of KnownPlace or str
        Places whose thickness is known.

    Returns
    -------
    FieldMap

    Raises
    ------
    InputError, OutOfRangeError
        If a place lies outside the picture or the range, or nothing in the picture fits.
    LimitError
        Above 36 megapixels.
    """
    question = FilmQuestion.of(
        film, on, between_nm=between_nm, conditions=conditions, finish=finish
    )
    places = read_places(known_places)
    check_places(places, codes, between_nm)
    if codes.valid.size > MOST_PIXELS:
        raise LimitError(
            f"a map has at most {MOST_PIXELS // 1_000_000} megapixels, and the picture has "
            f"{codes.valid.size / 1e6:.0f}; scale it down"
        )
    table = binned_table_for(question, doubts, plain=False)
    blocks = block_colours(codes)
    used = used_colours(codes, blocks)
    corners = find_corners(used)
    posterior = gauge_binned(table, node_lab(corners.nodes, codes, matrix))
    candidates = Candidates.of(used, corners, posterior)
    expected = settle_blocks(candidates, blocks, places)
    return fill_pixels(candidates, codes, expected, question=question, doubts=doubts)
