"""A photo as it comes in: checked, and made small enough to show."""

from __future__ import annotations

import warnings
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from ...optics.colour.spaces import srgb_encode
from ...optics.errors import InputError, LimitError
from ...optics.images.card import check_card, find_card
from ...optics.images.image import Codes, load_codes
from ...optics.images.linear_light import Picture, load_picture
from ...optics.images.patches import parse_patch
from ..fields import Fields
from ..uploads import PREVIEW_NAME

MAX_PIXELS = 50_000_000
_WIDEST = 1600


def photo_question(_: Fields, photo: Path | None = None) -> dict[str, Any]:
    """Size and notes of a photo; a preview, upright and in sRGB, is written beside it."""
    if photo is None:
        raise InputError("there is no photo; drop one on the page")
    _check_size(photo)
    codes = load_codes(photo)
    height, width = codes.valid.shape
    if width * height > MAX_PIXELS:
        raise _too_many()
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
    said = check_card(picture_of(photo), parse_patch(fields.text("white")))
    return {"answer": {"doubt": said}, "trusted": True}


def _check_size(photo: Path) -> None:
    """Refuse by the header what would take long to decode."""
    from PIL import Image, UnidentifiedImageError

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with Image.open(photo) as image:
                width, height = image.size
        except Image.DecompressionBombError as error:
            raise _too_many() from error
        except (UnidentifiedImageError, OSError, SyntaxError, ValueError):
            return  # what else may be wrong with it is for load_codes to say
    if width * height > MAX_PIXELS:
        raise _too_many()


def _too_many() -> LimitError:
    return LimitError(
        f"the photo has more than {MAX_PIXELS // 1_000_000} megapixels; scale it down"
    )


def _write_preview(codes: Codes, path: Path) -> None:
    from PIL import Image

    values = codes.values if codes.values.itemsize == 1 else (codes.values >> 8).astype(np.uint8)
    small = Image.fromarray(values)
    small.thumbnail((_WIDEST, _WIDEST))
    shrunk = np.asarray(small)
    if codes.values.itemsize == 2:
        shrunk = shrunk.astype(np.uint16) * 257
    shown = np.clip(srgb_encode(codes.encoding.to_linear(shrunk)), 0.0, 1.0)
    Image.fromarray(np.rint(255.0 * shown).astype(np.uint8)).save(path, "JPEG", quality=92)


def picture_of(photo: Path) -> Picture:
    """A photo as linear light, kept for the next question: a dragged mark asks many times.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    kind = photo.stat()
    return _read(photo, kind.st_mtime_ns, kind.st_size)


@lru_cache(maxsize=1)  # one of 12 megapixels takes 200 MB
def _read(photo: Path, _changed_ns: int, _size: int) -> Picture:
    return load_picture(photo)
