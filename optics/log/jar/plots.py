"""What the other runs made one expect, what was made, and how leak and rate drift, run by run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...report.style import INK, QUIET, new_axes, style_axes
from .learnt import JarLearnt

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MISFIT = "#b3261e"
_STEP = 0.12  # by which the two bars of a run stand apart


def chart_learnt(learnt: JarLearnt) -> Figure:
    """The chart of :func:`plot_learnt` as a figure."""
    return _figure_of(plot_learnt(learnt))


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
        if not one.fits:  # below its own bars: beside them the next run has its own
            lowest = min(*one.predicted90_nm, *(one.made90_nm or ()))
            ax.annotate(
                "does\nnot fit", (place, lowest), (0, -4), textcoords="offset points",
                color=_MISFIT, ha="center", va="top", fontsize=9,
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


def chart_drift(learnt: JarLearnt) -> Figure:
    """The chart of :func:`plot_drift` as a figure."""
    return _figure_of(plot_drift(learnt))


def plot_drift(learnt: JarLearnt, ax: Axes | None = None) -> Axes:
    """Leak and rate run by run, over what is assumed and computed, with 90 % intervals.

    Parameters
    ----------
    learnt : JarLearnt
    ax : matplotlib Axes, optional
    """
    from matplotlib.ticker import LogLocator

    ax = new_axes(7.0, 3.2) if ax is None else ax
    place = np.arange(len(learnt.drift))
    for name, marker, shift, colour in (("leak", "o", -0.5, INK), ("rate", "s", 0.5, QUIET)):
        middle = [getattr(one, name) for one in learnt.drift]
        low, high = np.transpose([getattr(one, f"{name}90") for one in learnt.drift])
        ax.vlines(place + shift * _STEP, low, high, color=colour, lw=1.5)
        ax.plot(place + shift * _STEP, middle, marker, color=colour, ms=6, ls=":", lw=1, label=name)
    if learnt.change is not None:
        runs = [one.run for one in learnt.drift]
        ax.axvline(runs.index(learnt.change.from_run) - 0.5, color=_MISFIT, lw=1, ls="--")
    ax.axhline(1.0, color=QUIET, lw=0.8)
    ax.set_yscale("log")
    ax.set_xticks(place, [str(one.run) for one in learnt.drift])
    ax.set_xlabel("run")
    ax.set_ylabel("over what is assumed")
    ax.yaxis.set_minor_locator(LogLocator(subs=(2.0, 5.0)))
    for named in (ax.yaxis.set_major_formatter, ax.yaxis.set_minor_formatter):
        named("{x:g}")
    style_axes(ax, grid="y")
    ax.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=2, frameon=False)
    return ax


def _figure_of(ax: Axes) -> Figure:
    figure = ax.figure
    assert figure is not None  # axes that were just made have one
    return figure  # type: ignore[return-value]  # never a part of a figure here
