"""Alloys: what they consist of, and how they come apart when they are heated."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from .._typing import FloatArray
from ..films.materials.catalogue import find_entry
from ..numerics.interpolate import bisect
from .gases import GAS_CONSTANT
from .vapour import HOTTEST_K, KELVIN, has_vapour_data, vapour_pressure_mbar

_MOMENTS = (0.05, 0.5, 0.95)  # shares of the charge gone
_HALVINGS = 60


@dataclass(frozen=True)
class Fraction:
    """What a film of a heated alloy consists of when part of the charge has gone.

    Attributes
    ----------
    evaporated : float
        Share of the charge's atoms gone [-].
    film : dict
        Share of each metal among the atoms that arrive then [-].
    """

    evaporated: float
    film: dict[str, float]


def is_alloy(material: str) -> bool:
    """Whether the parts of an alloy of that name are known."""
    return material in _data()


def alloys() -> list[str]:
    """Alloys whose parts are known."""
    return list(_data())


def alloy_parts(material: str) -> dict[str, float]:
    """Share of each metal among the atoms of an alloy [-]; a plain metal is all itself."""
    if not is_alloy(material):
        return {material: 1.0}
    by_mass: dict[str, float] = _data()[material]["parts"]
    atoms = {
        part: share / (find_entry(part).molar_mass_g_mol or 1.0) for part, share in by_mass.items()
    }
    whole = sum(atoms.values())
    return {part: count / whole for part, count in atoms.items()}


def molar_mass_of(material: str) -> float | None:
    """Mean molar mass of a metal's or an alloy's atoms [g/mol]; None where not known."""
    if not is_alloy(material):
        return find_entry(material).molar_mass_g_mol
    return sum(share * _molar_mass(part) for part, share in alloy_parts(material).items())


def most_reactive(material: str) -> str:
    """The part of an alloy that takes up oxygen first; a plain metal itself."""
    return str(_data()[material]["most_reactive"]) if is_alloy(material) else material


def fractions_of(material: str, temperature_C: float) -> tuple[Fraction, ...]:
    """What arrives when 5, 50 and 95 % of a heated alloy have gone; empty where not known.

    Parameters
    ----------
    material : str
        An alloy.
    temperature_C : float
        Of the charge.

    Notes
    -----
    Raoult's law with activity 1 and a charge that stays mixed: of each part, n atoms leave as
    ``n p / sqrt(M)`` (Hertz, Knudsen), so that ``n = n0 exp(-τ p / sqrt(M))`` (Rayleigh).
    """
    parts = alloy_parts(material)
    names = list(parts)
    if not all(has_vapour_data(name) for name in names):
        return ()
    speed = _leaving_speed(names, temperature_C)
    tau = np.geomspace(1e-4 / speed.max(), 1e2 / speed.min(), 4000)
    left = np.array([parts[name] for name in names]) * np.exp(-tau[:, None] * speed)
    film = left * speed / (left @ speed)[:, None]
    gone = 1.0 - left.sum(axis=1)
    return tuple(
        Fraction(moment, dict(zip(names, _rows_at(moment, gone, film), strict=True)))
        for moment in _MOMENTS
    )


def alloy_temperature_C(material: str, flux_g_cm2_s: float) -> float | None:
    """Temperature at which a fresh alloy loses mass at a rate [°C]; None where not known."""
    parts = alloy_parts(material)
    if not all(has_vapour_data(name) for name in parts):
        return None
    low, high = 200.0, HOTTEST_K - KELVIN
    shares = np.array(list(parts.values()))
    masses = np.array([_molar_mass(name) for name in parts])

    def is_slower(temperature_C: float) -> bool:
        return float(shares * masses @ _leaving_speed(list(parts), temperature_C)) <= flux_g_cm2_s

    return float(bisect(is_slower, low, high, halvings=_HALVINGS)[1])


def _leaving_speed(names: list[str], temperature_C: float) -> FloatArray:
    """Moles of each pure part that leave a square centimetre in a second."""
    T = temperature_C + KELVIN
    masses = np.array([_molar_mass(name) for name in names])
    pascal = 100.0 * np.array(
        [float(vapour_pressure_mbar(name, temperature_C, extrapolate=True)) for name in names]
    )
    speed: FloatArray = 1e-4 * pascal / np.sqrt(2.0 * np.pi * 1e-3 * masses * GAS_CONSTANT * T)
    return speed


def _rows_at(at: float, x: FloatArray, rows: FloatArray) -> list[float]:
    """Each column of a table between its rows."""
    return [float(np.interp(at, x, column)) for column in rows.T]


def _molar_mass(element: str) -> float:
    mass = find_entry(element).molar_mass_g_mol
    assert mass is not None, element  # every part of our table has one
    return mass


@cache
def _data() -> dict[str, dict[str, Any]]:
    return tomllib.loads(files(__package__).joinpath("alloys.toml").read_text("utf-8"))
