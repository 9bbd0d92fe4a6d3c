"""The white card in a photo: where it seems to lie, and whether a place marked can be one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import BoolArray, SingleArray
from ..errors import InputError
from .image import Codes
from .linear_light import Picture, linearise
from .patches import Patch, linear_to_lab, read_patch
from .white_balance import STRONG_GAIN, WHITE_REFLECTANCE

_ACROSS = 240  # pixels of the longer side that are looked at
_SMALLEST = 0.004  # share of the picture; a smaller thing is a glint
_LARGEST = 0.5  # a larger one is what the piece lies on
_FILLED = 0.7  # share of its bounding box that a card fills, lying askew
_BRIGHT = 0.6  # of the brightest light that is no glint
_PLAIN_CHROMA = 14.0
"""Largest chroma of a card under indoor light that the camera has balanced [CIELAB]; paper under
a bulb left unbalanced has more, and is marked by hand (common practice, no source)."""
_UNEVEN_DE = 4.0
_INSIDE = 0.7  # of the card's half width: its rim is shadow and blur


def find_card(codes: Codes) -> Patch | None:
    """The place that looks most like a white card: bright, plain, even and a filled shape.

    Returns
    -------
    Patch or None
        A square well within it; None where nothing in the picture looks like one.
    """
    step = max(1, max(codes.valid.shape) // _ACROSS)
    small = linearise(_thinned(codes, step))
    looked = small.valid & ~small.clipped & ~small.dark
    if not looked.any():
        return None
    plain = looked & _is_plain(small.linear, looked)
    at = _best_square(plain, small)
    if at is None:
        return None
    row, column, half = (step * one for one in at)
    side = max(3, int(2 * _INSIDE * half))
    return Patch(max(0, column - side // 2), max(0, row - side // 2), side, side)


def check_card(picture: Picture, patch: Patch) -> str:
    """What speaks against a place marked as the white card, as one clause; empty if nothing."""
    try:
        seen = read_patch(picture, patch)
    except InputError as error:
        said = str(error)
        if "overexposed" in said:
            return "the card is burnt out, so it can tell no balance; take the photo darker"
        if "too dark" in said:
            return "this place is too dark to be a white card"
        return said
    _, a, b = seen.lab
    if np.hypot(a, b) > 3.0 * _PLAIN_CHROMA:
        return "this place is coloured; a white card is white or grey in any light"
    if seen.linear.max() < WHITE_REFLECTANCE / STRONG_GAIN:
        return "this place is much darker than a white card would be in this photo"
    if np.sqrt(np.trace(seen.scatter_lab)) > _UNEVEN_DE:
        return "this place is uneven: mark the card's middle, away from shadow and print"
    return ""


def _thinned(codes: Codes, step: int) -> Codes:
    """Every so many pixels of a picture: enough to find a card by."""
    return replace(
        codes, values=codes.values[::step, ::step], valid=codes.valid[::step, ::step], notes=()
    )


def _is_plain(linear: SingleArray, looked: BoolArray) -> BoolArray:
    """Bright next to the rest of the picture, and nearly without colour."""
    lab = linear_to_lab(linear)
    light = linear.mean(axis=-1)
    brightest = float(np.quantile(light[looked], 0.995))
    plain: BoolArray = (light > _BRIGHT * brightest) & (
        np.hypot(lab[..., 1], lab[..., 2]) < _PLAIN_CHROMA
    )
    return plain


def _best_square(plain: BoolArray, small: Picture) -> tuple[int, int, int] | None:
    """Row, column and half width of the largest square within the best region."""
    from scipy.ndimage import distance_transform_cdt, find_objects, label

    regions, count = label(plain)
    best, most = None, 0.0
    for number, box in enumerate(find_objects(regions), start=1):
        inside = regions[box] == number
        share = inside.sum() / plain.size
        if not _SMALLEST < share < _LARGEST or inside.mean() < _FILLED:
            continue
        half = distance_transform_cdt(np.pad(inside, 1), metric="chessboard")[1:-1, 1:-1]
        row, column = np.unravel_index(int(half.argmax()), half.shape)
        merit = float(small.linear[box][inside].mean()) * np.sqrt(share)
        if merit > most:
            top, left = box[0].start, box[1].start
            best, most = (top + int(row), left + int(column), int(half.max())), merit
    return best if count else None
