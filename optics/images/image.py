"""Pictures as linear light, with what was done to them and where they cannot be trusted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .._typing import BoolArray, SingleArray
from .decode import CodeArray, decode
from .icc import Encoding

CLIPPED_FROM = 254.0 / 255.0
"""Share of the top code from which a channel counts as clipped: one step of 8 bits below the
top, because lossy compression smears clipped areas by that much (common practice, no source)."""

CRUSHED_TO = 1.0 / 255.0
"""Share of the top code up to which a channel counts as clipped at black."""

DARK_LINEAR = 0.005
"""Linear light of the brightest channel below which a pixel is too dark to tell its colour:
L* 4.5, where one step of 8 bits moves CIELAB by 1 and a camera's black level by more."""

_PIXELS_AT_ONCE = 1 << 20


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


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture as linear light.

    Attributes
    ----------
    linear : ndarray of float32, shape (H, W, 3)
        Linear sRGB (D65), white at 1; leaves 0..1 for colours that sRGB cannot show.
    clipped : ndarray of bool, shape (H, W)
        Any channel is at its top code.
    crushed : ndarray of bool, shape (H, W)
        Any channel is at its bottom code: the colour may be more saturated than stored.
    dark : ndarray of bool, shape (H, W)
        Too dark to tell a colour, see `DARK_LINEAR`.
    valid : ndarray of bool, shape (H, W)
        False where the picture is transparent.
    notes : tuple of str
        What was done on reading, as clauses.
    """

    linear: SingleArray
    clipped: BoolArray
    crushed: BoolArray
    dark: BoolArray
    valid: BoolArray
    notes: tuple[str, ...]


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
    decoded = decode(Path(path))
    values = np.ascontiguousarray(_turn_upright(decoded.values, decoded.orientation))
    notes = list(decoded.notes)
    if decoded.opaque is None or decoded.opaque.all():
        valid = np.ones(values.shape[:2], dtype=np.bool_)
    else:
        valid = np.ascontiguousarray(_turn_upright(decoded.opaque, decoded.orientation))
        notes.append("transparent parts left out")
    if _is_neutral(values):
        notes.append("every pixel is grey: it looks like a picture whose colours were taken out")
    return Codes(values, valid, decoded.encoding, tuple(notes))


def load_picture(path: str | Path) -> Picture:
    """Read a picture as linear light; parameters, errors and notes as for `load_codes`."""
    return linearise(load_codes(path))


def linearise(codes: Codes) -> Picture:
    """A picture as linear light, from its code values."""
    linear = np.empty(codes.values.shape, dtype=np.float32)
    dark = np.empty(codes.values.shape[:2], dtype=np.bool_)
    for rows in _bands(codes.values):
        linear[rows] = codes.encoding.to_linear(codes.values[rows])
        dark[rows] = linear[rows].max(axis=-1) < DARK_LINEAR
    return Picture(
        linear, codes.find_clipped(), codes.find_crushed(), dark, codes.valid, codes.notes
    )


def _bands(values: CodeArray) -> Iterator[slice]:
    """Bands of rows small enough to keep intermediate results small."""
    rows = max(1, _PIXELS_AT_ONCE // values.shape[1])
    return (slice(top, top + rows) for top in range(0, values.shape[0], rows))


def _any_channel(hit: BoolArray) -> BoolArray:
    return hit[..., 0] | hit[..., 1] | hit[..., 2]


def _is_neutral(values: CodeArray) -> bool:
    """Whether the three channels are equal everywhere; a picture in colour shows it at once."""
    return all(
        np.array_equal(values[rows, :, 0], values[rows, :, c])
        for rows in _bands(values)
        for c in (1, 2)
    )


def _turn_upright(pixels: CodeArray | BoolArray, orientation: int) -> NDArray[Any]:
    """Pixels turned as the EXIF orientation says (Exif 2.32, tag 0x0112)."""
    if orientation >= 5:
        pixels = np.swapaxes(pixels, 0, 1)
    flip_rows = orientation in (3, 4, 7, 8)
    flip_columns = orientation in (2, 3, 6, 7)
    return pixels[:: -1 if flip_rows else 1, :: -1 if flip_columns else 1]
