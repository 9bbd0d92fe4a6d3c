"""The chart to follow at the jar: what the detector shows while the run goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...report.style import INK, QUIET, SHADE, new_figure, style_axes
from .curves import LayerCue
from .follow import LayerWatch
from .monitor import Monitoring

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MOST_ROWS = 4


def chart_monitoring(found: Monitoring) -> Figure:
    """A row for each reading of light that ends a layer, through all layers."""
    names = _names(found)
    figure, axes = new_figure(9.0, 1.2 + 2.4 * len(names), [1.0] * len(names))
    for name, ax in zip(names, axes, strict=True):
        plot_reading(found, name, ax)
    return figure


def can_be_drawn(found: Monitoring) -> bool:
    """Whether any reading of light is there to follow."""
    return bool(_names(found))


def _names(found: Monitoring) -> list[str]:
    """Readings of light that end a layer, the most used first; else the sharpest one."""
    drawn = [
        (one.chosen is one.drawn, one.drawn.watched)
        for one in found.advised
        if one.drawn is not None
    ]
    used = [name for chosen, name in drawn if chosen] or [name for _, name in drawn]
    return sorted(set(used), key=lambda name: -used.count(name))[:_MOST_ROWS]


def plot_reading(found: Monitoring, name: str, ax: Axes) -> Axes:
    """One reading against all that was deposited, dark in the layers that it ends."""
    done = 0.0
    for watch in found.advised:
        cue = next((one for one in watch.cues if one.watched == name), None)
        if cue is not None:
            _plot_layer(watch, cue, done, ax)
        ax.text(
            done + 0.5 * watch.thickness_nm, 1.02, f"{watch.step} {watch.material}", ha="center",
            transform=ax.get_xaxis_transform(), fontsize=8,
        )  # fmt: skip
        if watch.fresh_chip:
            ax.axvline(done, color=INK, lw=1.2, ls=(0, (4, 2)))
        done += watch.thickness_nm
        ax.axvline(done, color=SHADE, lw=0.8, zorder=0)
    ax.set_xlim(0.0, done)
    ax.set_ylim(bottom=0.0)
    ax.set_ylabel(f"{name} [%]")
    ax.set_xlabel("deposited so far [nm]; dashed: a fresh chip")
    return style_axes(ax)


def _plot_layer(watch: LayerWatch, cue: LayerCue, done: float, ax: Axes) -> None:
    nm = watch.thickness_nm
    grid = np.linspace(0.0, nm, 121)
    read = 100.0 * np.interp(grid, cue.thickness_nm, cue.reading)
    own = watch.chosen is cue
    ax.plot(done + grid, read, color=INK if own else QUIET, lw=1.8 if own else 0.9)
    if own:
        at, value = np.array(cue.turning_nm), 100.0 * np.array(cue.turning)
        ax.plot(done + at, value, "o", color=INK, mfc="white", ms=5)
        ax.plot([done + nm], [read[-1]], "s", color=INK, ms=5)
