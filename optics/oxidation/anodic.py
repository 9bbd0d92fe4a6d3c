"""Oxide from an anodising bath: thickness by the volts it stopped at."""

from __future__ import annotations

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError
from .metals import AnodicLaw, Metal


def anodic_law(metal: Metal) -> AnodicLaw:
    """The metal's constant; `InputError` if none is shipped."""
    if metal.anodic is None:
        raise InputError(f"no anodising constant is shipped for {metal.name}")
    return metal.anodic


def anodic_nm(metal: Metal, volts: float, *, count: int, rng: np.random.Generator) -> FloatArray:
    """Thicknesses [nm] of films anodised to a voltage, shape (count,), drawn over what baths do.

    The field in the oxide is nearly the same at any thickness, so it stops growing at so many
    nanometres per volt (L. Young, Anodic Oxide Films, 1961), somewhat fewer at high volts, where
    part of the current makes oxygen. The film it starts from is part of it.

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
    grown = np.abs(law.typical_nm(volts) + law.sd * volts * rng.standard_normal(count))
    native = metal.native_nm * np.exp(metal.native_ln_sd * rng.standard_normal(count))
    return np.asarray(np.maximum(grown, native))
