"""The parameters of a law of growth in the words of the trade, with units."""

from __future__ import annotations

import math

from ..oxidation.regime import Regime
from ..units import format_duration
from .result import LawParameter

_SAID = {
    "ln_thickness_nm": ("oxide after {time} at {reference}", "nm"),
    "energy_kJ_mol": ("activation energy", "kJ/mol"),
    "curvature": ("curvature of the rate against 1/T", "10⁶ K²"),
    "ln_shape": ("{shape} of the law", "{shape_unit}"),
    "ln_B": ("B at {reference}", "nm²/s"),
    "energy_B_kJ_mol": ("activation energy of B", "kJ/mol"),
    "ln_B_over_A": ("B/A at {reference}", "nm/s"),
    "energy_B_over_A_kJ_mol": ("activation energy of B/A", "kJ/mol"),
    "ln_pace": ("pace beside the fitted law", "times"),
    "ln_scatter": ("scatter of the pace", "%"),
    "native_nm": ("oxide before the heat", "nm"),
}
"""Words, filled from a regime, and unit of each parameter; of a logarithm, its number is shown."""


def parameter_row(one: LawParameter, several: bool) -> tuple[str, str, str, str, str]:
    """A row of a table: words, fitted value and interval, shipped value and interval.

    ``several`` says that the law has more than one range of temperature, so that it is named.
    """
    filled = _of_regime(one.regime) if one.regime is not None else {}
    words, unit = (text.format(**filled) for text in _SAID[one.name])
    if several and one.regime is not None:
        words += ", {:g} to {:g} °C".format(*one.regime.range_C)

    def number(value: float) -> str:
        shown = math.exp(value) if one.name.startswith("ln_") else value
        return f"{100.0 * shown if unit == '%' else shown:.3g}"

    def span(ends: tuple[float, float]) -> str:
        return f"{number(ends[0])} to {number(ends[1])}"

    value, shipped = (f"{number(of)} {unit}".rstrip() for of in (one.value, one.shipped))
    return words, value, span(one.interval90), shipped, span(one.shipped90)


def _of_regime(regime: Regime) -> dict[str, str]:
    shape, _, unit = regime.law.shape.partition(" [")
    return {
        "time": format_duration(regime.reference_s),
        "reference": f"{regime.reference_C:g} °C",
        "shape": shape,
        "shape_unit": unit.rstrip("]"),
    }
