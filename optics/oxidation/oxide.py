"""Metal an oxide uses up, oxygen it takes on, and whether it sits under stress."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import InputError
from ..films.materials.catalogue import find_entry

_PROTECTS = (1.0, 2.0)  # N. B. Pilling and R. E. Bedworth, J. Inst. Met. 29 (1923) 529
_MICROGRAM_PER_NM = 0.1  # µg/cm² of one nanometre at 1 g/cm³


@dataclass(frozen=True)
class OxideRatio:
    """What a nanometre of oxide takes and weighs.

    ``volume_ratio`` is the Pilling-Bedworth ratio: volume of oxide per volume of the metal in it;
    ``oxygen_share`` the mass of oxygen per mass of oxide.
    """

    volume_ratio: float
    oxygen_share: float
    oxide_density_g_cm3: float

    def metal_used_nm(self, oxide_nm: ArrayLike) -> FloatArray:
        """Thickness of metal turned into so much oxide [nm], shape of the input."""
        return np.asarray(np.asarray(oxide_nm, dtype=float) / self.volume_ratio)

    def mass_gain_ug_cm2(self, oxide_nm: ArrayLike) -> FloatArray:
        """Oxygen taken on [µg/cm²], shape of the input."""
        per_nm = _MICROGRAM_PER_NM * self.oxide_density_g_cm3 * self.oxygen_share
        return np.asarray(np.asarray(oxide_nm, dtype=float) * per_nm)

    @property
    def stress(self) -> str:
        """What the ratio says of stress and cracks, after Pilling and Bedworth."""
        low, high = _PROTECTS
        if self.volume_ratio < low:
            return "the oxide is smaller than its metal: it cannot cover it and grows on through"
        if self.volume_ratio > high:
            return (
                "the oxide is much larger than its metal: thick films are pressed together and "
                "tend to crack or flake"
            )
        return "the oxide covers its metal under moderate pressure; thin films stay whole"


def oxide_ratio(metal: str, oxide: str, metal_atoms: int) -> OxideRatio:
    """Pilling-Bedworth ratio and mass of an oxide with so many atoms of metal in its formula.

    Densities and molar masses are those of the materials' index; `InputError` where it has none.
    ``(M_ox / ρ_ox) / (a M_metal / ρ_metal)``; N. B. Pilling and R. E. Bedworth, J. Inst. Met. 29
    (1923) 529. It depends on the density: amorphous oxide gives a larger one than the crystal.
    """
    (metal_mass, metal_density), (oxide_mass, oxide_density) = (
        _handbook(name) for name in (metal, oxide)
    )
    ratio = oxide_mass / oxide_density / (metal_atoms * metal_mass / metal_density)
    oxygen_share = 1.0 - metal_atoms * metal_mass / oxide_mass
    return OxideRatio(ratio, oxygen_share, oxide_density)


def _handbook(name: str) -> tuple[float, float]:
    entry = find_entry(name)
    if entry.molar_mass_g_mol is None or entry.density_g_cm3 is None:
        raise InputError(f"no density or molar mass is shipped for {name}")
    return entry.molar_mass_g_mol, entry.density_g_cm3
