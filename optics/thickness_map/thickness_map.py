"""Thickness over a whole piece from one photo of it.

The posterior is worked out once for each distinct colour (6 bits a channel). Which of a colour's
candidates a pixel takes is settled by continuity: blocks of 8 × 8 pixels take the candidates
under which the thickness jumps least from block to block.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from .._typing import BoolArray, FloatArray
from ..colour.conditions import ViewingConditions
from ..errors import InputError, LimitError, shorten
from ..gauge.photo import bare_metal_lab
from ..images.image import Codes, load_codes
from ..images.patches import Patch, parse_patch
from ..images.white_balance import correct_whole_photo
from ..inference.binned import gauge_binned
from ..inference.likelihood import binned_table_for
from ..inference.question import DEFAULT_BETWEEN_NM, FilmQuestion
from ..inference.uncertainty import Uncertainty, uncertainty_for
from .cells import block_cells, cell_lab, used_cells
from .piece import keep_piece, mask_piece
from .places import KnownPlace, check_places, read_places
from .result import FieldMap
from .unwrap import Candidates, fill_pixels, settle_blocks

_SAID_FROM = 0.005
MOST_PIXELS = 36_000_000  # what stays below a gigabyte, files and charts written


def map_photo(
    path: str | Path,
    film: str | Sequence[str],
    on: str,
    *,
    white: str | None = None,
    bare: str | None = None,
    how: str | None = None,
    doubts: Mapping[str, float] | None = None,
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    conditions: ViewingConditions | str | None = None,
    finish: str | None = None,
    known_places: Sequence[KnownPlace | str] = (),
    piece: str | None = None,
) -> FieldMap:
    """Thickness of every pixel of a photo.

    Parameters
    ----------
    path : str or Path
    film : str or sequence of str
        What the film may be, several separated by commas.
    on : str
        What it lies on.
    white, bare : str, optional
        Patches ``x,y,w,h`` of a white card and of bare metal.
    how : str, optional
        ``card`` with a card or bare metal in the picture, else ``photo``, unless said otherwise.
    doubts : mapping, optional
        Single uncertainties of that way of reading.
    between_nm : tuple of float
        Range the thickness is known to lie in [nm].
    conditions : ViewingConditions or str, optional
        Light and observer, or the name of the light.
    finish : str, optional
        Finish of the piece, if known: ``polished``, ``satin``, ``brushed`` or ``rolled``.
    known_places : sequence of KnownPlace or str
        Places of known thickness, such as ``812,300=45nm``.
    piece : str, optional
        The place ``x,y,w,h`` of the piece; by default the largest region that shows colours of the
        films, with what is near its size. White card and bare metal are left out of both.

    Raises
    ------
    InputError
        If the picture, a patch or a doubt is refused.
    """
    if not isinstance(path, (str, Path)):
        raise InputError(
            f"`path` is the name of a photo, not {shorten(repr(path))}", parameter="path"
        )
    for name, text in (("white", white), ("bare", bare), ("how", how), ("on", on),
                       ("piece", piece)):  # fmt: skip
        if text is not None and not isinstance(text, str):
            raise InputError(f"`{name}` is a text, not {shorten(repr(text))}", parameter=name)
    codes = load_codes(Path(path))
    card, strip, place = (parse_patch(text) if text else None for text in (white, bare, piece))
    correction = correct_whole_photo(
        codes,
        white=card,
        bare=strip,
        bare_lab=bare_metal_lab(on) if bare else None,
    )
    way = how or ("photo" if correction.adapted_by is None else "card")
    chosen = replace(uncertainty_for(way), **(doubts or {}))
    mask, said = mask_piece(codes, place, [one for one in (card, strip) if one is not None])
    field = map_thickness(
        replace(codes, valid=codes.valid & mask),
        film,
        on,
        doubts=chosen,
        between_nm=between_nm,
        conditions=conditions,
        finish=finish,
        matrix=correction.matrix,
        known_places=known_places,
    )
    field = _of_piece(field, mask, place)
    return replace(field, notes=(*field.notes, *([said] if said else []), *correction.warnings))


def _of_piece(field: FieldMap, mask: BoolArray, place: Patch | None) -> FieldMap:
    """The map of the piece alone: of the place it is in, or of the largest region found."""
    fitted = field.order > 0
    if place is not None:
        return replace(field, share_fitted=float(fitted[mask].mean()), piece=str(place))
    kept, lost = keep_piece(field.median_nm)
    if lost == 0.0:
        return field
    parts = [np.where(kept, one, np.float32(np.nan))
             for one in (field.median_nm, field.low_nm, field.high_nm)]  # fmt: skip
    order = np.where(kept, field.order, np.uint8(0))
    notes = field.notes
    if lost >= _SAID_FROM:
        notes += (
            f"the piece is taken to be the largest region that shows colours of the films; specks "
            f"and bare metal apart from it, {100.0 * lost:.0f} % of the pixels that fit, are left "
            f"out",
        )
    median, low, high = parts
    share = float(np.count_nonzero(order) / order.size)
    return replace(
        field, median_nm=median, low_nm=low, high_nm=high, order=order, share_fitted=share,
        notes=notes,
    )  # fmt: skip


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
    cells = binned_table_for(question, doubts)
    blocks = block_cells(codes)
    used = used_cells(codes, blocks)
    posterior = gauge_binned(cells, cell_lab(used, codes, matrix))
    candidates = Candidates.of(used, posterior)
    expected = settle_blocks(candidates, blocks, places)
    return fill_pixels(candidates, codes, expected, question=question, doubts=doubts)
