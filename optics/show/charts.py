"""Charts of looks, estimates and materials: colour strips, spectra, posteriors."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError, shorten
from ..films.materials.catalogue import MaterialEntry, load_file
from ..gauge.result import Estimate, ramp_of
from ..look.look import Look, swept_nm
from ..report.style import INK, QUIET, SHADE, alone, dress, edges_of, ink_on, new_figure, series
from .text import percent, tilt

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Rectangle

_LINES_NM = ((450.0, ":"), (550.0, "--"), (650.0, "-."))
_NARROWEST_NAMED = 0.0145  # of the strip's length, about the height of a small letter
_SHOWN_NM = (300.0, 1000.0)


def chart_look(look: Look) -> Figure:
    """The spectrum of one stack, or the colour strip and reflectance of a sweep.

    Raises
    ------
    InputError
        If the spectra were not kept, or more than one thickness is swept.
    """
    if look.response is None:
        raise InputError("a chart needs the spectra of the look")
    if not look.stack.sweep_shape:
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
    if look.response is None:
        raise InputError("a spectrum needs the spectra of the look")
    ax = ax or alone()
    response = look.response
    curves = [("reflected", response.R, look.reflected, "-")]
    if look.transmitted is not None:
        curves.append(("seen through", response.T, look.transmitted, "--"))
    for i, (label, fraction, seen, style) in enumerate(curves):
        text = f"{label}: {seen.name}, {seen.srgb_hex}"
        ax.plot(response.wavelength_nm, 100.0 * fraction, style, color=INK, lw=1.8, label=text)
        ax.add_patch(_patch(ax, str(seen.srgb_hex), 0.015 + 0.075 * i))
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel("share of the light [%]")
    ax.set_xlim(response.wavelength_nm[0], response.wavelength_nm[-1])
    ax.set_ylim(0.0, 100.0)
    ax.set_title(_title(look))
    return dress(ax, legend=True)


def plot_colours(look: Look, ax: Axes | None = None) -> Axes:
    """Reflected colours of a sweep as a strip over its thickness.

    Raises
    ------
    InputError
        If not exactly one thickness is swept.
    """
    label, nm = _swept(look)
    ax = plot_ramp(nm, look.reflected.srgb_hex, look.reflected.name, ax)
    ax.set_xlabel(label)
    ax.set_title(_title(look), fontsize=10.5, color=INK)
    return ax


def plot_ramp(
    thickness_nm: ArrayLike, srgb_hex: ArrayLike, names: ArrayLike, ax: Axes | None = None
) -> Axes:
    """A strip of colours against thickness with their names on it.

    Parameters
    ----------
    thickness_nm, srgb_hex, names : array_like, shape (n,)
    ax : Axes, optional
    """
    from matplotlib.colors import to_rgb

    ax = ax or alone(8.0, 1.6)
    nm = np.asarray(thickness_nm, dtype=float)
    colours = np.array([to_rgb(str(one)) for one in np.asarray(srgb_hex)])
    edges = edges_of(nm)
    ax.pcolorfast(edges, [0.0, 1.0], colours[None])
    for start, end, name in _bands(np.asarray(names)):
        width = edges[end + 1] - edges[start]
        if width < _NARROWEST_NAMED * (edges[-1] - edges[0]):
            continue
        middle = 0.5 * (edges[start] + edges[end + 1])
        ax.text(
            middle, 0.5, name, rotation=90, ha="center", va="center", fontsize=7,
            color=ink_on(colours[start : end + 1].mean(axis=0)),
        )  # fmt: skip
    ax.set_yticks([])
    ax.set_xlim(edges[0], edges[-1])
    ax.tick_params(labelbottom=True)
    dress(ax, grid="")
    ax.spines["left"].set_visible(False)
    return ax


def plot_reflectance(look: Look, ax: Axes | None = None) -> Axes:
    """Reflectance over the thickness of a sweep: as the eye weighs it, and at three colours.

    Raises
    ------
    InputError
        If the spectra were not kept, or not exactly one thickness is swept.
    """
    if look.response is None:
        raise InputError("a reflectance chart needs the spectra of the look")
    label, nm = _swept(look)
    ax = ax or alone()
    ax.plot(nm, look.reflected.xyz[:, 1], color=INK, lw=2.0, label="luminous")
    for wavelength_nm, style in _LINES_NM:
        near = int(np.argmin(np.abs(look.response.wavelength_nm - wavelength_nm)))
        text = f"{wavelength_nm:g} nm"
        ax.plot(nm, 100.0 * look.response.R[:, near], style, color=QUIET, label=text)
    ax.set_xlabel(label)
    ax.set_ylabel("reflectance [%]")
    ax.set_xlim(nm[0], nm[-1])
    ax.set_ylim(0.0, 1.16 * ax.get_ylim()[1])
    ax.set_title(_title(look))
    dress(ax)
    ax.legend(loc="upper center", frameon=False, ncols=4, fontsize=8.5)
    return ax


def chart_estimate(estimate: Estimate) -> Figure:
    """The density over thickness above the colours the likeliest film runs through."""
    figure, (above, below) = new_figure(8.0, 5.2, [2.2, 1.0], share=True)
    plot_estimate(estimate, above)
    above.set_xlabel("")
    plot_film_colours(estimate, below)
    return figure


def plot_estimate(estimate: Estimate, ax: Axes | None = None) -> Axes:
    """Posterior density over thickness with its 90 % region and its candidates."""
    ax = ax or alone()
    nm, density = estimate.grid_nm, estimate.density
    ax.plot(nm, density, color=INK, lw=1.6)
    inside = np.zeros(nm.size, dtype=bool)
    for low, high in estimate.region90_nm:
        inside |= (nm >= low) & (nm <= high)
    ax.fill_between(nm, density, where=inside, color=SHADE, label="90 % of the probability")
    for one in estimate.candidates:
        low, high = one.interval90_nm
        height = float(density[(nm >= low - 1.0) & (nm <= high + 1.0)].max())
        label = f"{one.thickness_nm:.0f} nm\n{percent(one.probability)}"
        ax.annotate(
            label, (one.thickness_nm, height), (0, 4), textcoords="offset points", ha="center",
            va="bottom", fontsize=9,
        )  # fmt: skip
    ax.set_xlim(estimate.between_nm)
    ax.set_ylim(0.0, 1.28 * float(density.max()))
    ax.set_xlabel("thickness [nm]")
    ax.set_ylabel("probability per nm [1/nm]")
    seen = " and ".join(reading.text for reading in estimate.readings)
    verdict = "" if estimate.fits else " (nothing fits)"
    films = ", ".join(dict.fromkeys(name.split(",")[0] for name in estimate.films))
    ax.set_title(f"{films}: seen {seen}{verdict}")
    return dress(ax, legend=True)


def plot_film_colours(estimate: Estimate, ax: Axes | None = None) -> Axes:
    """Colours the likeliest film of an estimate runs through, square on, as a strip."""
    ax = plot_ramp(*ramp_of(estimate), ax)
    ax.set_xlabel(f"thickness [nm]; colours of {estimate.candidates[0].film}")
    return ax


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
    ax = ax or alone()
    looks = series(len(entries))
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
    dress(ax)
    if ax.lines:
        ax.legend(frameon=False, fontsize=7.5, ncols=2, handlelength=4.0)
    return ax


def _swept(look: Look) -> tuple[str, NDArray[np.float64]]:
    """Label of the axis, and thicknesses [nm], of a look with one swept thickness."""
    if len(look.stack.sweep_shape) != 1:
        raise InputError("a chart over thickness shows one swept thickness; fix the others")
    layer, nm = swept_nm(look.stack)[0]
    if nm.size < 2 or not np.all(np.diff(nm) > 0.0):
        raise InputError(
            "a chart over thickness needs two thicknesses or more, each above the one before"
        )
    return f"thickness of {layer.medium.label} [nm]", nm


def _title(look: Look) -> str:
    return (
        f"{shorten(look.text)}\n{look.viewing.light}, {look.viewing.observer}° observer, "
        f"{tilt(look.angle_deg)}"
    )


def _patch(ax: Axes, hex_value: str, left: float) -> Rectangle:
    from matplotlib.patches import Rectangle

    return Rectangle(
        (left, 0.88), 0.065, 0.1, transform=ax.transAxes, facecolor=hex_value, edgecolor=INK
    )


def _bands(names: NDArray[np.str_]) -> list[tuple[int, int, str]]:
    """First and last position of each run of one name."""
    starts = np.flatnonzero(np.concatenate([[True], names[1:] != names[:-1]]))
    ends = np.concatenate([starts[1:] - 1, [names.size - 1]])
    return [(int(a), int(b), str(names[a])) for a, b in zip(starts, ends, strict=True)]
