"""``oxhue spectrum``: thickness and index from a spectrometer's file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .options import (
    EXIT_NO_TRUST,
    Angle,
    AsJson,
    Chart,
    Light,
    Observer,
    On,
    Report,
    Seed,
    answer,
    parse_viewing,
    show_progress,
)


def spectrum(
    spectrum: Annotated[
        Path, typer.Argument(metavar="FILE", help="A spectrometer's file, CSV or columns.")
    ],
    film: Annotated[str, typer.Option("--film", metavar="MATERIAL", help="What the film is.")],
    on: On,
    reference: Annotated[
        Path | None,
        typer.Option("--reference", metavar="FILE", help="Counts of the reference to divide by."),
    ] = None,
    measured: Annotated[
        str | None,
        typer.Option(
            "--measured", metavar="KIND", help="What the spectrum is: reflectance or transmittance."
        ),
    ] = None,
    model: Annotated[
        str,
        typer.Option(
            "--model",
            metavar="KIND",
            help="Index model: auto, table, cauchy, tauc-lorentz, drude-lorentz.",
        ),
    ] = "auto",
    smooth: Annotated[
        bool, typer.Option("--smooth", help="A polished piece, neither rough nor hazy.")
    ] = False,
    between: Annotated[
        str, typer.Option("--between", metavar="RANGE", help="Thickness known to lie in.")
    ] = "0..2000nm",
    angle: Angle = "0",
    seed: Seed = 1,
    light: Light = "D65",
    observer: Observer = 2,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Thickness and index of a film from its measured spectrum.

    Needs: a file of readings. Then: oxhue spectrum plate.csv --film TiO2 --on Ti
    """
    from ..optics.files.spectrum import read_spectrum
    from ..optics.report.style import check_chart_name
    from ..optics.spectrum.fit import fit_spectrum
    from ..optics.units import parse_quantity, parse_range

    if chart is not None:
        check_chart_name(chart)
    # The file's reader and the fit name what they take and refuse the rest.
    readings = read_spectrum(spectrum, measured, reference)  # type: ignore[arg-type]
    with show_progress("fitting the spectrum from every start"):
        fit = fit_spectrum(
            film,
            on,
            readings,
            model=model,  # type: ignore[arg-type]
            between_nm=parse_range(between, "length_nm", "--between"),
            roughness=not smooth,
            angle_deg=parse_quantity(angle, "angle_deg", "--angle"),
            conditions=parse_viewing(light, observer),
            seed=seed,
        )
    answer(fit, as_json, chart, report)
    if not fit.fits:
        raise typer.Exit(EXIT_NO_TRUST)
