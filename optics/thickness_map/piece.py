"""Which part of a photo may be the piece: a named place, or what is left once references go.

A white card and a bare strip have colours that a thin film has too, and would count as the piece.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .._typing import BoolArray
from ..images.image import Codes
from ..images.patches import Patch, linear_to_lab
from ..numerics.lattice import label_regions
from .cells import BLOCK

_SAME_DE = 6.0  # what touches a reference within so many ΔE of it is of it (judgement)


def mask_piece(
    codes: Codes, piece: Patch | None, references: Sequence[Patch]
) -> tuple[BoolArray, str]:
    """Which pixels (H, W) may be of the piece, and what was left out.

    Parameters
    ----------
    codes : Codes
    piece : Patch, optional
        The place it is in.
    references : sequence of Patch
        A white card and bare metal: they go, with all that touches them in the same colour.

    Raises
    ------
    InputError
        If the place leaves the picture.
    """
    mask = np.ones(codes.valid.shape, dtype=bool)
    if piece is not None:
        mask[:] = False
        mask[piece.box(mask.shape)] = True
    left_out = 0
    for one in references:
        own = _spread_reference(codes, one)
        left_out += int((own & mask).sum())
        mask &= ~own
    share = 100.0 * left_out / mask.size
    said = f"white card and bare metal, {share:.0f} % of the picture, are left out"
    return mask, said if share >= 0.5 else ""


def _spread_reference(codes: Codes, patch: Patch) -> BoolArray:
    """The patch and all that touches it in its colour, by blocks, shape (H, W)."""
    height, width = codes.valid.shape
    middles = [np.minimum(np.arange(0, n, BLOCK) + BLOCK // 2, n - 1) for n in (height, width)]
    rows, columns = box = patch.box(codes.valid.shape)
    lab = linear_to_lab(codes.encoding.to_linear(codes.values[np.ix_(*middles)]))
    own = codes.encoding.to_linear(codes.values[box]).reshape(-1, 3).mean(axis=0)
    near = np.linalg.norm(lab - linear_to_lab(own), axis=-1) <= _SAME_DE
    inside = np.zeros(near.shape, dtype=bool)
    inside[rows.start // BLOCK : (rows.stop - 1) // BLOCK + 1,
           columns.start // BLOCK : (columns.stop - 1) // BLOCK + 1] = True  # fmt: skip
    region, _ = label_regions(near | inside)
    spread = np.isin(region, np.unique(region[inside]))
    mask = np.repeat(np.repeat(spread, BLOCK, axis=0), BLOCK, axis=1)
    return np.asarray(mask[:height, :width])
