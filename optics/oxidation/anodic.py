"""Oxide from an anodising bath: thickness by the volts it stopped at."""

from __future__ import annotations

import re

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError, shorten
from ..units import NUMBER
from .metals import AnodicLaw, Metal

_VOLTS = re.compile(rf"\s*({NUMBER})\s*V\s*")


def parse_volts(text: str) -> float:
    """Read ``25V``.

    Raises
    ------
    InputError
        If it is not a number followed by V.
    """
    match = _VOLTS.fullmatch(text)
    if match is None or not np.isfinite(float(match[1])):
        raise InputError(f"the voltage {shorten(text)!r} is not a number with its unit, as in 25V")
    return float(match[1])


def anodic_law(metal: Metal) -> AnodicLaw:
    """The metal's constant.

    Raises
    ------
    InputError
        If none is shipped.
    """
    if metal.anodic is None:
        raise InputError(f"no anodising constant is shipped for {metal.name}")
    return metal.anodic


def anodic_nm(metal: Metal, volts: float, count: int, rng: np.random.Generator) -> FloatArray:
    """Thicknesses [nm] of films anodised to a voltage, shape (count,), drawn over what baths do.

    The field in the oxide is nearly the same at any thickness, so it stops growing at so many
    nanometres per volt (L. Young, Anodic Oxide Films, 1961); the film it starts from is part of it.

    Raises
    ------
    OutOfRangeError
        For volts beyond the range the constant holds in.
    """
    law = anodic_law(metal)
    low, high = law.range_V
    if not low <= volts <= high:
        raise OutOfRangeError(
            f"{volts:g} V is outside the range the constant of {metal.name} holds in "
            f"({low:g} to {high:g} V)"
        )
    constant = np.abs(law.nm_per_V + law.sd * rng.standard_normal(count))
    native = metal.native_nm * np.exp(metal.native_ln_sd * rng.standard_normal(count))
    return np.asarray(np.maximum(constant * volts, native))
