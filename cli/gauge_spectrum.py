"""``oxhue gauge --spectrum``: how thick is it, from a spectrometer's file?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from .options import EXIT_NO_TRUST, answer_parts, show_progress

if TYPE_CHECKING:
    from ..optics.colour.conditions import ViewingConditions
    from .reporting import ReportTo


@dataclass(frozen=True)
class SpectrumQuestion:
    """The options that say what the file is and what to fit."""

    path: Path
    reference: Path | None
    measured: str | None
    model: str
    smooth: bool
    between: str | None
    angle: str | None
    seed: int


def gauge_spectrum(
    film: str,
    on: str,
    asked: SpectrumQuestion,
    viewing: ViewingConditions,
    chart: Path | None,
    as_json: bool,
    report: ReportTo | None = None,
) -> None:
    """Fit the file and show what it says; exit 3 where nothing fits."""
    from ..optics.files.spectrum import read_spectrum
    from ..optics.show.spectra import (
        chart_spectrum,
        colour_candidates,
        show_spectrum,
        spectrum_plain,
    )
    from ..optics.spectrum.fit import DEFAULT_BETWEEN_NM, fit_spectrum
    from ..optics.units import parse_quantity, parse_range
    from .reporting import provenance_of

    range_nm = DEFAULT_BETWEEN_NM
    if asked.between is not None:
        range_nm = parse_range(asked.between, "length_nm", "--between")
    angle_deg = parse_quantity(asked.angle or "0", "angle_deg", "--angle")
    # The file's reader and the fit name what they take and refuse the rest.
    spectrum = read_spectrum(asked.path, asked.measured, asked.reference)  # type: ignore[arg-type]
    with show_progress("fitting the spectrum from every start"):
        fit = fit_spectrum(
            film,
            on,
            spectrum,
            asked.model,  # type: ignore[arg-type]
            range_nm,
            roughness=not asked.smooth,
            angle_deg=angle_deg,
            seed=asked.seed,
        )
    shown = colour_candidates(fit, film, on, viewing)
    answer_parts(
        lambda: spectrum_plain(fit, shown),
        lambda out: show_spectrum(fit, shown, out),
        as_json,
        chart,
        lambda: chart_spectrum(fit),
        report,
        lambda: provenance_of(fit),
    )
    if not fit.fits:
        raise typer.Exit(EXIT_NO_TRUST)
