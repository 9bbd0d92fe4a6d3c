"""Colours of a picture: which occur, to 8 bits a channel, and the nodes of a coarse grid they lie
between.

The posterior is read at the nodes, four codes apart, and runs on between them by straight lines
over tetrahedra: without steps, for as many colours as there are.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .._typing import FloatArray, IndexArray
from ..images.decode import CodeArray
from ..images.image import Codes
from ..images.patches import linear_to_lab

Index = NDArray[np.int32]

BLOCK = 8  # pixels along each side
COLOURS = 1 << 24
ROWS_AT_ONCE = 8 * BLOCK
APART = 4  # codes of 8 bits from node to node
_NODES = 256 // APART + 1  # along each channel
COLOURS_AT_ONCE = 1 << 16


@dataclass(frozen=True, eq=False)
class Corners:
    """Nodes that colours lie between.

    Attributes
    ----------
    nodes : ndarray of int, shape (N,)
        Numbers on the grid, rising.
    near : ndarray of int32, shape (C, 4)
        Which of the nodes are the corners of a colour's tetrahedron, the nearest first.
    share : ndarray of uint8, shape (C, 4)
        Share that each has in the colour [1/4].
    """

    nodes: IndexArray
    near: Index
    share: NDArray[np.uint8]


_STRIDES = np.array([_NODES**2, _NODES, 1], dtype=np.int32)


@cache
def _tetrahedra() -> tuple[Index, NDArray[np.uint8]]:
    """For each place (r, g, b) within a cube of nodes the steps to its four corners, (64, 4), and
    their shares: from the cube's corner along the channels, the furthest in first."""
    steps, share = np.zeros((APART**3, 4), np.int32), np.zeros((APART**3, 4), np.uint8)
    for place, at in enumerate(product(range(APART), repeat=3)):
        order = np.argsort([-one for one in at], kind="stable")
        far = np.array([APART, *(at[k] for k in order), 0])
        own, to = far[:-1] - far[1:], np.concatenate([[0], np.cumsum(_STRIDES[order])])
        nearest = np.argsort(-own, kind="stable")
        share[place] = own[nearest]
        # A corner without a share is none: it would only be read for nothing.
        steps[place] = np.where(own[nearest] > 0, to[nearest], to[nearest[0]])
    return steps, share


def pack_colours(values: CodeArray) -> Index:
    """Code values (..., 3) as one number, to 8 bits a channel."""
    shift = 8 * values.dtype.itemsize - 8
    packed = (values[..., 0] >> shift).astype(np.int32)
    for channel in (1, 2):
        packed <<= 8
        packed |= values[..., channel] >> shift
    return packed


def used_colours(codes: Codes, blocks: Index) -> Index:
    """Colours of all pixels and blocks, rising."""
    occupied = np.zeros(COLOURS, dtype=bool)
    occupied[blocks.ravel()] = True
    for start in range(0, len(codes.values), ROWS_AT_ONCE):
        rows = slice(start, start + ROWS_AT_ONCE)
        occupied[pack_colours(codes.values[rows])[codes.valid[rows]]] = True
    return np.flatnonzero(occupied).astype(np.int32)


def find_corners(colours: Index) -> Corners:
    """Corners of the tetrahedra that packed colours (C,) lie in."""
    steps, shares = _tetrahedra()
    near, share = np.zeros((colours.size, 4), np.int32), np.zeros((colours.size, 4), np.uint8)
    for start in range(0, colours.size, COLOURS_AT_ONCE):
        part = slice(start, start + COLOURS_AT_ONCE)
        channels = np.stack([(colours[part] >> at) & 255 for at in (16, 8, 0)], axis=-1)
        within = (channels % APART) @ np.array([APART**2, APART, 1], dtype=np.int32)
        near[part] = ((channels // APART) @ _STRIDES)[:, None] + steps[within]
        share[part] = shares[within]
    occupied = np.zeros(_NODES**3, dtype=bool)
    occupied[near] = True
    row = np.cumsum(occupied, dtype=np.int32) - 1
    return Corners(np.flatnonzero(occupied), row[near], share)


def block_colours(codes: Codes) -> Index:
    """Each block's mean colour, from four pixels spread over it."""
    height, width = codes.valid.shape
    rows = [np.minimum(np.arange(0, height, BLOCK) + at, height - 1) for at in (2, 5)]
    columns = [np.minimum(np.arange(0, width, BLOCK) + at, width - 1) for at in (2, 5)]
    corners = [codes.values[np.ix_(r, c)].astype(np.uint32) for r in rows for c in columns]
    return pack_colours(_to_codes(np.sum(corners, axis=0) // 4, codes))


def node_lab(nodes: IndexArray, codes: Codes, matrix: FloatArray | None) -> FloatArray:
    """CIELAB of nodes of the grid."""
    at = np.stack([nodes // stride % _NODES for stride in _STRIDES], axis=-1)
    step = 8 * codes.values.dtype.itemsize - 8
    middle = (np.minimum(APART * at, 255) << step) + ((1 << step) >> 1)
    linear = codes.encoding.to_linear(_to_codes(middle, codes))
    return linear_to_lab(linear if matrix is None else linear @ matrix.T)


def _to_codes(values: NDArray[Any], codes: Codes) -> CodeArray:
    """Whole numbers as code values of the picture's own depth."""
    return values.astype(np.uint8) if codes.values.itemsize == 1 else values.astype(np.uint16)
