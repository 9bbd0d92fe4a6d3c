"""A photo as it comes in: checked, and made small enough to show."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from ...optics.colour.spaces import srgb_encode
from ...optics.errors import InputError
from ...optics.images.card import check_card, find_card
from ...optics.images.decode import check_pixels
from ...optics.images.icc import SRGB
from ...optics.images.image import Codes, load_codes
from ...optics.images.linear_light import Picture, linearise_within
from ...optics.images.patches import Patch, parse_patch
from ..fields import Fields
from ..uploads import PREVIEW_NAME

MAX_PIXELS = 50_000_000
MAX_DEEP_PIXELS = 20_000_000
"""Of 16 bits a channel, which take two and a half times the memory to decode."""
_WIDEST = 1600


def photo_question(_: Fields, photo: Path | None = None) -> dict[str, Any]:
    """Size and notes of a photo; a preview, upright and in sRGB, is written beside it."""
    if photo is None:
        raise InputError("there is no photo; drop one on the page")
    check_pixels(photo, MAX_PIXELS, MAX_DEEP_PIXELS)
    codes = _codes_of(photo)
    height, width = codes.valid.shape
    _write_preview(codes, photo.with_name(PREVIEW_NAME))
    card = find_card(codes)
    return {
        "answer": {
            "width": width,
            "height": height,
            "notes": list(codes.notes),
            "card": None if card is None else [card.x, card.y, card.width, card.height],
        },
        "trusted": True,
    }


def card_question(fields: Fields, photo: Path | None = None) -> dict[str, Any]:
    """What speaks against the place marked as the white card, if anything does."""
    if photo is None:
        raise InputError("there is no photo; drop one on the page")
    marked = parse_patch(fields.text("white"))
    said = check_card(picture_of(photo, marked), marked)
    return {"answer": {"doubt": said}, "trusted": True}


def _write_preview(codes: Codes, path: Path) -> None:
    from PIL import Image

    values = codes.values if codes.values.itemsize == 1 else (codes.values >> 8).astype(np.uint8)
    small = Image.fromarray(values)
    small.thumbnail((_WIDEST, _WIDEST))
    if codes.encoding is not SRGB:
        small = Image.fromarray(_as_srgb(codes, np.asarray(small)))
    small.save(path, "JPEG", quality=92)


def _as_srgb(codes: Codes, shrunk: np.ndarray[Any, np.dtype[np.uint8]]) -> Any:
    """What is to be shown, from the picture's own encoding to that of screens."""
    stored = shrunk if codes.values.itemsize == 1 else shrunk.astype(np.uint16) * 257
    shown = np.clip(srgb_encode(codes.encoding.to_linear(stored)), 0.0, 1.0)
    return np.rint(255.0 * shown).astype(np.uint8)


def picture_of(photo: Path, *patches: Patch | None, every: int = 1) -> Picture:
    """A photo as linear light within the patches that are asked about, and dark elsewhere.

    With ``every`` other than 1, of each so many rows and columns one; patches are then of that
    smaller picture.

    Raises
    ------
    InputError
        If it cannot be read, or a patch leaves it.
    """
    codes = _codes_of(photo)
    if every > 1:
        values, valid = codes.values[::every, ::every], codes.valid[::every, ::every]
        codes = replace(codes, values=values, valid=valid)
    return linearise_within(codes, (one.box(codes.values.shape) for one in patches if one))


def _codes_of(photo: Path) -> Codes:
    """The photo decoded, kept for the next question: a dragged mark asks many times a second."""
    kind = photo.stat()
    return _decoded(photo, kind.st_mtime_ns, kind.st_size)


@lru_cache(maxsize=2)  # one of 12 megapixels takes 50 MB
def _decoded(photo: Path, _changed_ns: int, _size: int) -> Codes:
    return load_codes(photo)
