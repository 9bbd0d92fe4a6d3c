"""Stacks, colours, spectra and optical constants as documents, for a notebook and ``print``."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from ..colour.colour import Colour, to_colour
from ..errors import InputError
from ..files.spectrum import Spectrum
from ..films.materials.nk_table import Material
from ..films.solve import solve
from ..films.spectra import Spectra
from ..films.stack import Stack
from ..films.written import label_stack
from .document import Block, Document, Figure, Line, Swatch, Table, present
from .style import INK, QUIET, line_styles, new_axes, style_axes

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Drawn

_MOST_SWATCHES = 12
_MOST_CURVES = 6


@present.register
def _stack(stack: Stack) -> Document:
    rows: list[list[Line]] = []
    for face, layers in (("front", stack.layers), ("back", stack.back_layers)):
        for layer in layers:
            nm = np.atleast_1d(layer.thickness_nm)
            span = f"{nm[0]:g} nm" if nm.size == 1 else f"{nm[0]:g} to {nm[-1]:g} nm"
            rows.append([face, layer.medium.label, span])
    thick = "half-space" if stack.slab_nm is None else f"{stack.slab_nm / 1e6:g} mm"
    rows.insert(len(stack.layers), ["substrate", stack.substrate.label, thick])
    return Document(
        headline=label_stack(stack),
        blocks=[Table(["", "material", "thickness"], rows), *_colours_of_stack(stack)],
        question="What is this stack?",
    )


def _colours_of_stack(stack: Stack) -> list[Block]:
    """Its colours looked at straight on in daylight, where its data reach over the visible."""
    try:
        response = solve(stack)
    except InputError:
        return ["Its data do not reach over the visible, so it has no colour here."]
    blocks: list[Block] = [
        "Reflected, looked at straight on in daylight:",
        _swatches(to_colour(response)),
    ]
    if stack.slab_nm is not None:
        blocks += ["Seen through:", _swatches(to_colour(response, of="transmitted"))]
    return blocks


@present.register
def _colour(seen: Colour) -> Document:
    names = np.atleast_1d(np.asarray(seen.name)).ravel()
    shown = f"{names[0]}" if names.size == 1 else f"{names.size} colours, {names[0]}, ..."
    return Document(
        headline=f"{seen.of} under {seen.light}, {seen.observer}° observer: {shown}",
        blocks=[*_chosen_of(names.size), _swatches(seen)],
        question="Which colour is this?",
    )


def _chosen_of(count: int) -> list[Block]:
    return [f"{_MOST_SWATCHES} of {count} colours:"] if count > _MOST_SWATCHES else []


def _swatches(seen: Colour) -> Table:
    hexes = np.atleast_1d(np.asarray(seen.srgb_hex)).ravel()
    names = np.atleast_1d(np.asarray(seen.name)).ravel()
    xyz, lab = (part.reshape(hexes.size, 3) for part in (seen.xyz, seen.lab))
    picked = np.unique(np.linspace(0, hexes.size - 1, min(hexes.size, _MOST_SWATCHES)).astype(int))
    rows: list[list[Line]] = [
        [
            str(i),
            Swatch(str(hexes[i]), str(names[i])),
            f"{xyz[i, 1]:.1f}",
            ", ".join(f"{value:.1f}" for value in lab[i]),
        ]
        for i in picked.tolist()
    ]
    return Table(["", "colour", "Y %", "L*, a*, b*"], rows)


@present.register
def _spectra(response: Spectra) -> Document:
    return Document(
        headline=f"R, T of shape {response.R.shape}, {response.wavelength_nm.size} wavelengths",
        question="How much light comes back and goes through?",
        figures=[Figure(lambda: _chart_spectra(response), "Reflectance over wavelength")],
    )


def _chart_spectra(response: Spectra) -> Drawn:
    shape = response.R.shape[:-1]
    R, T = (part.reshape(math.prod(shape), part.shape[-1]) for part in (response.R, response.T))
    picked = np.unique(np.linspace(0, len(R) - 1, min(len(R), _MOST_CURVES)).astype(int)).tolist()
    ax = new_axes()
    for i, style in zip(picked, line_styles(len(picked)), strict=True):
        place = np.unravel_index(i, shape) if shape else ()
        name = f"{[int(part) for part in place]}" if shape else "R"
        ax.plot(response.wavelength_nm, 100.0 * R[i], **style, label=name)
        if not shape:
            ax.plot(
                response.wavelength_nm,
                100.0 * T[i],
                "--",
                color=QUIET,
                label="T, past the last layer",
            )
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel("reflectance [%]" if shape else "share of the light [%]")
    ax.set_ylim(bottom=0.0)
    return style_axes(ax, legend=True).get_figure()  # type: ignore[return-value]  # made here


@present.register
def _material(material: Material) -> Document:
    low, high = material.range_nm
    source = material.header.get("source", "")
    return Document(
        headline=f"{material.label}: {material.phase or material.kind}, {low:g} to {high:g} nm",
        blocks=[source] if source else [],
        question="Which optical constants are these?",
        figures=[Figure(lambda: _chart_material(material), f"n and k of {material.label}")],
    )


def _chart_material(material: Material) -> Drawn:
    low, high = material.range_nm
    near = max(low, 300.0), min(high, 1000.0)
    nm = np.linspace(*(near if near[0] < near[1] else (low, high)), 351)
    index = material.nk(nm)
    ax = new_axes()
    ax.plot(nm, index.real, color=INK, lw=1.8, label="n")
    ax.plot(nm, index.imag, "--", color=QUIET, lw=1.8, label="k")
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel("index n, extinction k [-]")
    return style_axes(ax, legend=True).get_figure()  # type: ignore[return-value]  # made here


@present.register
def _measured(spectrum: Spectrum) -> Document:
    return Document(
        headline=f"measured {spectrum.kind}, {spectrum.wavelength_nm.size} readings",
        blocks=list(spectrum.notes),
        question="What was measured?",
        figures=[Figure(lambda: _chart_measured(spectrum), "The measured spectrum")],
    )


def _chart_measured(spectrum: Spectrum) -> Drawn:
    ax = new_axes()
    ax.plot(spectrum.wavelength_nm, 100.0 * spectrum.value, ".-", color=INK, lw=0.8)
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel(f"{spectrum.kind} [%]")
    return style_axes(ax).get_figure()  # type: ignore[return-value]  # made here
