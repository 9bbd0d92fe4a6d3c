"""The parameters of a law of growth in the words of the trade, with units."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from ..oxidation.regime import Regime
from ..units import format_duration
from .result import LawParameter


class _ParameterWords(NamedTuple):
    """``words`` are filled from a regime; ``to_shown`` turns the number into one of ``unit``."""

    words: str
    unit: str
    to_shown: Callable[[float], float]


def _unchanged(value: float) -> float:
    return value


def _percent(log: float) -> float:
    return 100.0 * math.exp(log)


_SAID = {
    "ln_thickness_nm": _ParameterWords("oxide after {time} at {reference}", "nm", math.exp),
    "energy_kJ_mol": _ParameterWords("activation energy", "kJ/mol", _unchanged),
    "curvature": _ParameterWords("curvature of the rate against 1/T", "10⁶ K²", _unchanged),
    "ln_shape": _ParameterWords("{shape} of the law", "{shape_unit}", math.exp),
    "ln_B": _ParameterWords("B at {reference}", "nm²/s", math.exp),
    "energy_B_kJ_mol": _ParameterWords("activation energy of B", "kJ/mol", _unchanged),
    "ln_B_over_A": _ParameterWords("B/A at {reference}", "nm/s", math.exp),
    "energy_B_over_A_kJ_mol": _ParameterWords("activation energy of B/A", "kJ/mol", _unchanged),
    "ln_pace": _ParameterWords("pace of this kiln", "times", math.exp),
    "ln_scatter": _ParameterWords("scatter of the pace", "%", _percent),
    "native_nm": _ParameterWords("oxide before the heat", "nm", _unchanged),
}


def parameter_row(one: LawParameter, several: bool) -> tuple[str, str, str, str, str]:
    """A row of a table: words, fitted value and interval, shipped value and interval.

    ``several`` says that the law has more than one range of temperature, so that it is named.
    """
    said = _SAID[one.name]
    filled = _of_regime(one.regime) if one.regime is not None else {}
    words, unit = said.words.format(**filled), said.unit.format(**filled)
    if several and one.regime is not None:
        words += ", {:g} to {:g} °C".format(*one.regime.range_C)

    def number(value: float) -> str:
        return f"{said.to_shown(value):.3g}"

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
