"""Charts: colour strips, spectra and posteriors, drawn without any window or global state."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError, shorten
from ..films.materials import MaterialEntry, load_file
from ..inference.estimate import Estimate, ramp_of
from ..jobs.look import Look, swept_nm
from .files import write_whole
from .text import tilt

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Rectangle

SUFFIXES = (".png", ".svg", ".pdf")

_INK, _QUIET = "#222222", "#777777"
_LINES_NM = ((450.0, ":"), (550.0, "--"), (650.0, "-."))
_NARROWEST_NAMED = 0.0145  # of the strip's length, about the height of a small letter


def check_chart_name(path: Path) -> None:
    """Refuse a chart file whose kind we cannot write, before any work is done.

    Raises
    ------
    InputError
        If the name does not end in .png, .svg or .pdf, or its folder does not exist.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise InputError(f"a chart is written as {', '.join(SUFFIXES)}, not as {path.name!r}")
    if not path.parent.is_dir():
        raise InputError(f"cannot write {str(path)!r}: its folder does not exist")


def save_chart(figure: Figure, path: Path) -> None:
    """Write a figure as PNG, SVG or PDF by the name's ending, whole or not at all.

    Raises
    ------
    InputError
        If the name's ending is none of these, or the file cannot be written.
    """
    from matplotlib import rc_context

    check_chart_name(path)
    kind = path.suffix.lower()[1:]
    # The same answer gives the same file: no dates, no random names inside.
    metadata = {"png": {}, "svg": {"Date": None}, "pdf": {"CreationDate": None}}[kind]
    with rc_context({"svg.hashsalt": "oxhue", "svg.fonttype": "path"}):
        write_whole(
            path,
            lambda stream: figure.savefig(stream, format=kind, dpi=150, metadata=metadata),
        )


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
    if len(look.stack.sweep_shape) > 1:
        raise InputError("a chart shows one swept thickness; fix the others")
    ((layer, thickness_nm),) = swept_nm(look.stack)
    figure, (above, below) = new_figure(8.0, 5.2, [1.0, 2.4], share=True)
    names, hexes = np.asarray(look.reflected.name), np.asarray(look.reflected.srgb_hex)
    plot_ramp(thickness_nm, hexes, names, above)
    above.set_title(_title(look))
    plot_reflectance(look, below)
    below.set_xlabel(f"thickness of {layer.medium.label} [nm]")
    return figure


def plot_spectrum(look: Look, ax: Axes | None = None) -> Axes:
    """Reflectance and, where there is any, transmittance of one stack over wavelength."""
    ax = ax or _alone()
    response = look.response
    if response is None:
        raise InputError("a spectrum needs the spectra of the look")
    curves = [("reflected", response.R, look.reflected, "-")]
    if look.transmitted is not None:
        curves.append(("seen through", response.T, look.transmitted, "--"))
    for label, fraction, seen, style in curves:
        text = f"{label}: {seen.name}, {seen.srgb_hex}"
        ax.plot(response.wavelength_nm, 100.0 * fraction, style, color=_INK, label=text)
    patches = [str(seen.srgb_hex) for _, _, seen, _ in curves]
    for i, hex_value in enumerate(patches):
        ax.add_patch(_patch(ax, hex_value, 0.015 + 0.075 * i))
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel("share of the light [%]")
    ax.set_xlim(response.wavelength_nm[0], response.wavelength_nm[-1])
    ax.set_ylim(0.0, 100.0)
    ax.set_title(_title(look))
    ax.legend(loc="best", frameon=False)
    return ax


def plot_ramp(
    thickness_nm: ArrayLike, srgb_hex: ArrayLike, names: ArrayLike, ax: Axes | None = None
) -> Axes:
    """A strip of colours against thickness with their names on it.

    Parameters
    ----------
    thickness_nm, srgb_hex, names : array_like, shape (n,)
    """
    from matplotlib.colors import to_rgb

    ax = ax or _alone()
    nm = np.asarray(thickness_nm, dtype=float)
    colours = np.array([to_rgb(str(one)) for one in np.asarray(srgb_hex)])
    edges = _edges(nm)
    ax.pcolorfast(edges, [0.0, 1.0], colours[None])
    for start, end, name in _bands(np.asarray(names)):
        width = edges[end + 1] - edges[start]
        if width < _NARROWEST_NAMED * (edges[-1] - edges[0]):
            continue
        dark = colours[start : end + 1].mean(axis=0) @ [0.2126, 0.7152, 0.0722] < 0.45
        middle = 0.5 * (edges[start] + edges[end + 1])
        ax.text(
            middle, 0.5, name, rotation=90, ha="center", va="center", fontsize=7,
            color="white" if dark else "black",
        )  # fmt: skip
    ax.set_yticks([])
    ax.set_xlim(edges[0], edges[-1])
    ax.tick_params(labelbottom=True)
    return ax


