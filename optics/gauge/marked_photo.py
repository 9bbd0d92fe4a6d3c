"""A photo with the places marked on it, as a figure of a report."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from .._typing import FloatArray
from ..colour.spaces import srgb_encode
from ..images.image import load_codes
from ..images.patches import Patch
from ..report.style import new_axes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_ACROSS = 640  # pixels of the longer side that are drawn


def chart_marked_photo(path: Path, places: Mapping[str, Patch]) -> Figure:
    """The photo, upright and small, each place framed and named.

    Parameters
    ----------
    path : Path
    places : mapping of str to Patch
        By the words that are drawn at each.
    """
    from matplotlib.patches import Rectangle

    codes = load_codes(path)
    step = max(1, max(codes.valid.shape) // _ACROSS)
    shown: FloatArray = srgb_encode(codes.encoding.to_linear(codes.values[::step, ::step]))
    height, width = shown.shape[:2]
    ax = new_axes(7.0, 7.0 * height / width)
    ax.imshow(np.clip(shown, 0.0, 1.0), interpolation="antialiased")
    ax.axis("off")
    for words, place in places.items():
        rows, columns = place.box(codes.values.shape)
        corner = (columns.start / step, rows.start / step)
        size = ((columns.stop - columns.start) / step, (rows.stop - rows.start) / step)
        for colour, line in (("black", 3.0), ("white", 1.2)):
            ax.add_patch(Rectangle(corner, *size, fill=False, edgecolor=colour, lw=line))
        ax.annotate(
            words, (corner[0], corner[1]), (0, 3), textcoords="offset points", fontsize=9,
            color="white", bbox={"facecolor": "black", "edgecolor": "none", "pad": 1.5},
        )  # fmt: skip
    return ax.get_figure()  # type: ignore[return-value]  # made here
