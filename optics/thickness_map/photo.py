"""Thickness over a whole piece from one photo of it: the piece is found, then mapped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..colour.conditions import ViewingConditions
from ..errors import InputError, shorten
from ..gauge.photo import bare_metal_lab
from ..images.image import load_codes
from ..images.patches import parse_patch
from ..images.white_balance import correct_whole_photo
from ..inference.question import DEFAULT_BETWEEN_NM
from ..inference.uncertainty import uncertainty_for
from .ground import find_ground
from .piece import mask_piece
from .places import KnownPlace
from .region import describe_ground, keep_place, keep_region
from .result import FieldMap
from .thickness_map import map_thickness


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
        films, with what is near its size, apart from a grey ground that reaches the edges of the
        picture. White card and bare metal are left out of both.

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
    ground = np.zeros_like(mask) if place else find_ground(codes, mask, correction.matrix)
    codes = replace(codes, valid=codes.valid & mask & ~ground)
    field = map_thickness(
        codes,
        film,
        on,
        doubts=chosen,
        between_nm=between_nm,
        conditions=conditions,
        finish=finish,
        matrix=correction.matrix,
        known_places=known_places,
    )
    fits = float(np.count_nonzero(field.order)) / max(1.0, float(np.count_nonzero(codes.valid)))
    field = replace(field, share_of_tried=fits)
    field = keep_region(field) if place is None else keep_place(field, mask, place)
    notes = [*field.notes, *describe_ground(field, ground), said, *correction.warnings]
    return replace(field, notes=tuple(filter(None, notes)), photo=Path(path).name)
