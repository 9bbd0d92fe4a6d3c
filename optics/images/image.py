"""Pictures as they are stored: code values, turned upright, and what these mean."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .._typing import BoolArray
from ..files.atomic import note_input
from .decode import CodeArray, decode
from .icc import Encoding

CLIPPED_FROM = 254.0 / 255.0
"""Share of the top code from which a channel counts as clipped: one step of 8 bits below the
top, because lossy compression smears clipped areas by that much (common practice, no source)."""

CRUSHED_TO = 1.0 / 255.0
"""Share of the top code up to which a channel counts as clipped at black."""


@dataclass(frozen=True, eq=False)
class Codes:
    """A picture as stored, turned upright.

    Attributes
    ----------
    values : ndarray of uint8 or uint16, shape (H, W, 3)
        Code values of the picture's own encoding.
    valid : ndarray of bool, shape (H, W)
        False where the picture is transparent.
    encoding : Encoding
        What the codes mean; ``encoding.to_linear(values)`` gives linear sRGB.
    notes : tuple of str
        What was done on reading, as clauses.
    """

    values: CodeArray
    valid: BoolArray
    encoding: Encoding
    notes: tuple[str, ...]

    @property
    def top(self) -> int:
        """The largest code value: 255 or 65535."""
        return int(np.iinfo(self.values.dtype).max)

    def find_clipped(self) -> BoolArray:
        """Whether any channel is at its top, shape (H, W)."""
        return _any_channel(self.values >= round(CLIPPED_FROM * self.top))

    def find_crushed(self) -> BoolArray:
        """Whether any channel is at its bottom, shape (H, W)."""
        return _any_channel(self.values <= round(CRUSHED_TO * self.top))


def load_codes(path: str | Path) -> Codes:
    """Read a picture as code values, upright, without making light of them.

    Parameters
    ----------
    path : str or Path
        JPEG, PNG, TIFF, WebP, GIF or BMP of 8 bits a channel, PNG and TIFF also of 16; HEIC
        where pillow-heif is installed.

    Returns
    -------
    Codes

    Raises
    ------
    InputError
        If there is no such file, or it is damaged, grey, or of a kind we do not read.
    LimitError
        Above 200 MB or 100 megapixels.

    Notes
    -----
    A profile of curves and a matrix (nearly all cameras and screens) stays with the codes as
    their encoding, so clipping is judged where it happened and saturated colours survive. A
    profile that works by tables, and CMYK, go through LittleCMS to sRGB of 8 bits, relative
    colorimetric; the notes then say so.
    """
    note_input(Path(path))
    found = decode(Path(path))
    return Codes(found.values, found.valid, found.encoding, found.notes)


def _any_channel(hit: BoolArray) -> BoolArray:
    return hit[..., 0] | hit[..., 1] | hit[..., 2]
