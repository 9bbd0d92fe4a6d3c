"""Pictures as linear light, with where they cannot be trusted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from .._typing import BoolArray, SingleArray
from .decode import bands_of
from .image import Codes, load_codes

DARK_LINEAR = 0.005
"""Linear light of the brightest channel below which a pixel is too dark to tell its colour:
L* 4.5, where one step of 8 bits moves CIELAB by 1 and a camera's black level by more."""


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


def load_picture(path: str | Path) -> Picture:
    """Read a picture as linear light; parameters, errors and notes as for `load_codes`."""
    return linearise(load_codes(path))


def linearise(codes: Codes) -> Picture:
    """A picture as linear light, from its code values."""
    linear = np.empty(codes.values.shape, dtype=np.float32)
    dark = np.empty(codes.values.shape[:2], dtype=np.bool_)
    for rows in bands_of(codes.values):
        linear[rows] = codes.encoding.to_linear(codes.values[rows])
        dark[rows] = linear[rows].max(axis=-1) < DARK_LINEAR
    return Picture(
        linear, codes.find_clipped(), codes.find_crushed(), dark, codes.valid, codes.notes
    )


def linearise_within(codes: Codes, boxes: Iterable[tuple[slice, slice]]) -> Picture:
    """The same of some boxes alone, rows and columns of each: zero and unmarked elsewhere.

    Memory that is only zero is never touched, so a few marks on a photo cost what they hold.
    """
    shape = codes.values.shape
    linear = np.zeros(shape, dtype=np.float32)
    clipped, crushed, dark = (np.zeros(shape[:2], dtype=np.bool_) for _ in range(3))
    for box in boxes:
        part = linearise(replace(codes, values=codes.values[box], valid=codes.valid[box]))
        linear[box], clipped[box] = part.linear, part.clipped
        crushed[box], dark[box] = part.crushed, part.dark
    return Picture(linear, clipped, crushed, dark, codes.valid, codes.notes)
