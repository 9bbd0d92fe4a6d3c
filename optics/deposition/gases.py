"""Gases in a chamber: molar masses, mixtures, and what each metal takes of them."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import UnknownNameError, suggest_nearest

GASES = ("Ar", "N2", "O2", "H2O", "H2", "CO", "CO2")
"""Order of the gases on the last axis of every array."""
ROOM_K = 293.15
# SI, exact. A library of constants would cost a third of the time of a short answer.
BOLTZMANN, AVOGADRO = 1.380649e-23, 6.02214076e23  # J/K, 1/mol
GAS_CONSTANT = AVOGADRO * BOLTZMANN  # J/(mol K)
STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m² K⁴), CODATA 2018
ELEMENTARY_CHARGE = 1.602176634e-19  # C
MOLECULES_PER_MBAR_L = 0.1 / (BOLTZMANN * ROOM_K)
"""Molecules in a litre at 1 mbar, ``pV / kT``: 2.47e19 at 20 °C."""
MONOLAYER_PER_CM2 = 1e15
"""Molecules of a full layer [1/cm²], the usual round figure."""
_STANDARD_MBAR = 1000.0  # the pressure that free energies are stated for


@dataclass(frozen=True)
class Uptake:
    """What one metal takes of the gases.

    Attributes
    ----------
    metal : str
    sticking : ndarray, shape (gases,)
        Chance that a molecule that hits the fresh metal stays [-].
    doubt : float
        Standard deviation of its logarithm.
    full_oxide, full_nitride : float
        Oxygen, and nitrogen, per metal atom of the compound; no nitride at 0.
    confidence : str
    """

    metal: str
    sticking: FloatArray
    doubt: float
    full_oxide: float
    full_nitride: float
    confidence: str


@dataclass(frozen=True)
class OxideGate:
    """Why a metal's oxide does not grow from O2 at room temperature.

    Attributes
    ----------
    oxide : str
    balance_mbar : float
        Pressure of O2 below which the oxide falls apart [mbar]; 0 where it is only slow.
    slow : bool
        Whether it could form but does not at room temperature, beyond one monolayer.
    plasma : float
        Chance that atomic oxygen of a discharge makes it all the same [-].
    source : str
    """

    oxide: str
    balance_mbar: float
    slow: bool
    plasma: float
    source: str


def read_data() -> dict[str, Any]:
    """The tables of ``gases.toml``."""
    return _data()


def gas_name(gas: str) -> str:
    """A gas in words.

    Raises
    ------
    UnknownNameError
        If it is none of :data:`GASES`.
    """
    name: str = _data()["gas"][_check_gas(gas)]["name"]
    return name


def impingement_per_cm2_s(
    pressure_mbar: ArrayLike, molar_mass: ArrayLike, temperature_K: float = ROOM_K
) -> FloatArray:
    """Molecules that hit a surface, ``p / sqrt(2π m k T)`` [cm⁻² s⁻¹].

    Parameters
    ----------
    pressure_mbar, molar_mass : array_like, shape (...)
        Pressure [mbar] and molar mass [g/mol] of the gas.
    """
    mass_kg = np.asarray(molar_mass, dtype=float) * 1e-3 / AVOGADRO
    pascal = 100.0 * np.asarray(pressure_mbar, dtype=float)
    hits: FloatArray = 1e-4 * pascal / np.sqrt(2.0 * np.pi * mass_kg * BOLTZMANN * temperature_K)
    return hits


def monolayer_time_s(
    pressure_mbar: ArrayLike, molar_mass: ArrayLike, temperature_K: float = ROOM_K
) -> FloatArray:
    """Time for 1e15 molecules per cm² to arrive [s], shape of the inputs."""
    time: FloatArray = MONOLAYER_PER_CM2 / impingement_per_cm2_s(
        pressure_mbar, molar_mass, temperature_K
    )
    return time


def metal_per_cm2_s(rate_nm_s: ArrayLike, density_g_cm3: float, molar_mass: float) -> FloatArray:
    """Atoms that build a film growing at a rate [cm⁻² s⁻¹]."""
    atoms: FloatArray = (
        1e-7 * np.asarray(rate_nm_s, dtype=float) * density_g_cm3 * AVOGADRO / molar_mass
    )
    return atoms


def wall_speed_l_s_cm2() -> FloatArray:
    """Speed at which a surface pumps that keeps every molecule [l/s per cm²], shape (gases,).

    A quarter of the mean speed of the molecules, ``sqrt(kT / 2πm)``.
    """
    return impingement_per_cm2_s(1.0, molar_masses()) / MOLECULES_PER_MBAR_L


def mean_free_path_cm(partial_mbar: Mapping[str, float], temperature_K: float = ROOM_K) -> float:
    """Mean way between collisions in a mixture of gases, ``kT / (√2 π Σ d² p)`` [cm].

    Parameters
    ----------
    partial_mbar : mapping
        Pressure of each gas [mbar], argon among them; infinite where there is none.
    """
    facts = _data()["gas"]
    d2_p = sum(
        (1e-9 * facts[_check_gas(gas)]["diameter_nm"]) ** 2 * 100.0 * p
        for gas, p in partial_mbar.items()
    )
    if not d2_p > 0.0:
        return math.inf
    return float(100.0 * BOLTZMANN * temperature_K / (math.sqrt(2.0) * math.pi * d2_p))


@cache
def atoms_left(element: str) -> FloatArray:
    """Atoms of ``"oxygen"`` or ``"nitrogen"`` that a molecule leaves in a film, shape (gases,)."""
    return _column(element)


@cache
def molar_masses() -> FloatArray:
    """Molar mass of each gas [g/mol], shape (gases,)."""
    return _column("molar_mass")


def _column(fact: str) -> FloatArray:
    column = np.array([float(_data()["gas"][gas].get(fact, 0.0)) for gas in GASES])
    column.flags.writeable = False  # every caller has the same one
    return column


@cache
def mixture_shares(name: str) -> FloatArray:
    """Shares by pressure of a named mixture, shape (gases,), summing to 1.

    Raises
    ------
    UnknownNameError
        If there is no such mixture.
    """
    known = _data()["mixture"]
    if name not in known:
        offer = suggest_nearest(name, list(known)) or f"use one of {', '.join(known)}"
        raise UnknownNameError(f"unknown mixture of gases {name!r:.80}; {offer}")
    shares = np.array([known[name].get(gas, 0.0) for gas in GASES])
    total: FloatArray = shares / shares.sum()
    total.flags.writeable = False
    return total


def metals() -> list[str]:
    """Metals whose uptake of gas is known."""
    return list(_data()["full_oxide"])


def uptake_of(metal: str) -> Uptake:
    """What a metal takes of the gases.

    Raises
    ------
    UnknownNameError
        If that is not known.
    """
    data = _data()
    for kind in data["uptake"].values():
        if metal in kind["metals"]:
            return Uptake(
                metal,
                np.array([float(kind.get(gas, 0.0)) for gas in GASES]),
                kind["doubt"],
                data["full_oxide"][metal],
                data["full_nitride"].get(metal, 0.0),
                kind["confidence"],
            )
    offer = suggest_nearest(metal, metals()) or f"it is for {', '.join(metals())}"
    raise UnknownNameError(f"how {metal!r} takes gas is not known; {offer}")


def oxide_gate(metal: str, temperature_K: float = 298.15) -> OxideGate | None:
    """Why a metal's oxide does not grow from O2; None where it does.

    Notes
    -----
    For ``x M + O2 = M_x O2`` the balance is at ``p = p0 exp(ΔG / RT)``, with ΔG the free energy
    of formation per mole of O2 and p0 = 1 bar. ΔG is that of 25 °C.
    """
    gate = _data()["gate"].get(metal)
    if gate is None:
        return None
    balance = 0.0
    if "formation_kJ_mol" in gate:
        per_mole_O2 = 1e3 * gate["formation_kJ_mol"] * 2.0 / gate["oxygen"]
        balance = _STANDARD_MBAR * math.exp(per_mole_O2 / (AVOGADRO * BOLTZMANN * temperature_K))
    return OxideGate(
        gate["oxide"], balance, gate.get("slow", False), gate["plasma"], gate["source"]
    )


def _check_gas(gas: str) -> str:
    if gas not in GASES:
        raise UnknownNameError(f"unknown gas {gas!r}; use one of {', '.join(GASES)}")
    return gas


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("gases.toml").read_text("utf-8"))
