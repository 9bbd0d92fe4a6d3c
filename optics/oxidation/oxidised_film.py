"""A deposited film of metal, part of it oxide: its index, its thickness, its sheet resistance."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..electrical.thin_film import (
    compound_ohm_cm,
    conducting_metals,
    film_metal,
    metal_sheet_ohm,
)
from ..errors import InputError, UnknownNameError
from ..films.materials.catalogue import find_entry, load_material
from ..films.materials.effective_medium import Mixture, bruggeman
from ..films.materials.medium import Medium

# What a film of each metal turns into where oxygen is plenty: the phase that cold films have
# (common practice, no source). Metals left out have no oxide whose index is held.
_OXIDES = {
    "Ti": "TiO2(amorphous)", "Al": "Al2O3(film)", "Cr": "Cr2O3(film)", "Cu": "Cu2O", "Ni": "NiO",
    "Fe": "Fe2O3(hematite)", "Zr": "ZrO2(film)", "Nb": "Nb2O5(amorphous)",
    "Ta": "Ta2O5(amorphous)", "W": "WO3", "Mo": "MoO3(amorphous)", "V": "V2O5(film)", "Mg": "MgO",
    "Zn": "ZnO(film)", "Sn": "SnO2", "In": "In2O3(film)", "Ag": "Ag2O",
}  # fmt: skip
_NITRIDES = {"Ti": "TiN", "V": "VN"}
_REDUCED_OHM_CM = 0.1, 10.0  # of oxide that holds too little oxygen: what was measured spans this
_MOST_OHM = 1e12  # beyond it nothing is measured


@dataclass(frozen=True)
class OxidisedFilm:
    """What a film of metal has become.

    Attributes
    ----------
    medium : Medium
    thickness_nm : float
        Oxide takes more room than the metal in it [nm].
    ohm_sq : tuple of float or None
        5 and 95 % points [ohm per square]; None where not known.
    """

    medium: Medium
    thickness_nm: float
    ohm_sq: tuple[float, float] | None


def film_oxide(metal: str) -> str:
    """The oxide that a deposited film of a metal turns into; empty where no index is held."""
    return _OXIDES.get(metal, "")


def film_nitride(metal: str) -> str:
    """The nitride of a metal; empty where no index is held."""
    return _NITRIDES.get(metal, "")


def oxidise_film(
    metal: Medium, name: str, metal_nm: float, *, share: float,
    parts: Mapping[str, float] | None = None,
) -> OxidisedFilm | None:  # fmt: skip
    """A film in which a share of the metal has become oxide, mixed throughout.

    Parameters
    ----------
    metal : Medium
        As deposited.
    name : str
        Of the metal or alloy in the handbook.
    metal_nm : float
        Thickness of metal deposited [nm].
    share : float
        Of the metal atoms that are in oxide [-], above 0.
    parts : mapping, optional
        Share of each metal among the atoms of an alloy [-].

    Returns
    -------
    OxidisedFilm or None
        None where no index of the oxide is held.

    Notes
    -----
    ``1 - x + x r`` times as thick, with r the volume of oxide for one of metal (Pilling and
    Bedworth); index and conductivity follow from the symmetric effective medium (Bruggeman). An
    alloy's parts oxidise alike: where part of it is metal the oxide of most volume stands for all
    of them, where none is the two of most volume are mixed.
    """
    volumes = oxide_volumes(name, parts or {name: 1.0})
    if not volumes:
        return None
    ratio = sum(volumes.values())
    grown = 1.0 - share + share * ratio
    thickness_nm, volume = metal_nm * grown, share * ratio / grown
    first, *others = volumes
    if share < 1.0:
        mixed = Mixture(metal, load_material(first), volume)
        return OxidisedFilm(mixed, thickness_nm, _mixed_ohm(name, metal_nm, thickness_nm, volume))
    medium: Medium = load_material(first)
    if others:
        second = volumes[others[0]] / (volumes[first] + volumes[others[0]])
        medium = Mixture(medium, load_material(others[0]), second)
    ohms = [_compound_ohm(oxide, thickness_nm) for oxide in volumes]
    known = [one for one in ohms if one is not None]
    span = (min(one[0] for one in known), max(one[1] for one in known)) if known else None
    return OxidisedFilm(medium, thickness_nm, span)


def oxide_volumes(name: str, parts: Mapping[str, float]) -> dict[str, float]:
    """Volume of each oxide that a metal or an alloy turns into, for one of it [-].

    The greatest comes first; empty where no index of one is held, or the alloy's density is not.
    """
    weight = sum(x * (find_entry(part).molar_mass_g_mol or 0.0) for part, x in parts.items())
    density = find_entry(name).density_g_cm3
    if not density or not weight or not all(map(film_oxide, parts)):
        return {}
    found: dict[str, float] = {}
    for part, share in parts.items():
        metal, oxide = find_entry(part), film_oxide(part)
        if not metal.molar_mass_g_mol or not metal.density_g_cm3:
            return {}
        # volume of the part alone for one of the alloy
        alone = share * density / weight * metal.molar_mass_g_mol / metal.density_g_cm3
        found[oxide] = found.get(oxide, 0.0) + alone * compound_volume(part, oxide)
    return dict(sorted(found.items(), key=lambda one: -one[1]))


def nitride_film(name: str, metal_nm: float) -> OxidisedFilm | None:
    """A film that has become nitride throughout; None where no index of it is held."""
    nitride = film_nitride(name)
    if not nitride:
        return None
    thickness_nm = metal_nm * compound_volume(name, nitride)
    return OxidisedFilm(load_material(nitride), thickness_nm, _compound_ohm(nitride, thickness_nm))


def compound_volume(metal: str, compound: str) -> float:
    """Volume of a compound for one of the metal in it [-], from densities and molar masses."""
    one, other = find_entry(metal), find_entry(compound)
    counts = dict(re.findall(r"([A-Z][a-z]?)(\d*)", other.name))
    density = other.density_g_cm3 or find_entry(other.name).density_g_cm3
    atoms = int(counts[metal] or 1)
    if not (one.density_g_cm3 and one.molar_mass_g_mol and density and other.molar_mass_g_mol):
        raise InputError(f"the density of {metal} or {compound} is not known")
    return other.molar_mass_g_mol * one.density_g_cm3 / (one.molar_mass_g_mol * density * atoms)


def _compound_ohm(name: str, thickness_nm: float) -> tuple[float, float] | None:
    try:
        low, high = compound_ohm_cm(name)
    except UnknownNameError:
        return None
    return 1e7 * low / thickness_nm, 1e7 * high / thickness_nm


def _mixed_ohm(
    metal: str, metal_nm: float, thickness_nm: float, volume: float
) -> tuple[float, float] | None:
    if metal not in conducting_metals():
        return None
    known = film_metal(metal)
    sheet = metal_sheet_ohm(
        known, metal_nm, np.array(known.impurity), percolation_nm=known.percolation_nm
    )
    own_ohm_cm = 1e-7 * np.minimum(sheet, _MOST_OHM) * metal_nm
    conductivity = bruggeman(1.0 / np.array(_REDUCED_OHM_CM), 1.0 / own_ohm_cm, 1.0 - volume).real
    low, high = np.sort(1e7 / (conductivity * thickness_nm)).tolist()
    return low, high
