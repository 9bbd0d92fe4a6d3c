"""Charts of a chamber: pressures over time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..deposition.gases import GASES, gas_name
from ..report.style import INK, QUIET, line_styles, new_axes, style_axes
from .result import ChamberState

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_DECADES = 5.0  # below the working pressure that are shown
_SHORTER = {"working gas": "gas in"}


def chart_pressures(state: ChamberState) -> Figure:
    """Pressure of each gas from pump-down to the end of the run."""
    ax = plot_pressures(state, new_axes(8.0, 4.8))
    return ax.get_figure()  # type: ignore[return-value]  # made here


def plot_pressures(state: ChamberState, ax: Axes | None = None) -> Axes:
    """Pressure of each gas over the time since the pump was started, on logarithmic axes."""
    ax = new_axes() if ax is None else ax
    history = state.history
    minutes = np.maximum(history.time_s, 1.0) / 60.0
    total = np.sum(list(history.partial_mbar.values()), axis=0)
    floor = 10.0 ** np.floor(np.log10(total.min()) - _DECADES)
    shown = [gas for gas in GASES if np.any(history.partial_mbar[gas][1:] > floor)]
    for gas, style in zip(shown, line_styles(len(shown)), strict=True):
        pressure = np.maximum(history.partial_mbar[gas], floor)
        ax.plot(minutes, pressure, **style, label=gas_name(gas))
    ax.set_xscale("log")
    ax.set_yscale("log")
    for axis in (ax.xaxis, ax.yaxis):  # by themselves powers are set as formulas
        axis.set_major_formatter("{x:g}")
        axis.set_minor_formatter("")
    for phase, start_s in history.phases.items():
        if start_s > 0.0:
            ax.axvline(start_s / 60.0, color=QUIET, lw=0.8, ls=":")
            words = f" {_SHORTER.get(phase, phase)}"
            ax.text(start_s / 60.0, 0.98, words, transform=ax.get_xaxis_transform(),
                    fontsize=8.5, color=INK, va="top", rotation=90)  # fmt: skip
    ax.set_xlim(minutes[0], minutes[-1])
    ax.set_xlabel("time since the pump was started [min]")
    ax.set_ylabel("pressure [mbar]")
    ax.set_title(f"Gas in the chamber; metal: {state.films[0].flow.name}")
    return style_axes(ax, legend=True)
