"""``oxhue spectrum``: thickness and index from a spectrometer's file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .options import (
    Angle,
    AsJson,
    Between,
    Chart,
    File,
    Light,
    Observer,
    On,
    Report,
    Seed,
    Text,
    answer,
    option,
    parse_viewing,
    show_progress,
)

PANEL = "How thick is it, and what is it?", 3


def spectrum(
    spectrum: Annotated[
        Path, typer.Argument(metavar="FILE", help="A spectrometer's file, CSV or columns.")
    ],
    film: Annotated[str, option("--film", "MATERIAL", "What the film is.")],
    on: On,
    measured: Annotated[
        Text, option("--measured", "KIND", "What was measured: reflectance or transmittance.")
    ] = None,
    reference: Annotated[
        File, option("--reference", "FILE", "Counts of the reference to divide by.")
    ] = None,
    between: Between = "0..2000nm",
    model: Annotated[
        str,
        option("--model", "KIND", "Index model: auto, table, cauchy, tauc-lorentz, drude-lorentz."),
    ] = "auto",
    smooth: Annotated[
        bool, option("--smooth", None, "A polished piece, neither rough nor hazy.")
    ] = False,
    bandwidth: Annotated[
        Text, option("--bandwidth", "NM", "The instrument's bandwidth, such as 10nm.")
    ] = None,
    checked: Annotated[
        list[str] | None,
        option(
            "--checked",
            "DOUBT",
            "What you have ruled out: absorption, thickness spread, mixed layer, finish, scale, "
            "stray light. May be repeated.",
        ),
    ] = None,
    angle: Angle = "0",
    light: Light = "D65",
    observer: Observer = 2,
    seed: Seed = 1,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Thickness and index of a film from its measured spectrum.

    Example: oxhue spectrum docs/examples/plate.csv --film TiO2 --on Ti
    """
    from ..optics.files.spectrum import read_spectrum
    from ..optics.spectrum.fit import fit_spectrum
    from ..optics.units import parse_quantity, parse_range

    # The file's reader and the fit name what they take and refuse the rest.
    readings = read_spectrum(spectrum, measured, reference=reference)  # type: ignore[arg-type]
    with show_progress("fitting the spectrum from every start"):
        fit = fit_spectrum(
            film,
            on,
            readings,
            model=model,  # type: ignore[arg-type]
            between_nm=parse_range(between, "length_nm", "--between"),
            roughness=not smooth,
            bandwidth_nm=(
                None if bandwidth is None else parse_quantity(bandwidth, "length_nm", "--bandwidth")
            ),
            checked=checked or (),
            angle_deg=parse_quantity(angle, "angle_deg", "--angle"),
            conditions=parse_viewing(light, observer),
            seed=seed,
        )
    answer(fit, as_json, chart, report, trusted=fit.fits)
