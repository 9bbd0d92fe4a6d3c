"""A metal growing in the gas of a chamber: all that decides whether it stays one."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

from ..errors import InputError, OutOfRangeError
from ..films.materials.catalogue import find_entry
from .alloys import is_alloy, molar_mass_of, most_reactive
from .gas_balance import DRAWS, GasBalance, MetalFlow, gas_balance
from .gases import metal_per_cm2_s, metals
from .history import Flush
from .jar import Jar

_PIECE_CM2 = 10.0
_MOST_ON_PIECE = 0.9  # of the metal that leaves, whatever the size stated


@dataclass(frozen=True)
class MetalRun:
    """A metal growing in the gas of a chamber, as it was done or as it is planned.

    Attributes
    ----------
    metal : str
        Of the film; of an alloy its most reactive part meets the gas.
    rate_nm_s : float
        Growth at the piece [nm/s].
    jar : Jar
    working_gas : str or None
        ``Ar``, ``N2`` or ``air``, at ``working_mbar`` [mbar] in all.
    distance_cm : float
        From the source to the piece [cm].
    duration_s, pumped_s : float
        Time of growth, and of pumping before it [s].
    flush : Flush or None
        Puffs of argon before the run.
    getter_cm2 : float
        Wall under titanium that a run behind the shutter left fresh [cm²].
    target_cm2 : float or None
        Size of a sputter target; None for a hot source.
    piece_cm2 : float
        Size of the piece [cm²].
    spread_cm2 : float or None
        Area over which what leaves the source would grow at the rate of the piece [cm²]; by
        default ``π d²``, as from a small source that the piece faces.
    rate_at_half : float
        Rate at half the distance over that at the distance [-].
    free_path_cm : float
        Way of the vapour between collisions that rate and spread hold for [cm].
    draws : int
        Draws of what is in doubt.

    Raises
    ------
    InputError
        If it is not known how the metal takes gas, or how dense it is.
    """

    metal: str
    rate_nm_s: float
    jar: Jar
    working_gas: str | None = None
    working_mbar: float | None = None
    distance_cm: float = 10.0
    duration_s: float = 600.0
    pumped_s: float = 1800.0
    flush: Flush | None = None
    getter_cm2: float = 0.0
    target_cm2: float | None = None
    piece_cm2: float = _PIECE_CM2
    spread_cm2: float | None = None
    rate_at_half: float = 4.0
    free_path_cm: float = math.inf
    draws: int = DRAWS

    def __post_init__(self) -> None:
        if not takes_gas(self.metal):
            raise InputError(
                f"how {self.metal} takes gas is not known, so its run says nothing about it",
                parameter="metal",
            )
        if not 1e-6 <= self.rate_nm_s <= 1e4:
            raise OutOfRangeError(
                f"`rate` is {self.rate_nm_s:g} nm/s; it must be 1e-06 to 10000 nm/s",
                parameter="rate",
            )
        if not 1.0 <= self.distance_cm <= 500.0:
            raise OutOfRangeError(
                f"`distance` is {self.distance_cm:g} cm; it must be 1 to 500 cm",
                parameter="distance",
            )

    @property
    def flow(self) -> MetalFlow:
        """Metal that lands and that leaves: a small source facing the piece sends ``F π d²``."""
        density, molar_mass = find_entry(self.metal).density_g_cm3, molar_mass_of(self.metal)
        if not density or not molar_mass:
            raise InputError(
                f"the density of {self.metal} is not known, so its run says nothing about it",
                parameter="metal",
            )
        landed = float(metal_per_cm2_s(self.rate_nm_s, density, molar_mass))
        spread_cm2 = self.spread_cm2 or math.pi * self.distance_cm**2
        return MetalFlow(
            most_reactive(self.metal), landed, landed * spread_cm2,
            min(self.piece_cm2, _MOST_ON_PIECE * spread_cm2), self.target_cm2,
            alloy=self.metal if is_alloy(self.metal) else "",
        )  # fmt: skip

    @cached_property
    def balance(self) -> GasBalance:
        """The gas in it, and what that makes of the metal."""
        return gas_balance(
            self.jar, self.flow, working_gas=self.working_gas,
            working_pressure_mbar=self.working_mbar, duration_s=min(self.duration_s, 1e6),
            pumped_s=self.pumped_s, getter_cm2=self.getter_cm2, draws=self.draws,
        )  # fmt: skip

    def at_half_distance(self) -> MetalRun:
        """The same thickness from the same source, half as far away."""
        spread_cm2 = self.spread_cm2
        return replace(
            self, distance_cm=0.5 * self.distance_cm,
            rate_nm_s=self.rate_at_half * self.rate_nm_s,
            duration_s=self.duration_s / self.rate_at_half,
            spread_cm2=None if spread_cm2 is None else spread_cm2 / self.rate_at_half,
        )  # fmt: skip


def takes_gas(material: str) -> bool:
    """Whether it is known how a metal, or the most reactive part of an alloy, takes gas."""
    return most_reactive(material) in metals()
