"""Charts of optical data: index and extinction over wavelength."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..films.materials.catalogue import MaterialEntry, load_file
from ..report.style import INK, line_styles, new_axes, new_figure, style_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_SHOWN_NM = (300.0, 1000.0)


def chart_material(entries: Sequence[MaterialEntry]) -> Figure:
    """Index and extinction of every data set of one material, the default drawn bold."""
    figure, (above, below) = new_figure(8.0, 6.4, [1.0, 1.0], share=True)
    plot_index(entries, above)
    above.set_xlabel("")
    plot_extinction(entries, below)
    below.set_title("")
    legend = below.get_legend()
    if legend is not None:
        legend.remove()
    return figure


def plot_index(entries: Sequence[MaterialEntry], ax: Axes | None = None) -> Axes:
    """Refractive index over wavelength of data sets, as from `list_materials`, 300 to 1000 nm."""
    return _plot_constant(entries, "refractive index n [-]", ax)


def plot_extinction(entries: Sequence[MaterialEntry], ax: Axes | None = None) -> Axes:
    """Extinction coefficient over wavelength of data sets, 300 to 1000 nm."""
    return _plot_constant(entries, "extinction coefficient k [-]", ax)


def _plot_constant(entries: Sequence[MaterialEntry], label: str, ax: Axes | None) -> Axes:
    ax = ax or new_axes()
    looks = line_styles(len(entries))
    for i, (entry, style) in enumerate(zip(entries, looks, strict=True)):
        material = load_file(entry.file)
        low, high = max(material.range_nm[0], _SHOWN_NM[0]), min(material.range_nm[1], _SHOWN_NM[1])
        if low >= high:
            continue
        nm = np.linspace(low, high, 351)
        values = material.nk(nm)
        bold = {"color": INK, "lw": 2.4} if entry.default or i == 0 else {}
        drawn = values.real if label.startswith("refractive") else values.imag
        ax.plot(nm, drawn, **{**style, **bold}, label=entry.label)
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel(label)
    ax.set_title(f"{entries[0].name}: published data sets")
    style_axes(ax)
    if ax.lines:
        ax.legend(frameon=False, fontsize=7.5, ncols=2, handlelength=4.0)
    return ax
