"""What the other runs made one expect, and what was made, run by run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..report.style import INK, QUIET, new_axes, style_axes
from .learnt import JarLearnt

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MISFIT = "#b3261e"
_STEP = 0.12  # by which the two bars of a run stand apart


def chart_learnt(learnt: JarLearnt) -> Figure:
    """The chart of :func:`plot_learnt` as a figure."""
    figure = plot_learnt(learnt).figure
    assert figure is not None  # axes that were just made have one
    return figure  # type: ignore[return-value]  # never a part of a figure here


def plot_learnt(learnt: JarLearnt, ax: Axes | None = None) -> Axes:
    """Thickness expected of each run from the others, and made, with 90 % intervals.

    Parameters
    ----------
    learnt : JarLearnt
    ax : matplotlib Axes, optional
    """
    from matplotlib.ticker import LogFormatter

    ax = new_axes(7.0, 3.8) if ax is None else ax
    for place, one in enumerate(learnt.checks):
        colour = INK if one.fits else _MISFIT
        ax.vlines(place - _STEP, *one.predicted90_nm, color=QUIET, lw=5, alpha=0.5)
        ax.plot(place - _STEP, one.predicted_nm, "_", color=QUIET, ms=12, mew=2)
        if one.made_nm is not None and one.made90_nm is not None:
            ax.vlines(place + _STEP, *one.made90_nm, color=colour, lw=1.5)
            ax.plot(place + _STEP, one.made_nm, "o", color=colour, ms=6)
        if not one.fits:
            ax.annotate(
                "does not fit", (place + _STEP, one.made_nm or one.predicted_nm), (8, 0),
                textcoords="offset points", color=_MISFIT, va="center",
            )  # fmt: skip
    ax.plot([], [], "_", color=QUIET, ms=12, mew=2, label="expected from the other runs")
    ax.plot([], [], "o", color=INK, ms=6, label="made")
    ax.set_yscale("log")
    ax.set_xticks(np.arange(len(learnt.checks)), [str(one.run) for one in learnt.checks])
    ax.set_xlabel("run")
    ax.set_ylabel("metal on the piece, nm")
    ax.yaxis.set_major_formatter("{x:g}")
    ax.yaxis.set_minor_formatter(LogFormatter(minor_thresholds=(1.0, 0.4)))
    style_axes(ax, grid="y")
    ax.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=2, frameon=False)
    return ax
