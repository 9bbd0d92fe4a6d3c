"""Which part of a photo is the piece: a place that is named, or what is left once references go.

A white card and a bare strip have colours that a thin film has too, and would count as the piece.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .._typing import BoolArray, SingleArray
from ..images.image import Codes
from ..images.patches import Patch, linear_to_lab
from .cells import BLOCK

_SAME_DE = (
    6.0  # what lies against a reference within so many ΔE and touches it is of it (judgement)
)
_BARE_NM = 6.0  # a region by itself with less is bare metal (its own film is 2 to 5 nm)
_SMALL_SHARE = 0.02  # of the largest region; smaller ones are specks (judgement)


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


def keep_piece(median_nm: SingleArray) -> tuple[BoolArray, float]:
    """The largest region of fitted pixels with what is near its size and is no bare strip apart
    from it, (H, W), and the share of the fitted pixels that lie elsewhere.

    ``median_nm`` (H, W) is NaN where nothing fits.
    """
    from scipy.ndimage import label, median

    fitted = np.isfinite(median_nm)
    blocks = _of_blocks(fitted).mean(axis=(1, 3)) > 0.5
    region, count = label(blocks)
    if count < 2:
        return np.ones_like(fitted), 0.0
    each, sizes = np.arange(1, count + 1), np.bincount(region.ravel())[1:]
    middle = median_nm[BLOCK // 2 :: BLOCK, BLOCK // 2 :: BLOCK]
    held = region[: middle.shape[0], : middle.shape[1]]
    thick = median(np.nan_to_num(middle), held, each)
    largest = sizes == sizes.max()
    kept = np.isin(
        region, each[largest | (sizes >= _SMALL_SHARE * sizes.max()) & (thick > _BARE_NM)]
    )
    mask = np.repeat(np.repeat(kept, BLOCK, axis=0), BLOCK, axis=1)
    mask = mask[: fitted.shape[0], : fitted.shape[1]]
    lost = float((fitted & ~mask).sum() / max(1, fitted.sum()))
    return mask, lost


def _spread_reference(codes: Codes, patch: Patch) -> BoolArray:
    """The patch and all that touches it in its colour, by blocks, shape (H, W)."""
    from scipy.ndimage import label

    height, width = codes.valid.shape
    middles = [np.minimum(np.arange(0, n, BLOCK) + BLOCK // 2, n - 1) for n in (height, width)]
    rows, columns = box = patch.box(codes.valid.shape)
    lab = linear_to_lab(codes.encoding.to_linear(codes.values[np.ix_(*middles)]))
    own = codes.encoding.to_linear(codes.values[box]).reshape(-1, 3).mean(axis=0)
    near = np.linalg.norm(lab - linear_to_lab(own), axis=-1) <= _SAME_DE
    inside = np.zeros(near.shape, dtype=bool)
    inside[rows.start // BLOCK : (rows.stop - 1) // BLOCK + 1,
           columns.start // BLOCK : (columns.stop - 1) // BLOCK + 1] = True  # fmt: skip
    region, _ = label(near | inside)
    spread = np.isin(region, np.unique(region[inside]))
    mask = np.repeat(np.repeat(spread, BLOCK, axis=0), BLOCK, axis=1)
    return np.asarray(mask[:height, :width])


def _of_blocks(pixels: BoolArray) -> BoolArray:
    """Pixels (H, W) as blocks (rows, 8, columns, 8), the last ones filled up."""
    height, width = pixels.shape
    full = np.pad(pixels, ((0, -height % BLOCK), (0, -width % BLOCK)))
    return full.reshape(full.shape[0] // BLOCK, BLOCK, full.shape[1] // BLOCK, BLOCK)
