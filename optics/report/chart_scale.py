"""The scales and curves of a drawn chart as data, so that a page can read it out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from .._typing import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

_MOST_POINTS = 400  # of a curve
_DIGITS = 6


def scales_of(figure: Figure) -> list[dict[str, Any]]:
    """What each panel shows; the figure must have been drawn or saved before.

    Returns
    -------
    list of dict
        For each panel with an axis: ``box``, its left, top, right and bottom as shares of the
        picture; ``x`` and ``y``, each with ``label``, ``low``, ``high``, ``log`` and ``names``,
        the words at its ticks where they are not numbers; ``curves``, each with ``name``, ``x``
        and ``y``; ``bars``, each ``[from, to, height]``.
    """
    return [_panel(ax) for ax in figure.axes if ax.axison and ax.get_visible()]


def _panel(ax: Axes) -> dict[str, Any]:
    place = ax.get_position()
    return {
        "box": _plain(np.array([place.x0, 1.0 - place.y1, place.x1, 1.0 - place.y0])),
        "x": _axis(ax.xaxis, ax.get_xlim()) | {"label": _label_along(ax)},
        "y": _axis(ax.yaxis, ax.get_ylim()),
        "curves": list(_curves(ax)),
        "bars": list(_bars(ax)),
    }


def _label_along(ax: Axes) -> str:
    """The words along x, which of panels that share it the lowest alone may carry."""
    sharing = [ax, *ax.get_shared_x_axes().get_siblings(ax)]
    return next((words for one in sharing if (words := one.get_xlabel())), "")


def _axis(axis: Axis, ends: tuple[float, float]) -> dict[str, Any]:
    words = [(float(at), label.get_text()) for at, label in _ticks(axis)]
    named = [[at, text] for at, text in words if text and not _is_number(text)]
    return {
        "label": axis.get_label_text(),
        "low": float(ends[0]),
        "high": float(ends[1]),
        "log": axis.get_scale() == "log",
        "names": named if axis.get_scale() != "log" else [],
    }


def _ticks(axis: Axis) -> Iterator[tuple[float, Any]]:
    yield from zip(axis.get_majorticklocs(), axis.get_ticklabels(), strict=False)


def _is_number(text: str) -> bool:
    try:
        float(text.replace("−", "-").replace(",", ""))  # a minus as charts print it
    except ValueError:
        return False
    return True


def _curves(ax: Axes) -> Iterator[dict[str, Any]]:
    for line in ax.lines:
        x, y = (
            np.asarray(line.get_xdata(), dtype=object),
            np.asarray(line.get_ydata(), dtype=object),
        )
        points = _numbers(x, y)
        if points is None or not _is_curve(ax, line):
            continue
        every = max(1, -(-points.shape[1] // _MOST_POINTS))
        name = str(line.get_label())
        yield {
            "name": "" if name.startswith("_") else name,
            "x": _plain(points[0, ::every]),
            "y": _plain(points[1, ::every]),
        }


def _is_curve(ax: Axes, line: Line2D) -> bool:
    """Whether it is drawn over both axes; one across the whole panel only marks a place."""
    return bool(line.get_visible() and line.get_transform() == ax.transData)


def _numbers(x: Any, y: Any) -> FloatArray | None:
    """Both as numbers where each is finite and x rises; None where they are something else."""
    try:
        points = np.array([x, y], dtype=float)
    except (TypeError, ValueError):  # dates or words
        return None
    points = points[:, np.isfinite(points).all(axis=0)]
    rises = points.shape[1] > 1 and bool(np.all(np.diff(points[0]) > 0.0))
    return points if rises else None


def _bars(ax: Axes) -> Iterator[list[float]]:
    from matplotlib.container import BarContainer

    for held in ax.containers:
        if not isinstance(held, BarContainer):
            continue
        for bar in held:
            left, width, height = bar.get_x(), bar.get_width(), bar.get_height()
            yield _plain(np.array([left, left + width, height]))


def _plain(values: FloatArray) -> list[float]:
    """Numbers as JSON takes them, with no more digits than an eye can use."""
    return [float(f"{value:.{_DIGITS}g}") if np.isfinite(value) else 0.0 for value in values]
