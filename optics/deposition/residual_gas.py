"""The gas left in the chamber: how much meets a growing metal, and whether that stays metal."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.constants import N_A, Boltzmann

from .._typing import FloatArray
from ..errors import OutOfRangeError, UnknownNameError, suggest_nearest
from .gases import ROOM_K, impingement_per_cm2_s, metal_per_cm2_s

SPECIES = "oxygen atoms offered per metal atom"
SURE = 0.9  # probability at which a metal is said to stay one, and what limits are given for
_SURE_DEVIATIONS = 1.2815515655446004  # of a normal distribution below which a share SURE lies
_AIR_DIAMETER_M = 3.7e-10  # collision diameter of air molecules, CRC Handbook (from memory)


@dataclass(frozen=True)
class Getter:
    """A sacrificial first run that leaves fresh titanium on the walls.

    Attributes
    ----------
    area_cm2 : float
        Wall that it coats [cm²].
    pumping_l_s : float
        What the pump alone draws at the chamber [l/s].
    """

    area_cm2: float
    pumping_l_s: float

    def __post_init__(self) -> None:
        if not 1.0 <= self.area_cm2 <= 1e7:
            raise OutOfRangeError(
                f"the getter area is {self.area_cm2:g} cm²; it must be 1 cm² to 1000 m²"
            )
        if not 0.01 <= self.pumping_l_s <= 1e6:
            raise OutOfRangeError(
                f"the pumping speed is {self.pumping_l_s:g} l/s; it must be 0.01 to 1e6 l/s"
            )


@dataclass(frozen=True)
class Chamber:
    """What is left in it while a film grows.

    Attributes
    ----------
    pressure_mbar : float
        Pressure of the residual gas [mbar], without the argon of a sputter run.
    mixture : str
        What it consists of: ``water`` for an unbaked chamber, ``air`` for a leak.
    plastic : bool
        Whether masks, tape or parts of plastic give off water near the piece.
    getter : Getter or None

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If the mixture is not known, or the pressure is not that of a vacuum.
    """

    pressure_mbar: float
    mixture: str = "water"
    plastic: bool = False
    getter: Getter | None = None

    def __post_init__(self) -> None:
        known = list(_data()["mixture"])
        if self.mixture not in known:
            offer = suggest_nearest(self.mixture, known) or f"use {' or '.join(known)}"
            raise UnknownNameError(f"unknown residual gas {self.mixture!r}; {offer}")
        if not 1e-12 <= self.pressure_mbar <= 0.1:
            raise OutOfRangeError(
                f"the pressure is {self.pressure_mbar:g} mbar; metal is deposited between 1e-12 "
                f"and 0.1 mbar"
            )

    @property
    def partial_mbar(self) -> dict[str, float]:
        """Partial pressure of each gas at the piece [mbar], before any getter."""
        shares: dict[str, float] = dict(_data()["mixture"][self.mixture])
        if self.plastic:
            shares["H2O"] += _data()["plastic"]["water"]
        return {gas: share * self.pressure_mbar for gas, share in shares.items()}


@dataclass(frozen=True)
class MetalVerdict:
    """Whether a metal film stays metal, and what would keep it so.

    Attributes
    ----------
    verdict : str
        The likeliest of ``metal``, ``grey`` and ``oxide``.
    metal, grey, oxide : float
        Probabilities; they sum to 1.
    offered : float
        Oxygen atoms offered per metal atom [-].
    held : float
        Of these, how many are likely to stay, per metal atom [-].
    most_mbar : float
        Pressure below which the film stays metal with a probability of 0.9 at this rate [mbar].
    least_nm_s : float
        Rate above which it does at this pressure [nm/s].
    """

    verdict: str
    metal: float
    grey: float
    oxide: float
    offered: float
    held: float
    most_mbar: float
    least_nm_s: float

    @property
    def stays_metal(self) -> bool:
        """Whether metal is the likeliest."""
        return self.verdict == "metal"


def mean_free_path_cm(pressure_mbar: ArrayLike, temperature_K: float = ROOM_K) -> FloatArray:
    """Mean way of an air molecule between collisions, ``kT / (√2 π d² p)`` [cm]."""
    pascal = 100.0 * np.asarray(pressure_mbar, dtype=float)
    cross_section = np.sqrt(2.0) * np.pi * _AIR_DIAMETER_M**2
    path: FloatArray = 100.0 * Boltzmann * temperature_K / (cross_section * pascal)
    return path


def oxygen_arrival(partial_mbar: dict[str, float], metal_flux_per_cm2_s: float) -> dict[str, float]:
    """Oxygen atoms each gas offers per metal atom [-]; gases without oxygen are left out.

    Parameters
    ----------
    partial_mbar : dict
        Partial pressures [mbar] by gas: H2O, O2, CO2, CO, N2, H2, Ar.
    metal_flux_per_cm2_s : float
        See :func:`metal_per_cm2_s`.

    Raises
    ------
    UnknownNameError
        If a gas is none of these.
    """
    offered = {}
    for gas, pressure in partial_mbar.items():
        facts = _gas(gas)
        if facts["oxygen"]:
            hits = float(impingement_per_cm2_s(pressure, facts["molar_mass"]))
            offered[gas] = facts["oxygen"] * hits / metal_flux_per_cm2_s
    return offered


def metal_verdict(
    metal: str,
    rate_nm_s: float,
    density_g_cm3: float,
    molar_mass: float,
    chamber: Chamber,
    relief: dict[str, float] | None = None,
) -> MetalVerdict:
    """Whether a metal deposited in a chamber stays metal, turns grey, or becomes oxide.

    Parameters
    ----------
    metal : str
    rate_nm_s : float
        Growth [nm/s].
    density_g_cm3, molar_mass : float
        Of the metal.
    chamber : Chamber
    relief : dict, optional
        Share of each gas a getter leaves; 1 where it is silent.

    Raises
    ------
    UnknownNameError
        If it is not known how the metal takes oxygen.
    OutOfRangeError
        If the rate is not 1e-6 to 1e6 nm/s.

    Notes
    -----
    The oxygen held per metal atom, ``Σ sticking × offered``, over that of the full oxide is
    compared with two limits; the doubts about gauge, gas, sticking and limits add as variances of
    its logarithm, taken as normal. The numbers and where they come from are in the data file.
    """
    if not 1e-6 <= rate_nm_s <= 1e6:
        raise OutOfRangeError(f"the rate is {rate_nm_s:g} nm/s; it must be 1e-06 to 1e+06 nm/s")
    data, kind = _data(), _sticking(metal)
    relief = relief or {}
    partial = {gas: p * relief.get(gas, 1.0) for gas, p in chamber.partial_mbar.items()}
    offered = oxygen_arrival(partial, float(metal_per_cm2_s(rate_nm_s, density_g_cm3, molar_mass)))
    held = sum(kind[gas] * ratio for gas, ratio in offered.items())
    limits = data["limits"]
    doubts = [kind["doubt"], *(limits[f"{what}_doubt"] for what in ("limit", "gauge", "mixture"))]
    if chamber.plastic:
        doubts.append(data["plastic"]["doubt"])
    if relief:
        doubts.append(data["getter"]["doubt"])
    deviation = math.sqrt(sum(doubt * doubt for doubt in doubts))
    log_share = math.log(held / data["full_oxide"][metal])
    below_metal = _normal((math.log(limits["metal"]) - log_share) / deviation)
    below_oxide = _normal((math.log(limits["oxide"]) - log_share) / deviation)
    chances = {"metal": below_metal, "grey": below_oxide - below_metal, "oxide": 1.0 - below_oxide}
    factor = math.exp(math.log(limits["metal"]) - _SURE_DEVIATIONS * deviation - log_share)
    return MetalVerdict(
        max(chances, key=lambda name: chances[name]), **chances,
        offered=sum(offered.values()), held=held,
        most_mbar=factor * chamber.pressure_mbar, least_nm_s=rate_nm_s / factor,
    )  # fmt: skip


def getter_relief(chamber: Chamber) -> tuple[dict[str, float], float]:
    """What a sacrificial first run leaves of each gas, and for how long.

    Returns
    -------
    relief : dict
        Share of each gas's pressure that is left [-].
    fresh_s : float
        Time until the film on the walls has taken up all it can [s].

    Notes
    -----
    A wall of area A that holds a share s of the molecules that hit it pumps ``A s v/4``; with the
    same gas coming in, the pressure falls by ``S_pump / (S_pump + S_wall)``. Each gas is taken to
    fill its own places, and the first to be full ends it.
    """
    if chamber.getter is None:
        return {}, 0.0
    sticking, capacity = _sticking("Ti"), _data()["getter"]["capacity_per_cm2"]
    relief, fresh_s = {}, math.inf
    for gas, pressure in chamber.partial_mbar.items():
        if gas not in capacity or not pressure > 0.0:
            continue
        mass_kg = _gas(gas)["molar_mass"] * 1e-3 / N_A
        speed_l_s_cm2 = 0.1 * math.sqrt(Boltzmann * ROOM_K / (2.0 * math.pi * mass_kg))
        wall = chamber.getter.area_cm2 * sticking[gas] * speed_l_s_cm2
        left = chamber.getter.pumping_l_s / (chamber.getter.pumping_l_s + wall)
        hits = float(impingement_per_cm2_s(left * pressure, _gas(gas)["molar_mass"]))
        relief[gas] = left
        fresh_s = min(fresh_s, capacity[gas] / (sticking[gas] * hits))
    return relief, fresh_s


def takes_oxygen(metal: str) -> bool:
    """Whether it is known how a metal of that name takes oxygen."""
    return metal in _data()["full_oxide"]


def _sticking(metal: str) -> dict[str, Any]:
    for kind in _data()["sticking"].values():
        if metal in kind["metals"]:
            found: dict[str, Any] = kind
            return found
    known = ", ".join(_data()["full_oxide"])
    raise UnknownNameError(f"how {metal!r} takes oxygen is not known; it is for {known}")


def _gas(name: str) -> dict[str, float]:
    gases: dict[str, dict[str, float]] = _data()["gas"]
    if name not in gases:
        raise UnknownNameError(f"unknown gas {name!r}; use one of {', '.join(gases)}")
    return gases[name]


def _normal(deviations: float) -> float:
    """Share of a normal distribution below so many standard deviations."""
    return 0.5 * math.erfc(-deviations / math.sqrt(2.0))


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("residual_gas.toml").read_text("utf-8"))
