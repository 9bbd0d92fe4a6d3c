"""What a piece lies on: one grey that reaches round the picture's edges, as cloth or paper does.

Grey has the colour of thin films of some orders, so that the ground would count as the piece.
"""

from __future__ import annotations

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from ..images.image import Codes
from ..images.patches import linear_to_lab
from ..numerics.lattice import label_regions
from .cells import BLOCK, ROWS_AT_ONCE
from .region import touching

_AGREE = 0.6  # share of the edge in one colour that makes a ground of it (all judgement)
_GREYEST = 10.0  # C*: with more it may as well be a tinted sheet that fills the picture
_NEAREST_DE, _FURTHEST_DE = 6.0, 12.0  # from the ground's colour, as far as its own scatter goes
_LEAST_LEFT = 0.02  # of the picture, for the piece
_SAMPLES = (2, 5)  # rows and columns of a block that are read


def find_ground(codes: Codes, free: BoolArray, matrix: FloatArray | None) -> BoolArray:
    """Which pixels (H, W) are of the ground; none where the edges have no colour in common.

    Parameters
    ----------
    codes : Codes
    free : ndarray of bool, shape (H, W)
        Pixels that may be of the piece or of the ground.
    matrix : ndarray, shape (3, 3), optional
        Corrects linear light.
    """
    height, width = free.shape
    lab = _lab_of_blocks(codes, matrix)
    usable = free[np.ix_(*_places(free.shape, BLOCK // 2))]
    edge = np.ones(usable.shape, dtype=bool)
    edge[1:-1, 1:-1] = False
    edge &= usable
    colour, reach = _colour_of(lab[edge])
    near = usable & (np.linalg.norm(lab - colour, axis=-1) <= reach)
    region, _ = label_regions(near)
    ground = near & np.isin(region, np.unique(region[edge & near]))
    if not ground.any() or (usable & ~ground).mean() < _LEAST_LEFT:
        return np.zeros(free.shape, dtype=bool)
    mask = _as_pixels(ground)[:height, :width] & free
    return mask | _along_its_rim(codes, matrix, ground, colour, reach) & free


def _colour_of(edge: FloatArray) -> tuple[FloatArray, float]:
    """The colour that most of the edge (N, 3) has, and how far from it the ground may be; a reach
    below 0 where there is no such colour, or none that is grey."""
    if not len(edge):
        return np.zeros(3), -1.0
    colour = np.median(edge, axis=0)
    for _ in range(2):
        far = np.linalg.norm(edge - colour, axis=-1)
        near = far <= _FURTHEST_DE
        if near.mean() < _AGREE:
            return colour, -1.0
        colour = np.median(edge[near], axis=0)
    reach = 2.0 * float(np.quantile(far[near], 0.9))
    grey = float(np.hypot(*colour[1:])) <= _GREYEST
    return colour, float(np.clip(reach, _NEAREST_DE, _FURTHEST_DE)) if grey else -1.0


def _along_its_rim(
    codes: Codes, matrix: FloatArray | None, ground: BoolArray, colour: FloatArray, reach: float
) -> BoolArray:
    """Pixels (H, W) of the ground's colour in blocks that touch it: blocks on the outline of the
    piece hold some of both."""
    height, width = codes.valid.shape
    rim = _as_pixels(touching(ground) & ~ground)[:height, :width]
    found = np.zeros((height, width), dtype=bool)
    for start in range(0, height, ROWS_AT_ONCE):
        some = rim[start : start + ROWS_AT_ONCE]
        linear = codes.encoding.to_linear(codes.values[start : start + ROWS_AT_ONCE][some])
        lab = linear_to_lab(linear if matrix is None else linear @ matrix.T)
        found[start : start + ROWS_AT_ONCE][some] = np.linalg.norm(lab - colour, axis=-1) <= reach
    return found


def _lab_of_blocks(codes: Codes, matrix: FloatArray | None) -> FloatArray:
    """CIELAB of the mean light of each block, from four of its pixels."""
    read = [_places(codes.valid.shape, at) for at in _SAMPLES]
    corners = [codes.encoding.to_linear(codes.values[np.ix_(rows, columns)])
               for rows, _ in read for _, columns in read]  # fmt: skip
    linear = np.mean(corners, axis=0)
    return linear_to_lab(linear if matrix is None else linear @ matrix.T)


def _places(shape: tuple[int, ...], at: int) -> list[IndexArray]:
    """Rows and columns ``at`` that many pixels inside each block."""
    return [np.minimum(np.arange(0, count, BLOCK) + at, count - 1) for count in shape]


def _as_pixels(blocks: BoolArray) -> BoolArray:
    return np.repeat(np.repeat(blocks, BLOCK, axis=0), BLOCK, axis=1)
