"""Colours as a strip with their names on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .style import contrasting_ink, edges_of, new_axes, style_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes


_NARROWEST_NAMED = 0.0145  # of the strip's length, about the height of a small letter


def plot_ramp(
    thickness_nm: ArrayLike, srgb_hex: ArrayLike, names: ArrayLike, *, ax: Axes | None = None
) -> Axes:
    """A strip of colours against thickness with their names on it.

    Parameters
    ----------
    thickness_nm, srgb_hex, names : array_like, shape (n,)
    ax : Axes, optional
    """
    from matplotlib.colors import to_rgb

    ax = ax or new_axes(8.0, 1.6)
    nm = np.asarray(thickness_nm, dtype=float)
    colours = np.array([to_rgb(str(one)) for one in np.asarray(srgb_hex)])
    edges = edges_of(nm)
    ax.pcolorfast(edges, [0.0, 1.0], colours[None])
    for start, end, name in _name_runs(np.asarray(names)):
        width = edges[end + 1] - edges[start]
        if width < _NARROWEST_NAMED * (edges[-1] - edges[0]):
            continue
        middle = 0.5 * (edges[start] + edges[end + 1])
        ax.text(
            middle, 0.5, name, rotation=90, ha="center", va="center", fontsize=7,
            color=contrasting_ink(colours[start : end + 1].mean(axis=0)),
        )  # fmt: skip
    ax.set_yticks([])
    ax.set_xlim(edges[0], edges[-1])
    ax.tick_params(labelbottom=True)
    style_axes(ax, grid="")
    ax.spines["left"].set_visible(False)
    return ax


def _name_runs(names: NDArray[np.str_]) -> list[tuple[int, int, str]]:
    """First and last position of each run of one name."""
    starts = np.flatnonzero(np.concatenate([[True], names[1:] != names[:-1]]))
    ends = np.concatenate([starts[1:] - 1, [names.size - 1]])
    return [(int(a), int(b), str(names[a])) for a, b in zip(starts, ends, strict=True)]