def plot_reflectance(look: Look, ax: Axes | None = None) -> Axes:
    """Reflectance over the thickness of a sweep: as the eye weighs it, and at three colours."""
    ax = ax or _alone()
    if look.response is None:
        raise InputError("a reflectance chart needs the spectra of the look")
    ((_, nm),) = swept_nm(look.stack)
    ax.plot(nm, look.reflected.xyz[:, 1], color=_INK, lw=2.0, label="luminous")
    for wavelength_nm, style in _LINES_NM:
        near = int(np.argmin(np.abs(look.response.wavelength_nm - wavelength_nm)))
        label = f"{wavelength_nm:g} nm"
        ax.plot(nm, 100.0 * look.response.R[:, near], style, color=_QUIET, label=label)
    ax.set_ylabel("reflectance [%]")
    ax.set_ylim(0.0, 1.16 * ax.get_ylim()[1])
    ax.legend(loc="upper center", frameon=False, ncols=4, fontsize=8)
    return ax


def chart_estimate(estimate: Estimate) -> Figure:
    """The density over thickness above the colours the likeliest film runs through."""
    figure, (above, below) = new_figure(8.0, 5.2, [2.2, 1.0], share=True)
    plot_estimate(estimate, above)
    nm, hexes, names = ramp_of(estimate)
    plot_ramp(nm, hexes, names, below)
    below.set_xlabel(f"thickness [nm]; colours of {estimate.candidates[0].film}")
    return figure


def plot_estimate(estimate: Estimate, ax: Axes | None = None) -> Axes:
    """Posterior density over thickness with its 90 % region and its candidates."""
    ax = ax or _alone()
    nm, density = estimate.grid_nm, estimate.density
    ax.plot(nm, density, color=_INK)
    inside = np.zeros(nm.size, dtype=bool)
    for low, high in estimate.region90_nm:
        inside |= (nm >= low) & (nm <= high)
    ax.fill_between(nm, density, where=inside, color="#c9c9c9", label="90 % of the probability")
    top = float(density.max())
    for one in estimate.candidates:
        low, high = one.interval90_nm
        height = float(density[(nm >= low - 1.0) & (nm <= high + 1.0)].max())
        label = f"{one.thickness_nm:.0f} nm\n{100.0 * one.probability:.0f} %"
        ax.annotate(
            label, (one.thickness_nm, height), (0, 4), textcoords="offset points", ha="center",
            va="bottom", fontsize=9,
        )  # fmt: skip
    ax.set_ylim(0.0, 1.28 * top)
    ax.set_ylabel("probability per nm")
    seen = " and ".join(reading.text for reading in estimate.readings)
    verdict = "" if estimate.fits else " (nothing fits)"
    ax.set_title(f"{', '.join(dict.fromkeys(n.split(',')[0] for n in estimate.films))}: "
                 f"seen {seen}{verdict}")  # fmt: skip
    ax.legend(frameon=False, fontsize=8)
    return ax


def chart_material(entries: tuple[MaterialEntry, ...]) -> Figure:
    """Index and extinction of every data set of one material, the default drawn bold."""
    figure, (above, below) = new_figure(8.0, 6.0, [1.0, 1.0], share=True)
    styles = ("-", "--", ":", "-.")
    for i, entry in enumerate(entries):
        material = load_file(entry.file)
        low, high = max(material.range_nm[0], 300.0), min(material.range_nm[1], 1000.0)
        if low >= high:
            continue
        nm = np.linspace(low, high, 351)
        index = material.nk(nm)
        bold = entry.default or (i == 0)
        style, ink, width = styles[i % 4], _INK if bold else f"C{i}", 2.2 if bold else 1.2
        above.plot(nm, index.real, style, color=ink, lw=width, label=entry.label)
        below.plot(nm, index.imag, style, color=ink, lw=width)
    above.set_ylabel("refractive index n")
    below.set_ylabel("extinction coefficient k")
    below.set_xlabel("wavelength [nm]")
    above.set_title(f"{entries[0].name}: published data sets")
    above.legend(frameon=False, fontsize=7, ncols=2)
    return figure


def new_figure(
    width_in: float, height_in: float, heights: list[float], share: bool = False
) -> tuple[Figure, list[Axes]]:
    """A figure of panels stacked with the given relative heights."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_in, height_in), layout="constrained")
    axes = figure.subplots(len(heights), 1, sharex=share, squeeze=False, height_ratios=heights)[
        :, 0
    ]
    return figure, list(axes)


def _alone() -> Axes:
    return new_figure(7.0, 4.2, [1.0])[1][0]


def _title(look: Look) -> str:
    return (
        f"{shorten(look.text)}\n{look.viewing.light}, {look.viewing.observer}° observer, "
        f"{tilt(look.angle_deg)}"
    )


def _patch(ax: Axes, hex_value: str, left: float) -> Rectangle:
    from matplotlib.patches import Rectangle

    return Rectangle(
        (left, 0.88), 0.065, 0.1, transform=ax.transAxes, facecolor=hex_value, edgecolor=_INK
    )


def _edges(points: NDArray[np.float64]) -> NDArray[np.float64]:
    if points.size == 1:
        return np.array([points[0] - 0.5, points[0] + 0.5])
    middles = 0.5 * (points[1:] + points[:-1])
    return np.concatenate([points[:1], middles, points[-1:]])


def _bands(names: NDArray[np.str_]) -> list[tuple[int, int, str]]:
    """First and last position of each run of one name."""
    starts = np.flatnonzero(np.concatenate([[True], names[1:] != names[:-1]]))
    ends = np.concatenate([starts[1:] - 1, [names.size - 1]])
    return [(int(a), int(b), str(names[a])) for a, b in zip(starts, ends, strict=True)]
