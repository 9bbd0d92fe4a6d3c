"""Bring colours that sRGB cannot show inside it, by the method of CSS Color 4."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .._typing import BoolArray, FloatArray
from ..numerics.interpolate import bisect
from .spaces import (
    LINEAR_TO_LMS,
    LMS_TO_LINEAR,
    LMS_TO_OKLAB,
    OKLAB_TO_LMS,
    check_components,
    oklab_to_oklch,
    srgb_encode,
    srgb_linear_to_oklab,
)

JUST_NOTICEABLE = 0.02
"""OKLab distance below which clipping is as good as the colour itself (CSS Color 4)."""

CHROMA_STEP = 1e-4
"""Chroma at which the search stops (CSS Color 4)."""

ROUNDING_SLACK = 1e-9
"""Linear light by which a colour may leave 0..1 through rounding and still count as inside."""


def in_srgb(linear_srgb: ArrayLike) -> BoolArray:
    """Whether linear sRGB, shape (..., 3), lies inside the gamut, shape (...)."""
    linear = check_components(linear_srgb, "linear_srgb")
    inside = (linear >= -ROUNDING_SLACK) & (linear <= 1.0 + ROUNDING_SLACK)
    return np.asarray(inside.all(axis=-1))


def map_to_srgb(linear_srgb: ArrayLike) -> tuple[FloatArray, BoolArray]:
    """Encoded sRGB (..., 3) within 0..1 of linear sRGB, and whether it was inside (...).

    Lightness and hue of OKLCH are kept and the chroma is reduced, by bisection, until
    clipping moves the colour by less than `JUST_NOTICEABLE` (CSS Color 4, "CSS gamut mapping
    to an RGB destination"). Lightness of 1 or more becomes white, of 0 or less black.
    """
    linear = check_components(linear_srgb, "linear_srgb")
    inside = in_srgb(linear)
    mapped = np.minimum(np.maximum(linear, 0.0), 1.0)
    if not inside.all():
        mapped[~inside] = _reduce_chroma(linear[~inside])
    return np.minimum(srgb_encode(mapped), 1.0), inside


def _reduce_chroma(linear: FloatArray) -> FloatArray:
    """Clipped linear sRGB, shape (n, 3), of colours outside the gamut."""
    lightness, chroma, hue_deg = np.moveaxis(oklab_to_oklch(srgb_linear_to_oklab(linear)), -1, 0)
    turn = np.radians(hue_deg)
    # Cube roots of the light that the cones take lie on a straight line over the chroma.
    grey = lightness[:, None] * OKLAB_TO_LMS[:, 0]
    across = np.stack([np.cos(turn), np.sin(turn)], axis=-1) @ OKLAB_TO_LMS[:, 1:].T

    def keeps(chroma: FloatArray) -> BoolArray:
        return _clip_is_unseen(grey + chroma[:, None] * across)

    low = np.where(keeps(chroma), chroma, 0.0)
    low, _ = bisect(keeps, low, chroma, halvings=_halvings(chroma))
    clipped: FloatArray = np.clip((grey + low[:, None] * across) ** 3 @ LMS_TO_LINEAR.T, 0.0, 1.0)
    clipped[lightness >= 1.0] = 1.0
    clipped[lightness <= 0.0] = 0.0
    return clipped


def _halvings(chroma: FloatArray) -> int:
    return int(np.ceil(np.log2(max(float(chroma.max()) / CHROMA_STEP, 2.0))))


def _clip_is_unseen(roots: FloatArray) -> BoolArray:
    """Whether clipping to 0..1 moves colours by less than a just noticeable difference, by the cube
    roots (n, 3) of the light that the cones take.

    A colour inside the gamut passes too, being moved by nothing.
    """
    clipped = np.minimum(np.maximum(roots * roots * roots @ LMS_TO_LINEAR.T, 0.0), 1.0)
    shift = (np.cbrt(clipped @ LINEAR_TO_LMS.T) - roots) @ LMS_TO_OKLAB.T
    return np.asarray((shift * shift).sum(axis=-1) < JUST_NOTICEABLE**2)
