"""Charts of a look: its spectrum, or colours and reflectance of a sweep."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, shorten
from ..films.stack import sweep_thicknesses
from ..report.format import format_angle
from ..report.strips import mark_vivid_field, plot_ramp
from ..report.style import INK, QUIET, edges_of, new_axes, new_figure, style_axes
from .result import Look

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Rectangle


_LINES_NM = ((450.0, ":"), (550.0, "--"), (650.0, "-."))


def chart_look(look: Look) -> Figure:
    """The spectrum of one stack, the colours of one sweep with its reflectance, or of two.

    Raises
    ------
    InputError
        If the spectra of a single stack were not kept, or more than two thicknesses are swept.
    """
    if len(look.films.sweep_shape) == 2:
        figure, (ax,) = new_figure(7.0, 5.2, [1.0])
        plot_colour_field(look, ax)
        return figure
    if look.spectra is None and look.films.sweep_shape:
        return chart_strip(look)
    if not look.films.sweep_shape:
        figure, (ax,) = new_figure(7.0, 4.2, [1.0])
        plot_spectrum(look, ax)
        return figure
    figure, (above, below) = new_figure(8.0, 5.2, [1.0, 2.4], share=True)
    plot_colours(look, above)
    above.set_xlabel("")
    plot_reflectance(look, below)
    below.set_title("")
    return figure


def plot_spectrum(look: Look, ax: Axes | None = None) -> Axes:
    """Reflectance and, where there is any, transmittance of one stack over wavelength.

    Raises
    ------
    InputError
        If the spectra were not kept, as by ``look(..., spectrum=True)``.
    """
    if look.spectra is None:
        raise InputError("a spectrum needs the spectra of the look")
    ax = ax or new_axes()
    spectra = look.spectra
    curves = [("reflected", spectra.R, look.reflected, "-")]
    if look.transmitted is not None:
        curves.append(("seen through", spectra.T, look.transmitted, "--"))
    for i, (label, fraction, seen, style) in enumerate(curves):
        text = f"{label}: {seen.name}, {seen.srgb_hex}"
        ax.plot(spectra.wavelength_nm, 100.0 * fraction, style, color=INK, lw=1.8, label=text)
        ax.add_patch(_patch(ax, str(seen.srgb_hex), 0.015 + 0.075 * i))
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel("share of the light [%]")
    ax.set_xlim(spectra.wavelength_nm[0], spectra.wavelength_nm[-1])
    ax.set_ylim(0.0, 100.0)
    ax.set_title(_title(look))
    return style_axes(ax, legend=True)


def plot_colours(look: Look, ax: Axes | None = None) -> Axes:
    """Reflected colours of a sweep as a strip over its thickness.

    Raises
    ------
    InputError
        If not exactly one thickness is swept.
    """
    ((label, nm),) = _swept_axes(look, 1)
    seen = look.reflected
    ax = plot_ramp(nm, seen.srgb_hex, seen.name, in_gamut=seen.in_gamut, ax=ax)
    ax.set_xlabel(label)
    ax.set_title(_title(look), fontsize=10.5, color=INK)
    return ax


def plot_colour_field(look: Look, ax: Axes | None = None) -> Axes:
    """Reflected colours over two swept thicknesses, dotted where no screen shows them.

    Raises
    ------
    InputError
        If not exactly two thicknesses are swept.
    """
    from matplotlib.colors import to_rgb

    (down, down_nm), (along, along_nm) = _swept_axes(look, 2)
    ax = ax or new_axes(7.0, 5.2)
    colours = np.array([[to_rgb(str(one)) for one in row] for row in look.reflected.srgb_hex])
    ax.pcolormesh(edges_of(along_nm), edges_of(down_nm), colours, rasterized=True)
    mark_vivid_field(ax, along_nm, down_nm, in_gamut=np.asarray(look.reflected.in_gamut))
    ax.set_xlabel(along)
    ax.set_ylabel(down)
    ax.set_title(_title(look))
    return style_axes(ax, grid="")


def plot_reflectance(look: Look, ax: Axes | None = None) -> Axes:
    """Reflectance over the thickness of a sweep: as the eye weighs it, and at three colours.

    Raises
    ------
    InputError
        If the spectra were not kept, or not exactly one thickness is swept.
    """
    if look.spectra is None:
        raise InputError("a reflectance chart needs the spectra of the look")
    ((label, nm),) = _swept_axes(look, 1)
    ax = ax or new_axes()
    ax.plot(nm, look.reflected.xyz[:, 1], color=INK, lw=2.0, label="luminous")
    for wavelength_nm, style in _LINES_NM:
        near = int(np.argmin(np.abs(look.spectra.wavelength_nm - wavelength_nm)))
        text = f"{wavelength_nm:g} nm"
        ax.plot(nm, 100.0 * look.spectra.R[:, near], style, color=QUIET, label=text)
    ax.set_xlabel(label)
    ax.set_ylabel("reflectance [%]")
    ax.set_xlim(nm[0], nm[-1])
    ax.set_ylim(0.0, 1.16 * ax.get_ylim()[1])
    ax.set_title(_title(look))
    style_axes(ax)
    ax.legend(loc="upper center", frameon=False, ncols=4, fontsize=8.5)
    return ax


def _swept_axes(look: Look, count: int) -> list[tuple[str, FloatArray]]:
    """Label and thicknesses [nm] of so many swept thicknesses of a look."""
    swept = sweep_thicknesses(look.films)
    if len(swept) != count:
        raise InputError(
            "a chart over thickness shows one swept thickness, or two as a field; fix the others"
        )
    if any(nm.size < 2 or not np.all(np.diff(nm) > 0.0) for _, nm in swept):
        raise InputError(
            "a chart over thickness needs two thicknesses or more, each above the one before"
        )
    return [(f"thickness of {layer.medium.label} [nm]", nm) for layer, nm in swept]


def _title(look: Look) -> str:
    return (
        f"{shorten(look.stack)}\n{look.conditions.light}, {look.conditions.observer}° observer, "
        f"{format_angle(look.angle_deg)}"
    )


def _patch(ax: Axes, hex_value: str, left: float) -> Rectangle:
    from matplotlib.patches import Rectangle

    return Rectangle(
        (left, 0.88), 0.065, 0.1, transform=ax.transAxes, facecolor=hex_value, edgecolor=INK
    )


def chart_strip(look: Look) -> Figure:
    """The colour strip of a sweep whose spectra were not kept."""
    figure, (ax,) = new_figure(8.0, 2.2, [1.0])
    plot_colours(look, ax)
    return figure
