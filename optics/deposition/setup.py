"""Laying a film down: how much charge, how hot, how long, through which wire."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

from ..errors import OutOfRangeError
from ..films.materials.catalogue import MaterialEntry
from .geometry import Piece, Placement, Source, share_on
from .vapour import (
    SourceTemperature,
    evaporation_g_cm2_s,
    has_vapour_data,
    temperature_for_rate,
    vapour_pressure_mbar,
)
from .wire import (
    MeltingMargin,
    check_diameter,
    melting_margin,
    wire_current_A,
    wire_lifetime_s,
    wire_materials,
    wire_power_W_cm,
    wire_temperature_C,
)

FILAMENT = "W"
BELOW_MELTING_K = 30.0
"""How near its melting point a wire is run at most (common practice, no source)."""
OPEN_AREA_CM2 = 1.0  # surface of a charge where none is stated
_NM_PER_CM = 1e7


@dataclass(frozen=True)
class Heater:
    """What heats the charge.

    Attributes
    ----------
    area_cm2 : float or None
        Hot surface that gives vapour [cm²]; by default that of the wire, or 1 cm².
    wire_mm : float
        Diameter of a wire source [mm].
    wire : str or None
        Metal of the wire. By default the layer's own where that stays solid, else tungsten with
        the charge hung on it.
    current_A : float or None
        A current one means to use, to see what it gives.
    """

    area_cm2: float | None = None
    wire_mm: float = 0.8
    wire: str | None = None
    current_A: float | None = None

    def __post_init__(self) -> None:
        check_diameter(self.wire_mm)
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

    @property
    def hot_area_cm2(self) -> float:
        """Surface that gives vapour [cm²]."""
        if self.heater.area_cm2 is not None:
            return self.heater.area_cm2
        if self.source.kind == "wire":
            return math.pi * self.heater.wire_mm * self.source.length_mm / 100.0
        return OPEN_AREA_CM2


@dataclass(frozen=True)
class WirePlan:
    """How a hot wire does the job.

    Attributes
    ----------
    wire : str
        Metal of the wire.
    carries : bool
        Whether the charge hangs on it, rather than being the wire itself.
    possible : bool
        Whether the wire stays solid at the temperature needed.
    current_A, power_W, lifetime_s : float or None
        At that temperature; None where it is not possible or not known.
    margin : MeltingMargin or None
        How far the layer's own metal is from melting when it gives useful vapour.
    fastest_own_nm_s : float or None
        Rate a wire of the layer's own metal gives 30 K below its melting point [nm/s].
    at_current_C, at_current_nm_s : float or None
        Temperature and rate at the current one means to use.
    """

    wire: str
    carries: bool
    possible: bool
    current_A: float | None
    power_W: float | None
    lifetime_s: float | None
    margin: MeltingMargin | None
    fastest_own_nm_s: float | None
    at_current_C: float | None
    at_current_nm_s: float | None


@dataclass(frozen=True)
class Charge:
    """Remarks on a material in its holder; empty where nothing is held."""

    holder: str = ""
    attacks: str = ""
    hazard: str = ""


def tooling_factor(computed_nm: float, measured_nm: float, used: float = 1.0) -> float:
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


def source_temperature(
    entry: MaterialEntry, rate_nm_s: float, setup: Setup
) -> SourceTemperature | None:
    """How hot the charge must be for a rate in the middle of the piece; None where not known.

    Raises
    ------
    OutOfRangeError
        If no temperature below 4000 K gives that rate.
    """
    density, molar = entry.density_g_cm3, entry.molar_mass_g_mol
    if density is None or molar is None or not has_vapour_data(entry.name):
        return None
    flux = charge_mass_g(rate_nm_s, density, setup) / setup.hot_area_cm2
    return temperature_for_rate(entry.name, flux, molar)


def rate_at_nm_s(entry: MaterialEntry, temperature_C: float, setup: Setup) -> float | None:
    """Rate in the middle of the piece from a charge at a temperature [nm/s]; None if not known."""
    density, molar = entry.density_g_cm3, entry.molar_mass_g_mol
    if density is None or molar is None or not has_vapour_data(entry.name):
        return None
    pressure = vapour_pressure_mbar(entry.name, temperature_C, extrapolate=True)
    flux = float(evaporation_g_cm2_s(pressure, temperature_C, molar))
    return flux * setup.hot_area_cm2 / charge_mass_g(1.0, density, setup)


def wire_plan(entry: MaterialEntry, needed: SourceTemperature | None, setup: Setup) -> WirePlan:
    """How a hot wire gives a layer its rate.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If the wire asked for is not known, or the current asked for would melt it.
    """
    own_C = _solid_limit_C(entry)
    own = own_C is not None and needed is not None and needed.temperature_C <= own_C
    wire = setup.heater.wire or (entry.name if own else FILAMENT)
    fastest = None if own_C is None else rate_at_nm_s(entry, own_C, setup)
    current = power = life = None
    possible = needed is not None and (wire != entry.name or own)
    if needed is not None and possible:
        hot = needed.temperature_C
        try:
            current = float(wire_current_A(wire, setup.heater.wire_mm, hot))
            per_cm = float(wire_power_W_cm(wire, setup.heater.wire_mm, hot))
            power = 0.1 * setup.source.length_mm * per_cm
            life = wire_lifetime_s(wire, setup.heater.wire_mm, hot)
        except OutOfRangeError:  # hotter than the wire's data go
            possible = False
    at_C = at_rate = None
    if setup.heater.current_A is not None:
        at_C = wire_temperature_C(wire, setup.heater.wire_mm, setup.heater.current_A)
        at_rate = rate_at_nm_s(entry, at_C, setup)
    return WirePlan(
        wire, wire != entry.name, possible, current, power, life,
        melting_margin(entry.name), fastest, at_C, at_rate,
    )  # fmt: skip


def charge_remarks(material: str) -> Charge:
    """What a charge is held in, what it attacks, what is dangerous about it."""
    return Charge(**_remarks().get(material, {}))


def _solid_limit_C(entry: MaterialEntry) -> float | None:
    """Hottest a wire of a layer's own metal is run [°C]; None where there is no such wire."""
    if entry.name not in wire_materials() or entry.melting_C is None:
        return None
    return entry.melting_C - BELOW_MELTING_K


@cache
def _remarks() -> dict[str, dict[str, str]]:
    return tomllib.loads(files(__package__).joinpath("charges.toml").read_text("utf-8"))
