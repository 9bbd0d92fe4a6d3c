"""Optics of thin films on metal and glass: colour from thickness, and thickness from colour.

The names below are the front door; each is loaded when first asked for, so that importing the
package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from .display import draw_with

if TYPE_CHECKING:
    from .colour.appearance import Appearance as Appearance
    from .colour.appearance import appear as appear
    from .films.materials import list_materials as list_materials
    from .films.materials import load_material as load_material
    from .films.nktable import Material as Material
    from .films.notation import parse_stack as parse_stack
    from .films.respond import respond as respond
    from .films.response import Response as Response
    from .films.spectrumfile import Spectrum as Spectrum
    from .films.spectrumfile import read_spectrum as read_spectrum
    from .films.stack import Layer as Layer
    from .films.stack import Stack as Stack
    from .films.transfer import respond_arrays as respond_arrays
    from .films.written import format_stack as format_stack
    from .growth.heating import Heat as Heat
    from .growth.heating import hold as hold
    from .inference.estimate import Estimate as Estimate
    from .inference.reading import Reading as Reading
    from .inference.reading import parse_reading as parse_reading
    from .jobs.assay import assay as assay
    from .jobs.coupons import Learned as Learned
    from .jobs.coupons import coupons as coupons
    from .jobs.expectation import Expectation as Expectation
    from .jobs.expectation import expect as expect
    from .jobs.fieldmap import FieldMap as FieldMap
    from .jobs.fieldmap import map_photo as map_photo
    from .jobs.gauge import gauge as gauge
    from .jobs.heats.heatstrip import HeatStrip as HeatStrip
    from .jobs.heats.heatstrip import heat_strip as heat_strip
    from .jobs.look import Look as Look
    from .jobs.look import look as look
    from .jobs.mirror import Designs as Designs
    from .jobs.mirror import design_mirror as design_mirror
    from .jobs.recipes import Recipes as Recipes
    from .jobs.recipes import recipes as recipes
    from .jobs.runsheet import RunSheet as RunSheet
    from .jobs.runsheet import run_sheet as run_sheet
    from .jobs.spectrum import SpectrumFit as SpectrumFit
    from .jobs.spectrum import fit_spectrum as fit_spectrum
    from .jobs.suspicion.verdict import Verdict as Verdict
    from .jobs.tint import Tint as Tint
    from .jobs.tint import tint as tint
    from .show.charts import plot_colours as plot_colours
    from .show.charts import plot_estimate as plot_estimate
    from .show.charts import plot_extinction as plot_extinction
    from .show.charts import plot_film_colours as plot_film_colours
    from .show.charts import plot_index as plot_index
    from .show.charts import plot_ramp as plot_ramp
    from .show.charts import plot_reflectance as plot_reflectance
    from .show.charts import plot_spectrum as plot_spectrum
    from .show.charts_assay import plot_expectation as plot_expectation
    from .show.charts_assay import plot_verdict as plot_verdict
    from .show.charts_growth import plot_heats as plot_heats
    from .show.charts_growth import plot_test_pieces as plot_test_pieces
    from .show.charts_growth import plot_tint as plot_tint
    from .show.charts_map import plot_field as plot_field
    from .show.charts_map import plot_histogram as plot_histogram
    from .show.charts_map import plot_profile as plot_profile
    from .show.charts_mirror import plot_depth as plot_depth
    from .show.charts_mirror import plot_design as plot_design
    from .show.charts_mirror import plot_tilt as plot_tilt
    from .show.charts_sheet import plot_evenness as plot_evenness
    from .show.charts_sheet import plot_witness as plot_witness
    from .show.spectra import plot_fit as plot_fit
    from .show.spectra import plot_residual as plot_residual

_HOMES = {
    "Appearance": "colour.appearance",
    "Designs": "jobs.mirror",
    "Estimate": "inference.estimate",
    "Expectation": "jobs.expectation",
    "FieldMap": "jobs.fieldmap",
    "Heat": "growth.heating",
    "HeatStrip": "jobs.heats.heatstrip",
    "Layer": "films.stack",
    "Learned": "jobs.coupons",
    "Look": "jobs.look",
    "Material": "films.nktable",
    "Reading": "inference.reading",
    "Recipes": "jobs.recipes",
    "Response": "films.response",
    "RunSheet": "jobs.runsheet",
    "Spectrum": "films.spectrumfile",
    "SpectrumFit": "jobs.spectrum",
    "Stack": "films.stack",
    "Tint": "jobs.tint",
    "Verdict": "jobs.suspicion.verdict",
    "appear": "colour.appearance",
    "assay": "jobs.assay",
    "coupons": "jobs.coupons",
    "design_mirror": "jobs.mirror",
    "expect": "jobs.expectation",
    "fit_spectrum": "jobs.spectrum",
    "format_stack": "films.written",
    "gauge": "jobs.gauge",
    "heat_strip": "jobs.heats.heatstrip",
    "hold": "growth.heating",
    "list_materials": "films.materials",
    "load_material": "films.materials",
    "look": "jobs.look",
    "map_photo": "jobs.fieldmap",
    "parse_reading": "inference.reading",
    "parse_stack": "films.notation",
    "plot_colours": "show.charts",
    "plot_depth": "show.charts_mirror",
    "plot_design": "show.charts_mirror",
    "plot_estimate": "show.charts",
    "plot_evenness": "show.charts_sheet",
    "plot_expectation": "show.charts_assay",
    "plot_extinction": "show.charts",
    "plot_field": "show.charts_map",
    "plot_film_colours": "show.charts",
    "plot_fit": "show.spectra",
    "plot_heats": "show.charts_growth",
    "plot_histogram": "show.charts_map",
    "plot_index": "show.charts",
    "plot_profile": "show.charts_map",
    "plot_ramp": "show.charts",
    "plot_reflectance": "show.charts",
    "plot_residual": "show.spectra",
    "plot_spectrum": "show.charts",
    "plot_test_pieces": "show.charts_growth",
    "plot_tilt": "show.charts_mirror",
    "plot_tint": "show.charts_growth",
    "plot_verdict": "show.charts_assay",
    "plot_witness": "show.charts_sheet",
    "read_spectrum": "films.spectrumfile",
    "recipes": "jobs.recipes",
    "respond": "films.respond",
    "respond_arrays": "films.transfer",
    "run_sheet": "jobs.runsheet",
    "tint": "jobs.tint",
}

__all__ = sorted(_HOMES)  # noqa: PLE0605 - a list of names, though a computed one


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f".{_HOMES[name]}", __name__), name)
    globals()[name] = value
    return value


def _drawn(result: object) -> str:
    """A result as HTML for a notebook, by the room that draws; loaded when first asked."""
    html: str = import_module(".show.notebook", __name__).html_of(result)
    return html


draw_with(_drawn)


def __dir__() -> list[str]:
    return __all__
