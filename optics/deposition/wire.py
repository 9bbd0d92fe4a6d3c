"""A wire heated by its own current: how hot it gets, how long it lasts, how near it is to melting.

The wire is long enough that its ends cool little of it: what the current puts in, the surface
radiates. Within about 1 cm of a clamp the wire is colder than these figures say.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import OutOfRangeError, UnknownNameError
from ..films.materials.catalogue import find_entry
from ..numerics.interpolate import bisect
from .gases import STEFAN_BOLTZMANN
from .vapour import (
    KELVIN,
    USEFUL_MBAR,
    evaporation_g_cm2_s,
    temperature_for_pressure,
    vapour_pressure_mbar,
)

THINNING = 0.1
"""Loss of diameter at which a hot wire is near its end (common practice, no source)."""
NARROW_K = 300.0  # below it, a flicker of the mains or a thin place decides
_HALVINGS = 60


@dataclass(frozen=True)
class MeltingMargin:
    """How far useful vapour lies below the melting point of a metal.

    Attributes
    ----------
    material : str
    useful_C : float
        Temperature of 1e-4 torr vapour pressure [°C].
    melting_C : float
    """

    also: ClassVar[tuple[str, ...]] = ("margin_K",)

    material: str
    useful_C: float
    melting_C: float

    @property
    def margin_K(self) -> float:
        """Melting point less the useful temperature [K]; negative where it must melt first."""
        return self.melting_C - self.useful_C

    @property
    def sentence(self) -> str:
        """The margin said plainly."""
        head = (
            f"{self.material} gives useful vapour (1e-4 Torr) at {self.useful_C:.0f} °C and melts "
            f"at {self.melting_C:.0f} °C"
        )
        if self.margin_K < 0.0:
            return f"{head}: it must be molten to evaporate, so a wire of it cannot be the source"
        width = "narrow" if self.margin_K < NARROW_K else "comfortable"
        return f"{head}: the margin of {self.margin_K:.0f} K is {width}"


def wire_materials() -> list[str]:
    """Metals whose wires can be computed."""
    return list(_tables())


def wire_current_A(
    material: str, diameter_mm: float, temperature_C: ArrayLike, *, surroundings_C: float = 20.0
) -> FloatArray:
    """Current that holds a wire at a temperature.

    Parameters
    ----------
    material : str
        One of :func:`wire_materials`.
    diameter_mm : float
    temperature_C : array_like, shape (...)
    surroundings_C : float
        What it radiates to [°C].

    Returns
    -------
    ndarray, shape (...)
        Current [A].

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If no properties are held, or a number is outside their span.

    Notes
    -----
    ``I² ρ(T) / (π d²/4) = π d ε(T) σ (T⁴ - T0⁴)`` for each length of wire. Thermal expansion,
    conduction to the clamps and the heat of evaporation are left out.
    """
    T = np.asarray(temperature_C, dtype=float) + KELVIN
    resistivity_ohm_m, _ = wire_properties(material, T)
    diameter_m = 1e-3 * check_diameter(diameter_mm)
    power = 100.0 * wire_power_W_cm(
        material, diameter_mm, temperature_C, surroundings_C=surroundings_C
    )
    area = np.pi * diameter_m**2 / 4.0
    current: FloatArray = np.sqrt(power * area / resistivity_ohm_m)
    return current


def wire_power_W_cm(
    material: str, diameter_mm: float, temperature_C: ArrayLike, *, surroundings_C: float = 20.0
) -> FloatArray:
    """Power a wire radiates for each centimetre of length [W/cm]; as :func:`wire_current_A`.

    Raises
    ------
    OutOfRangeError
        Also where the wire would be colder than its surroundings.
    """
    T = np.asarray(temperature_C, dtype=float) + KELVIN
    T0 = surroundings_C + KELVIN
    _, emissivity = wire_properties(material, T)
    if np.any(T0 > T):
        raise OutOfRangeError("a heated wire cannot be colder than what it radiates to")
    around_m = np.pi * 1e-3 * check_diameter(diameter_mm)
    power: FloatArray = 0.01 * around_m * emissivity * STEFAN_BOLTZMANN * (T**4 - T0**4)
    return power


def wire_temperature_C(
    material: str, diameter_mm: float, current_A: float, *, surroundings_C: float = 20.0
) -> float:
    """Temperature [°C] a current brings a wire to; the reverse of :func:`wire_current_A`.

    Raises
    ------
    OutOfRangeError
        If the current would melt it or leave it outside the properties held.
    """
    low = max(wire_span_K(material)[0] - KELVIN, surroundings_C)
    high = hottest_solid_C(material)
    ends = np.array([low, high])
    least, most = wire_current_A(
        material, diameter_mm, ends, surroundings_C=surroundings_C
    ).tolist()
    if not least <= current_A <= most:
        raise OutOfRangeError(
            f"a {material} wire of {diameter_mm:g} mm takes {least:.3g} to {most:.3g} A between "
            f"{low:.0f} and {high:.0f} °C (its melting point or the end of the data), not "
            f"{current_A:g} A"
        )

    def takes_less(at_C: float) -> bool:
        taken_A = wire_current_A(material, diameter_mm, at_C, surroundings_C=surroundings_C)
        return bool(taken_A <= current_A)

    return float(bisect(takes_less, low, high, halvings=_HALVINGS)[1])


def wire_lifetime_s(
    material: str, diameter_mm: float, temperature_C: float, *, thinning: float = THINNING
) -> float:
    """Time until a bare wire has lost a part of its diameter to evaporation [s].

    Parameters
    ----------
    thinning : float
        Part of the diameter lost, 0 to 1.

    Notes
    -----
    The surface recedes by ``G/ρ`` with G of Hertz and Knudsen, so the life is
    ``f d ρ / 2G``. A charge that alloys with the wire ends it far sooner; so does water vapour,
    which carries tungsten off.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If no data are held, or a number is outside its span.
    """
    if not 0.0 < thinning < 1.0:
        raise OutOfRangeError(f"the part of the diameter lost is {thinning:g}; it must be 0 to 1")
    entry = find_entry(_check_name(material))
    if entry.density_g_cm3 is None or entry.molar_mass_g_mol is None:
        raise UnknownNameError(f"density and molar mass of {material} are not held")
    pressure = vapour_pressure_mbar(material, temperature_C, extrapolate=True)
    loss = float(evaporation_g_cm2_s(pressure, temperature_C, entry.molar_mass_g_mol))
    if loss == 0.0:
        return math.inf
    return thinning * 0.1 * check_diameter(diameter_mm) * entry.density_g_cm3 / (2.0 * loss)


def wire_span_K(material: str) -> tuple[float, float]:
    """Temperatures between which the properties of a wire are held [K].

    Raises
    ------
    UnknownNameError
        If none are held.
    """
    table = _tables()[_check_name(material)]
    return float(table[0, 0]), float(table[-1, 0])


def hottest_solid_C(material: str) -> float:
    """Melting point of a wire, or where its data end before [°C]."""
    melting_C = find_entry(material).melting_C
    return min(wire_span_K(material)[1] - KELVIN, math.inf if melting_C is None else melting_C)


def melting_margin(material: str) -> MeltingMargin | None:
    """How far useful vapour lies below the melting point; None where the data are not held."""
    try:
        useful = temperature_for_pressure(material, USEFUL_MBAR)
    except UnknownNameError:
        return None
    melting_C = find_entry(material).melting_C
    return None if melting_C is None else MeltingMargin(material, useful.temperature_C, melting_C)


def wire_properties(material: str, temperature_K: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Resistivity [Ω m] and total emissivity, on straight lines between the table's rows.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If no properties are held, or a temperature is outside them.
    """
    table = _tables()[_check_name(material)]
    low, high = table[0, 0], table[-1, 0]
    inside = (temperature_K >= low - 1e-6) & (temperature_K <= high + 1e-6)
    if not np.all(inside):  # NaN counts as outside
        raise OutOfRangeError(
            f"the properties of {material} wire are held from {low - KELVIN:.0f} to "
            f"{high - KELVIN:.0f} °C; "
            f"{float(temperature_K[~inside].flat[0]) - KELVIN:.0f} °C is outside"
        )
    resistivity = np.interp(temperature_K, table[:, 0], table[:, 1])
    emissivity = np.interp(temperature_K, table[:, 0], table[:, 2])
    return 1e-8 * np.asarray(resistivity), np.asarray(emissivity)


def _check_name(material: str) -> str:
    if material not in _tables():
        raise UnknownNameError(
            f"there are no data for a wire of {material!r}; use one of {', '.join(_tables())}"
        )
    return material


def check_diameter(diameter_mm: float) -> float:
    """The diameter of a wire [mm], refused where there is none so thin or so thick."""
    if not 0.005 <= diameter_mm <= 20.0:
        raise OutOfRangeError(
            f"the diameter of a wire is {diameter_mm:g} mm; it must be 0.005 to 20 mm"
        )
    return diameter_mm


@cache
def _tables() -> dict[str, FloatArray]:
    """Rows of temperature [K], resistivity [µΩ cm] and emissivity of each metal."""
    text = files(__package__).joinpath("wire_properties.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows: dict[str, list[list[float]]] = {}
    for row in csv.DictReader(lines):
        numbers = [float(row[k]) for k in ("temperature_K", "resistivity_uohm_cm", "emissivity")]
        rows.setdefault(row["material"], []).append(numbers)
    return {material: np.array(table) for material, table in rows.items()}
