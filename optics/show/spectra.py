"""What a measured spectrum says of a film: as JSON, as text, as a chart with its residual."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..colour.conditions import ViewingConditions
from ..gauge.gauge import hex_and_name
from ..inference.hypotheses import list_film_models
from ..inference.order import interference_order
from ..inference.simulate import SampledFilms, film_xyz
from ..report.style import INK, QUIET, new_axes, new_figure, style_axes
from ..spectrum.fit import SpectrumFit
from ..spectrum.summaries import Minimum
from .text import format_interval, format_ordinal, format_percent, format_swatch, new_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from rich.console import Console


@dataclass(frozen=True)
class ShownCandidate:
    """A candidate with its order, and the colour such a film has square on."""

    minimum: Minimum
    order: int
    srgb_hex: str
    name: str


def colour_candidates(
    fit: SpectrumFit, film: str, on: str, viewing: ViewingConditions
) -> list[ShownCandidate]:
    """The candidates of a fit as colours, by the first data set of the film."""
    pairs = list_film_models((film,), on)
    nm = np.array([one.thickness_nm for one in fit.candidates])
    films = SampledFilms(np.zeros(nm.size, dtype=np.intp), nm, np.zeros(nm.size))
    hexes, names = hex_and_name(film_xyz(films, pairs, np.asarray(0.0), viewing), viewing)
    return [
        ShownCandidate(
            one, interference_order(pairs[0], one.thickness_nm), str(hex_value), str(name)
        )
        for one, hex_value, name in zip(fit.candidates, hexes, names, strict=True)
    ]


def spectrum_plain(fit: SpectrumFit, shown: list[ShownCandidate]) -> dict[str, Any]:
    """The keys of a gauged colour where they apply, and what only a spectrum tells."""
    # long: the keys of the JSON, one a line
    return {
        "thickness_nm": fit.thickness_nm,
        "interval90_nm": list(fit.interval90_nm),
        "region90_nm": [list(one.interval90_nm) for one in _leading_candidates(fit)],
        "candidates": [
            {
                "thickness_nm": one.minimum.thickness_nm,
                "interval90_nm": list(one.minimum.interval90_nm),
                "probability": one.minimum.probability,
                "order": one.order,
                "srgb_hex": one.srgb_hex,
                "name": one.name,
                "rms": one.minimum.rms,
                "model": one.minimum.model,
            }
            for one in shown
        ],
        "fits": fit.fits,
        "fit_p": None,
        "next_check": next_check(fit),
        "index_at_nm": fit.index_at_nm,
        "n": fit.n,
        "n_interval90": list(fit.n_interval90),
        "k": fit.k,
        "k_interval90": list(fit.k_interval90),
        "model": fit.model,
        "models": fit.models,
        "parameters": [
            {
                "name": one.name,
                "unit": one.unit,
                "value": one.value,
                "interval90": list(one.interval90),
            }
            for one in fit.parameters
        ],
        "no_film_needed": fit.no_film_needed,
        "explained_by": fit.explained_by,
        "alternatives": fit.alternatives,
        "rms_residual": fit.rms_residual,
        "noise": fit.noise,
        "misfit": fit.misfit,
        "descents": fit.descents,
        "effective_draws": fit.effective_draws,
        "data_sets": list(fit.data_sets),
        "notes": list(fit.notes),
        "seed": fit.seed,
    }


def _leading_candidates(fit: SpectrumFit) -> list[Minimum]:
    """The likeliest candidates that together hold 90 %."""
    held, kept = 0.0, []
    for one in fit.candidates:
        kept.append(one)
        held += one.probability
        if held >= 0.9:
            break
    return kept


def next_check(fit: SpectrumFit) -> str:
    """What to do next, in words."""
    if not fit.fits:
        return "make sure of film and base, and of the instrument's reference, then measure again"
    if fit.no_film_needed:
        return "measure a bare piece beside it: the two spectra must differ for a film to be there"
    if fit.candidates[0].probability < 0.9:
        return "measure a wider band, or the same spot tilted to 45°, to tell the candidates apart"
    return "none is needed for the thickness; a second spot tells how even the film is"


def show_spectrum(fit: SpectrumFit, shown: list[ShownCandidate], out: Console) -> None:
    """Print a spectrum's thickness and index with all candidates."""
    out.print(_verdict(fit))
    out.print()
    heads = "thickness", "90 % within", "probability", "order", "rms", "index", "colour square on"
    table = new_table(*heads)
    for one in shown:
        table.add_row(
            f"{one.minimum.thickness_nm:.1f} nm",
            format_interval(one.minimum.interval90_nm),
            format_percent(one.minimum.probability),
            format_ordinal(one.order),
            f"{one.minimum.rms:.4f}",
            one.minimum.model,
            format_swatch(one.srgb_hex, one.name, out),
        )
    out.print(table)
    low, high = fit.n_interval90
    out.print(
        f"Index at {fit.index_at_nm:.0f} nm: n = {fit.n:.3f} ({low:.3f} to {high:.3f}), "
        f"k = {fit.k:.4f} (to {fit.k_interval90[1]:.4f})."
    )
    out.print(
        f"{fit.descents} starts tried; residual {fit.rms_residual:.4f} rms, noise {fit.noise:.4f}."
    )
    for note in fit.notes:
        out.print(f"Note: {note}.")
    out.print(f"Next: {next_check(fit)}.")
    out.print(f"Optical data: {', '.join(fit.data_sets)}.")


def _verdict(fit: SpectrumFit) -> str:
    if not fit.fits:
        return (
            "Nothing fits: no film in question has such a spectrum; the nearest, not to be trusted:"
        )
    if fit.no_film_needed:
        return f"No film is needed: the {fit.explained_by} explains the spectrum as well."
    low, high = fit.interval90_nm
    return f"{fit.thickness_nm:.1f} nm, 90 % within {low:.1f} to {high:.1f} nm."


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
    ax.set_title(_verdict(fit), wrap=True)
    return style_axes(ax, legend=True)


def plot_residual(fit: SpectrumFit, ax: Axes | None = None) -> Axes:
    """What the best model leaves of a measured spectrum."""
    ax = ax or new_axes(7.0, 2.0)
    ax.axhline(0.0, color=QUIET, lw=0.8)
    ax.plot(fit.wavelength_nm, 100.0 * fit.residual, ".-", color=INK, lw=0.8)
    ax.set_ylabel("residual [%]")
    ax.set_xlabel("wavelength [nm]")
    return style_axes(ax)
