"""A spectrum as a log keeps it, and what it says: of an oxide its thickness, of a slide its colour.

It is kept as text like all that is recorded, ``reflectance 380:0.0832 390:0.0841``: wavelengths in
nm, fractions of the light. A file with more readings than a log holds is averaged in groups.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, get_args

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, shorten
from ..files.spectrum import Kind, Spectrum
from .derived import Kept

if TYPE_CHECKING:
    from ..oxidation.metals import Metal

MOST_READINGS = 120  # of some fourteen letters each, so that a spectrum is as short as any text
_COLOUR_NM = np.arange(380.0, 781.0, 5.0)
_SPANS_NM = (400.0, 700.0)
"""What a spectrum must reach; beyond it the eye sees little, and its ends stand for the rest."""
_LEAST_SD_NM = 0.5


def format_spectrum(spectrum: Spectrum) -> str:
    """A spectrum as text, averaged in groups of neighbours where it has too many readings."""
    group = max(-(-spectrum.wavelength_nm.size // MOST_READINGS), 1)
    whole = spectrum.wavelength_nm.size // group * group
    nm, value = (
        one[:whole].reshape(-1, group).mean(axis=1)
        for one in (spectrum.wavelength_nm, spectrum.value)
    )
    pairs = zip(nm.tolist(), value.tolist(), strict=True)
    return " ".join([spectrum.kind, *(f"{round(at, 1):g}:{round(of, 4):g}" for at, of in pairs)])


def as_words(noted: str | Spectrum) -> str:
    """What was noted in words: a spectrum as a log keeps it."""
    return format_spectrum(noted) if isinstance(noted, Spectrum) else noted


def parse_spectrum(text: str) -> Spectrum:
    """A spectrum from its text.

    Raises
    ------
    InputError
        If it is no such text, or does not reach from 400 to 700 nm.
    """
    said, *pairs = text.split()
    try:
        kind = next((one for one in get_args(Kind) if one == said), None)
        if kind is None:
            raise ValueError(said)
        nm, value = np.array([one.split(":") for one in pairs], dtype=float).T
    except ValueError as error:
        raise InputError(
            f"`spectrum` {shorten(text)!r} is not readings such as 'reflectance 380:0.08 385:0.09'",
            parameter="spectrum",
        ) from error
    found = Spectrum(nm, value, kind)
    low, high = _SPANS_NM
    if not (nm[0] <= low and nm[-1] >= high):
        raise InputError(
            f"`spectrum` reaches from {nm[0]:g} to {nm[-1]:g} nm; a log takes one that reaches "
            f"from {low:g} to {high:g} nm at least",
            parameter="spectrum",
        )
    return found


def describe_spectrum(text: str) -> str:
    """A spectrum as a log keeps it, in a few words."""
    found = parse_spectrum(text)
    nm = found.wavelength_nm
    return f"{found.kind}, {nm.size} readings from {nm[0]:g} to {nm[-1]:g} nm"


def colour_words(text: str) -> tuple[str, str]:
    """What a spectrum looks like, as ``seen`` or ``through`` and a colour read by an instrument.

    Parameters
    ----------
    text : str
        As a log keeps it.
    """
    from ..colour.colour import spectra_to_xyz, xyz_to_colour

    spectrum = parse_spectrum(text)
    value = np.interp(_COLOUR_NM, spectrum.wavelength_nm, spectrum.value).clip(0.0, 1.0)
    lab = xyz_to_colour(spectra_to_xyz(value, _COLOUR_NM)).lab
    words = ",".join(f"{number:.2f}" for number in lab)
    return "seen" if spectrum.kind == "reflectance" else "through", f"{words} how=instrument"


def oxide_likelihood(
    metal: Metal, text: str, *, kept: Kept | None = None
) -> tuple[FloatArray, FloatArray]:
    """Thickness of an oxide [nm] and the likelihood of a spectrum at each, shape (D,) both.

    All else that a fit of the spectrum leaves open, the index of the film among it, is summed over.

    Raises
    ------
    InputError
        If the optical data of the film do not reach over the spectrum.
    """
    from ..inference.colour_table import STEP_NM

    grid = np.arange(0.0, metal.most_nm + STEP_NM / 2.0, STEP_NM)
    question = json.dumps(["spectrum", metal.key, text])
    held = None if kept is None else kept.get(question)
    if held is None:
        held = [_fit(metal, parse_spectrum(text), grid).tolist()]
        if kept is not None:
            kept[question] = held
    return grid, np.array(held[0])


def _fit(metal: Metal, spectrum: Spectrum, grid: FloatArray) -> FloatArray:
    """Draws of a fit under an even prior of the thickness, as a density over a grid."""
    from ..inference.hypotheses import list_film_models
    from ..spectrum.fit import fit_models
    from ..spectrum.forward_models import list_forward_models, prepare_readings
    from ..spectrum.summaries import film_thickness

    pairs = list_film_models(metal.films, metal.on)
    wavelength, value, _ = prepare_readings(spectrum, pairs)
    worlds, _ = list_forward_models(
        pairs, wavelength, kind=spectrum.kind, model="auto", between_nm=(0.0, float(metal.most_nm)),
        roughness=True, angle_deg=0.0,
    )  # fmt: skip
    nm, weight = film_thickness(fit_models(worlds, wavelength, value).draws)
    return _density(nm, weight, grid)


def _density(nm: FloatArray, weight: FloatArray, grid: FloatArray) -> FloatArray:
    """Weighted draws of a thickness as a density over a grid, 1 at its highest."""
    from ..spectrum.summaries import quantiles_of

    low, _, high = quantiles_of(nm, weight)
    effective = 1.0 / np.sum(weight**2)
    # a normal kernel, by Silverman's rule on the spread of a normal law with these quantiles
    sd = max(0.9 * (high - low) / 3.29 * effective**-0.2, _LEAST_SD_NM)
    density = np.exp(-0.5 * ((grid[:, None] - nm) / sd) ** 2) @ weight
    return np.asarray(density / density.max())
