"""Colours of a picture by cells of six bits a channel, so that each is read once."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .._typing import FloatArray, IndexArray
from ..images.decode import CodeArray
from ..images.image import Codes
from ..images.patches import linear_to_lab

Index = NDArray[np.int32]

BLOCK = 8  # pixels along each side
_BITS = 6
CELLS = 1 << (3 * _BITS)
ROWS_AT_ONCE = 8 * BLOCK


def pack_cells(values: CodeArray) -> Index:
    """Cell number of code values (..., 3)."""
    shift = 8 * values.dtype.itemsize - _BITS
    packed = (values[..., 0] >> shift).astype(np.int32)
    for channel in (1, 2):
        packed <<= _BITS
        packed |= values[..., channel] >> shift
    return packed


def used_cells(codes: Codes, blocks: Index) -> IndexArray:
    """Cells of all pixels and blocks, rising."""
    occupied = np.zeros(CELLS, dtype=bool)
    occupied[blocks.ravel()] = True
    for start in range(0, len(codes.values), ROWS_AT_ONCE):
        occupied[pack_cells(codes.values[start : start + ROWS_AT_ONCE]).ravel()] = True
    return np.flatnonzero(occupied)


def block_cells(codes: Codes) -> Index:
    """Cell of each block's mean colour, from four pixels spread over it."""
    height, width = codes.valid.shape
    rows = [np.minimum(np.arange(0, height, BLOCK) + at, height - 1) for at in (2, 5)]
    columns = [np.minimum(np.arange(0, width, BLOCK) + at, width - 1) for at in (2, 5)]
    corners = [codes.values[np.ix_(r, c)].astype(np.uint32) for r in rows for c in columns]
    return pack_cells(_to_codes(np.sum(corners, axis=0) // 4, codes))


def cell_lab(used: IndexArray, codes: Codes, matrix: FloatArray | None) -> FloatArray:
    """CIELAB of the middle of each used cell."""
    mask, step = (1 << _BITS) - 1, 8 * codes.values.dtype.itemsize - _BITS
    parts = [(used >> (_BITS * at)) & mask for at in (2, 1, 0)]
    middle = (np.stack(parts, axis=-1) << step) + (1 << (step - 1))
    linear = codes.encoding.to_linear(_to_codes(middle, codes))
    return linear_to_lab(linear if matrix is None else linear @ matrix.T)


def _to_codes(values: NDArray[Any], codes: Codes) -> CodeArray:
    """Whole numbers as code values of the picture's own depth."""
    return values.astype(np.uint8) if codes.values.itemsize == 1 else values.astype(np.uint16)
