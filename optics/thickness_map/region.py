"""Which part of a map is the piece: the largest region that fits, no specks, no bare strips."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import BoolArray, SingleArray
from ..images.patches import Patch
from ..numerics.lattice import label_regions
from .cells import BLOCK
from .result import FieldMap

_BARE_NM = 6.0  # a region by itself with less is bare metal (its own film is 2 to 5 nm)
_SMALL_SHARE = 0.02  # of the largest region; smaller ones are specks (judgement)
_SAID_FROM = 0.005  # share of the pixels that fit whose loss is told
_ROUND_THE_EDGE = 0.5  # share of the picture's edge, from which it is told (judgement)


def keep_place(field: FieldMap, mask: BoolArray, place: Patch) -> FieldMap:
    """The map as of the place that the piece is in; ``mask`` are the pixels (H, W) that count."""
    return replace(field, share_fitted=float((field.order > 0)[mask].mean()), piece=str(place))


def keep_region(field: FieldMap) -> FieldMap:
    """The map of the largest region found, and of what is near its size."""
    kept, lost = _keep_piece(field.median_nm)
    if lost == 0.0:
        return field
    parts = [np.where(kept, one, np.float32(np.nan))
             for one in (field.median_nm, field.low_nm, field.high_nm)]  # fmt: skip
    order = np.where(kept, field.order, np.uint8(0))
    notes = field.notes
    if lost >= _SAID_FROM:
        notes += (
            f"the piece is taken to be the largest region that shows colours of the films; specks "
            f"and bare metal apart from it, {100.0 * lost:.0f} % of the pixels that fit, are left "
            f"out",
        )
    median, low, high = parts
    share = float(np.count_nonzero(order) / order.size)
    return replace(
        field, median_nm=median, low_nm=low, high_nm=high, order=order, share_fitted=share,
        notes=notes,
    )  # fmt: skip


def _keep_piece(median_nm: SingleArray) -> tuple[BoolArray, float]:
    """The largest region of fitted pixels with what is near its size and is no bare strip apart
    from it, (H, W), and the share of the fitted pixels that lie elsewhere.

    ``median_nm`` (H, W) is NaN where nothing fits.
    """
    fitted = np.isfinite(median_nm)
    blocks = _of_blocks(fitted).mean(axis=(1, 3)) > 0.5
    region, count = label_regions(blocks)
    if count < 2:
        return np.ones_like(fitted), 0.0
    each, sizes = np.arange(1, count + 1), np.bincount(region.ravel())[1:]
    middle = median_nm[BLOCK // 2 :: BLOCK, BLOCK // 2 :: BLOCK]
    held = region[: middle.shape[0], : middle.shape[1]]
    thick = np.array([_median_of(middle[held == one]) for one in each])
    largest = sizes == sizes.max()
    kept = np.isin(
        region, each[largest | (sizes >= _SMALL_SHARE * sizes.max()) & (thick > _BARE_NM)]
    )
    mask = _spread(kept, fitted)
    rim = _spread(touching(kept) & (region == 0), fitted)
    mask |= rim & _without_outline(fitted)
    lost = float((fitted & ~mask).sum() / max(1, fitted.sum()))
    return mask, lost


def touching(blocks: BoolArray) -> BoolArray:
    """Blocks (H, W) that are of the given ones, or touch one by a side or a corner."""
    padded, found = np.pad(blocks, 1), np.zeros_like(blocks)
    height, width = blocks.shape
    for down in range(3):
        for across in range(3):
            found |= padded[down : down + height, across : across + width]
    return found


def _spread(blocks: BoolArray, pixels: BoolArray) -> BoolArray:
    """Blocks as the pixels (H, W) they hold."""
    mask = np.repeat(np.repeat(blocks, BLOCK, axis=0), BLOCK, axis=1)
    return mask[: pixels.shape[0], : pixels.shape[1]]


def _without_outline(pixels: BoolArray) -> BoolArray:
    """Pixels (H, W) whose four neighbours are among them: the light of an outline is mixed."""
    padded = np.pad(pixels, 1)
    inside = padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2] & padded[1:-1, 2:]
    return pixels & inside


def _median_of(nm: SingleArray) -> float:
    return float(np.median(np.nan_to_num(nm))) if nm.size else 0.0


def _of_blocks(pixels: BoolArray) -> BoolArray:
    """Pixels (H, W) as blocks (rows, 8, columns, 8), the last ones filled up."""
    height, width = pixels.shape
    full = np.pad(pixels, ((0, -height % BLOCK), (0, -width % BLOCK)))
    return full.reshape(full.shape[0] // BLOCK, BLOCK, full.shape[1] // BLOCK, BLOCK)


def describe_ground(field: FieldMap, ground: BoolArray) -> list[str]:
    """What was taken for the ground; or that there may be one which counts as the piece, or that
    much is neither ground nor film."""
    strange = _strange(field)
    if ground.any():
        return [
            *strange,
            f"the even grey round the edges, {100.0 * ground.mean():.0f} % of the picture, is left "
            "out as the ground; name the place of the piece if it is part of it",
        ]
    fitted = field.order > 0
    edge = np.concatenate([fitted[0], fitted[-1], fitted[:, 0], fitted[:, -1]])
    if field.piece or edge.mean() < _ROUND_THE_EDGE:
        return strange
    return [
        *strange,
        "what counts as the piece goes round the edges of the picture; name the place of the piece "
        "if that is what it lies on",
    ]


def _strange(field: FieldMap) -> list[str]:
    """What to say of a picture much of which is no film in question."""
    if field.piece or not field.fits or field.share_of_tried >= 0.5:
        return []
    return [
        f"{100.0 * (1.0 - field.share_of_tried):.0f} % of what is neither ground nor reference "
        f"shows no colour of the films; where that is the piece, see whether film and metal are "
        f"right"
    ]
