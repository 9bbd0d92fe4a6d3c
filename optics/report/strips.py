"""Colours as a strip with their names on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._typing import BoolArray, FloatArray
from .style import INK, QUIET, contrasting_ink, edges_of, new_axes, style_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.transforms import Transform


_NARROWEST_NAMED = 0.0145  # of the strip's length, about the height of a small letter
_BELOW_LABEL_PT, _LIFT_PT = 31, 2.5
TOO_VIVID = "more vivid than a screen can show"


def plot_ramp(
    thickness_nm: ArrayLike,
    srgb_hex: ArrayLike,
    names: ArrayLike,
    *,
    in_gamut: ArrayLike = True,
    ax: Axes | None = None,
) -> Axes:
    """A strip of colours against thickness with their names on it.

    Parameters
    ----------
    thickness_nm, srgb_hex, names : array_like, shape (n,)
    in_gamut : array_like of bool, shape (n,) or ()
        Whether a screen can show each colour as it is. Where it cannot, a line above the strip
        says so: what is drawn there is duller than the film.
    ax : Axes, optional
    """
    from matplotlib.colors import to_rgb

    ax = ax or new_axes(8.0, 1.6)
    nm = np.asarray(thickness_nm, dtype=float)
    colours = np.array([to_rgb(str(one)) for one in np.asarray(srgb_hex)])
    edges = edges_of(nm)
    ax.pcolorfast(edges, [0.0, 1.0], colours[None])
    mark_vivid(ax, edges, np.broadcast_to(in_gamut, nm.shape))
    for start, end, name in runs_of(np.asarray(names)):
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


def mark_vivid(
    ax: Axes, edges: FloatArray, in_gamut: BoolArray, *, tops: Sequence[float] | None = None
) -> None:
    """A line along the top of the stretches that no screen shows as they are, and what it means.

    ``in_gamut`` has the shape (n,), or (rows, n) with the upper edge of each row in ``tops``.
    """
    rows = np.atleast_2d(in_gamut)
    if rows.all():
        return
    inside: dict[str, Any] = {} if tops else {"transform": _above(ax)}
    for top, row in zip(tops or [1.0], rows, strict=True):
        for start, end, shown in runs_of(row):
            if not shown:
                ax.plot(
                    edges[[start, end + 1]], [top, top], color=INK, lw=2.5, clip_on=False,
                    solid_capstyle="butt", **inside,
                )  # fmt: skip
    _say_vivid(ax, "line at the top")


def mark_vivid_field(ax: Axes, x: FloatArray, y: FloatArray, *, in_gamut: BoolArray) -> None:
    """Dots over the part of a field (y, x) that no screen shows as it is, and what they mean."""
    if in_gamut.all():
        return
    outside = (~in_gamut).astype(float)
    ax.contourf(x, y, outside, [0.5, 1.5], colors="none", hatches=["..."])
    _say_vivid(ax, "dotted")


def _say_vivid(ax: Axes, mark: str) -> None:
    """What a mark means, below the axis and its label."""
    ax.annotate(
        f"{mark}: {TOO_VIVID}", (1.0, 0.0), (0, -_BELOW_LABEL_PT), xycoords="axes fraction",
        textcoords="offset points", fontsize=7, color=QUIET, ha="right", va="top",
    )  # fmt: skip


def _above(ax: Axes) -> Transform:
    """Along the axis in its own numbers, upwards in the axes' height, a little over it."""
    from matplotlib.transforms import ScaledTranslation

    lift = ScaledTranslation(0.0, _LIFT_PT / 72.0, ax.figure.dpi_scale_trans)
    return ax.get_xaxis_transform() + lift


def runs_of(values: NDArray[Any]) -> list[tuple[int, int, Any]]:
    """First and last position of each run of one value, and the value."""
    starts = np.flatnonzero(np.concatenate([[True], values[1:] != values[:-1]]))
    ends = np.concatenate([starts[1:] - 1, [values.size - 1]])
    return [(int(a), int(b), values[a].item()) for a, b in zip(starts, ends, strict=True)]
