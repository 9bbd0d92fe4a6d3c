"""Charts of a spectrum fit: readings with the best model, and what the model leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..report.style import INK, QUIET, new_axes, new_figure, style_axes
from .result import SpectrumFit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def chart_spectrum(fit: SpectrumFit) -> Figure:
    """Readings and best model above, what is left below."""
    figure, (above, below) = new_figure(7.0, 5.0, [2.4, 1.0], share=True)
    plot_fit(fit, above)
    above.set_xlabel("")
    plot_residual(fit, below)
    return figure


def plot_fit(fit: SpectrumFit, ax: Axes | None = None) -> Axes:
    """A measured spectrum and the best model of it."""
    ax = ax or new_axes()
    ax.plot(fit.wavelength_nm, 100.0 * fit.value, ".", color=QUIET, label="measured")
    ax.plot(fit.wavelength_nm, 100.0 * fit.curve, "-", color=INK, lw=1.8, label="best model")
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel("share of the light [%]")
    ax.set_title(str(fit), wrap=True)
    return style_axes(ax, legend=True)


def plot_residual(fit: SpectrumFit, ax: Axes | None = None) -> Axes:
    """What the best model leaves of a measured spectrum."""
    ax = ax or new_axes(7.0, 2.0)
    ax.axhline(0.0, color=QUIET, lw=0.8)
    ax.plot(fit.wavelength_nm, 100.0 * fit.residual, ".-", color=INK, lw=0.8)
    ax.set_ylabel("residual [%]")
    ax.set_xlabel("wavelength [nm]")
    return style_axes(ax)
