"""How much metal an argon discharge knocks out of a target."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import OutOfRangeError, UnknownNameError
from .alloys import alloy_parts
from .gases import AVOGADRO, ELEMENTARY_CHARGE

_ENERGY_EV = np.array([100.0, 200.0, 300.0, 600.0])
_LOWEST_EV, _HIGHEST_EV = 100.0, 1500.0
RATE_DOUBT = 1.5
"""Factor either way of a rate from volts and milliamperes (judgement): part of the current is
secondary electrons, ions lose energy on their way, and handbook yields scatter by 15 %."""


@dataclass(frozen=True)
class Discharge:
    """What feeds a sputter source.

    Attributes
    ----------
    voltage_V, current_A : float
        Of the discharge.

    Raises
    ------
    OutOfRangeError
        If the voltage is not 100 to 1500 V, or the current not 0.0001 to 100 A.
    """

    voltage_V: float
    current_A: float

    def __post_init__(self) -> None:
        if not _LOWEST_EV <= self.voltage_V <= _HIGHEST_EV:
            raise OutOfRangeError(
                f"the voltage of the discharge is {self.voltage_V:g} V; yields are held for "
                f"{_LOWEST_EV:g} to {_HIGHEST_EV:g} V",
                parameter="voltage",
            )
        if not 1e-4 <= self.current_A <= 100.0:
            raise OutOfRangeError(
                f"the current of the discharge is {self.current_A:g} A; it must be 0.0001 to 100 A",
                parameter="current",
            )


def has_yield(material: str) -> bool:
    """Whether a sputter yield is held for a metal or for all parts of an alloy."""
    return all(part in _yields() for part in alloy_parts(material))


def sputter_yield(material: str, energy_eV: ArrayLike) -> FloatArray:
    """Atoms that leave a clean target for each argon ion [-], shape of the energies.

    Parameters
    ----------
    material : str
        A metal, or an alloy: the mean over its atoms, which is what leaves once the surface is
        used to the ions (burn-in, common practice).
    energy_eV : array_like, shape (...)
        Of the ions [eV], 100 to 1500; above 600 the yield goes on as the square root of energy.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If no yield is held, or an energy is outside.

    References
    ----------
    N. Laegreid and G. K. Wehner, J. Appl. Phys. 32, 365 (1961); Y. Yamamura and H. Tawara, At. Data
    Nucl. Data Tables 62, 149 (1996) on the rise with energy; see the data file.
    """
    energy = np.asarray(energy_eV, dtype=float)
    if not np.all((energy >= _LOWEST_EV) & (energy <= _HIGHEST_EV)):
        raise OutOfRangeError(
            f"sputter yields are held for {_LOWEST_EV:g} to {_HIGHEST_EV:g} eV", parameter="voltage"
        )
    total = np.zeros(energy.shape)
    for part, share in alloy_parts(material).items():
        if part not in _yields():
            raise UnknownNameError(
                f"no sputter yield is held for {part!r}; it is for {', '.join(_yields())}"
            )
        tabled = np.exp(np.interp(np.log(energy), np.log(_ENERGY_EV), np.log(_yields()[part])))
        total += share * tabled * np.sqrt(np.maximum(energy / _ENERGY_EV[-1], 1.0))
    return total


def sputtered_g_s(material: str, molar_mass: float, discharge: Discharge) -> float:
    """Metal that leaves a target [g/s], ``(I/e) Y(E) M / N_A`` with E the voltage.

    Parameters
    ----------
    molar_mass : float
        Of the target's atoms [g/mol].
    """
    ions = discharge.current_A / ELEMENTARY_CHARGE  # a second
    return ions * float(sputter_yield(material, discharge.voltage_V)) * molar_mass / AVOGADRO


@cache
def _yields() -> dict[str, FloatArray]:
    text = files(__package__).joinpath("sputter_yields.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    columns = [f"energy_{energy:.0f}" for energy in _ENERGY_EV]
    return {
        row["material"]: np.array([float(row[column]) for column in columns])
        for row in csv.DictReader(lines)
    }
