"""Laying a film down: how much charge, how hot, how long, through which wire."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from ..errors import InputError, OutOfRangeError
from .geometry import Piece, Placement, Source, share_on
from .wire import check_diameter

_NM_PER_CM = 1e7


@dataclass(frozen=True)
class Heater:
    """What heats the charge.

    Attributes
    ----------
    area_cm2 : float or None
        Hot surface that gives vapour [cm²]; by default that of the wire, or 1 cm².
    wire_mm : float or None
        Diameter of a wire source [mm].
    wire : str or None
        Metal of the wire. By default the layer's own where that stays solid, else tungsten with
        the charge hung on it.
    current_A : float or None
        Current through the wire, or of a sputter source's discharge [A].
    voltage_V : float or None
        Of the discharge [V].
    melted_at_A, cold_ohm : float or None
        In place of the diameter: the current at which a wire like it melted [A], or its
        resistance at room temperature [ohm].

    Raises
    ------
    OutOfRangeError, InputError
        If a number is not possible, or the diameter is given in two ways.
    """

    area_cm2: float | None = None
    wire_mm: float | None = None
    wire: str | None = None
    current_A: float | None = None
    voltage_V: float | None = None
    melted_at_A: float | None = None
    cold_ohm: float | None = None

    def __post_init__(self) -> None:
        ways = {
            "wire_diameter": self.wire_mm,
            "melted_at": self.melted_at_A,
            "cold_ohms": self.cold_ohm,
        }
        given = [name for name, value in ways.items() if value is not None]
        if len(given) > 1:
            raise InputError(
                f"`{given[0]}` and `{given[1]}` both say how thick the wire is; give one of them",
                parameter=given[1],
            )
        if self.wire_mm is not None:
            check_diameter(self.wire_mm)
        if self.current_A is not None and not 1e-4 <= self.current_A <= 1e5:
            raise OutOfRangeError(
                f"the current is {self.current_A:g} A; it must be 0.0001 to 100000 A",
                parameter="current",
            )
        if self.area_cm2 is not None and not 1e-3 <= self.area_cm2 <= 1e4:
            raise OutOfRangeError(
                f"the hot surface is {self.area_cm2:g} cm²; it must be 0.001 to 10000 cm²"
            )


@dataclass(frozen=True)
class Setup:
    """The chamber's mechanics: source, place and size of the piece, heater, tooling.

    Attributes
    ----------
    tooling : float
        Thickness measured on a piece over thickness computed for it [-].
    """

    source: Source
    placement: Placement
    piece: Piece
    heater: Heater = field(default_factory=Heater)
    tooling: float = 1.0

    def __post_init__(self) -> None:
        if not 0.01 <= self.tooling <= 100.0:
            raise OutOfRangeError(
                f"the tooling factor is {self.tooling:g}; it must be 0.01 to 100, and is thickness "
                f"measured over thickness computed"
            )


def tooling_factor(computed_nm: float, measured_nm: float, *, used: float = 1.0) -> float:
    """Tooling factor from a measured piece.

    Parameters
    ----------
    computed_nm, measured_nm : float
        Thickness the sheet had promised, and the one found [nm].
    used : float
        Tooling factor the sheet was made with.

    Raises
    ------
    OutOfRangeError
        If a thickness is not above 0.
    """
    for what, value in (("computed", computed_nm), ("measured", measured_nm)):
        if not 0.0 < value < math.inf:
            raise OutOfRangeError(f"the {what} thickness is {value:g} nm; it must be above 0")
    return used * measured_nm / computed_nm


def charge_mass_g(thickness_nm: float, density_g_cm3: float, setup: Setup) -> float:
    """Charge that must evaporate for a thickness in the middle of the piece [g].

    ``d ρ / (share of the vapour per area × tooling)``; the share is that of
    :func:`~oxhue.optics.deposition.geometry.share_on`.
    """
    share = float(share_on(setup.source, setup.placement)) * setup.tooling
    return thickness_nm / _NM_PER_CM * density_g_cm3 / share


def thickness_from_charge_nm(mass_g: float, density_g_cm3: float, setup: Setup) -> float:
    """Thickness in the middle of the piece from a charge wholly evaporated [nm]."""
    return mass_g / charge_mass_g(1.0, density_g_cm3, setup)
