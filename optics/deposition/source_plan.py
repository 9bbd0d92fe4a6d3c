"""What a source can give a layer: rate, heat, current, charge, and where it falls short."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from ..errors import InputError, OutOfRangeError
from ..films.materials.catalogue import MaterialEntry
from .alloys import (
    Fraction,
    alloy_parts,
    alloy_temperature_C,
    fractions_of,
    is_alloy,
    molar_mass_of,
)
from .arrival import Arrival, arrival
from .hot_wire import (
    Wire,
    WireCurve,
    diameter_from_melting,
    diameter_from_resistance_mm,
    wire_curve,
)
from .setup import Setup, charge_mass_g
from .sputter import RATE_DOUBT, Discharge, has_yield, sputtered_g_s
from .vapour import (
    HOTTEST_K,
    KELVIN,
    SourceTemperature,
    evaporation_g_cm2_s,
    has_vapour_data,
    temperature_for_rate,
    vapour_pressure_mbar,
)
from .wire import MeltingMargin, melting_margin, wire_materials

USUAL_NM_S = 1.0  # where nothing tells the rate (common practice, no source)
FILAMENT = "W"
BELOW_MELTING_K = 30.0
"""How near its melting point a wire is run at most (common practice, no source)."""
OPEN_AREA_CM2 = 1.0  # surface of a charge where none is stated
LONGEST_S = 86_400.0  # nobody lets a jar run for more than a day
FASTEST_NM_S = 100.0
"""Faster than this nobody steers a layer (judgement)."""
WIRE_DOUBT = 3.0
"""Factor either way of a rate from a wire's current (judgement): emissivity is known to some 20 %,
which is 4 % in temperature and a factor of three in vapour."""
_VAPOUR_DOUBT = 1.5  # of a rate from a temperature: the vapour pressures scatter so
_TABLE_ROWS = 8
_USABLE = 1.0 / 3.0  # of a wire's diameter, if its current follows; hot spots end it (judgement)
_STEPS = np.array([1.0, 2.0, 5.0])


@dataclass(frozen=True)
class WireRow:
    """A current through a wire of the layer's own metal, and what it does."""

    current_A: float
    temperature_C: float
    rate_nm_s: float
    lasts_s: float


@dataclass(frozen=True)
class WirePlan:
    """How a hot wire does the job.

    Attributes
    ----------
    wire : str
        Metal of the wire.
    diameter_mm, length_mm : float
        Of the wire, unwound.
    diameter_from : str
        What told the diameter.
    carries : bool
        Whether the charge hangs on it, rather than being the wire itself.
    melting_A : float
        Current above which it melts, or leaves the data held [A].
    current_A, power_W, temperature_C : float or None
        As planned, the last at the hottest spot; None where the heat needed is not known.
    lasts_s : float
        Time to burn-out if that current is kept up [s].
    last_A : float or None
        Current at the end of the layer that keeps the thinned wire at its heat [A].
    wires : int
        How many such wires the layer takes, one after the other, each used until a third of its
        diameter is gone.
    margin : MeltingMargin or None
        How far the layer's own metal is from melting when it gives useful vapour.
    fastest_nm_s : float or None
        Rate of a wire of the layer's own metal 30 K below its melting point [nm/s].
    stated_A, stated_C, stated_nm_s : float or None
        The current stated, its heat, and the rate it gives.
    table : tuple of WireRow
        Of a wire of the layer's own metal, up to the melting current.
    """

    wire: str
    diameter_mm: float
    length_mm: float
    diameter_from: str
    carries: bool
    melting_A: float
    current_A: float | None
    power_W: float | None
    temperature_C: float | None
    lasts_s: float
    last_A: float | None
    wires: int
    margin: MeltingMargin | None
    fastest_nm_s: float | None
    stated_A: float | None
    stated_C: float | None
    stated_nm_s: float | None
    table: tuple[WireRow, ...]


@dataclass(frozen=True)
class SourcePlan:
    """What the source does for a layer.

    Attributes
    ----------
    rate_nm_s : float
        In the middle of the piece, as planned: what was asked for, or what the source can give.
    asked_nm_s : float or None
    rate_from : str
        Where the rate comes from, in words.
    rate_factor : float
        Factor either way within which the rate is known; 1 for one that was measured.
    why_not : str
        Why the source cannot do what was asked; empty where it can.
    mass_g : float or None
        Charge that must evaporate; None for a sputter target, or where the density is not known.
    heat : SourceTemperature or None
        How hot the charge must be; None where not known or for a sputter target.
    wire : WirePlan or None
    arrival : Arrival or None
        What gas on the way leaves of the vapour.
    fractions : tuple of Fraction
        How a heated alloy comes apart.
    """

    rate_nm_s: float
    asked_nm_s: float | None = None
    rate_from: str = ""
    rate_factor: float = 1.0
    why_not: str = ""
    mass_g: float | None = None
    heat: SourceTemperature | None = None
    wire: WirePlan | None = None
    arrival: Arrival | None = None
    fractions: tuple[Fraction, ...] = ()

    @property
    def possible(self) -> bool:
        """Whether the source can do what was asked."""
        return not self.why_not


@dataclass(frozen=True)
class _Vapour:
    """A layer's material on its way from the source to the piece."""

    name: str
    density_g_cm3: float
    molar_mass: float | None
    thickness_nm: float
    setup: Setup
    way: Arrival

    @property
    def nm_per_g(self) -> float:
        """Thickness in the middle of the piece for each gram that leaves the source."""
        return self.way.factor / charge_mass_g(1.0, self.density_g_cm3, self.setup)

    @property
    def mass_g(self) -> float:
        return self.thickness_nm / self.nm_per_g

    def heat_for(self, rate_nm_s: float, area_cm2: float) -> SourceTemperature | None:
        """How hot a surface must be; None where no vapour pressure is held."""
        flux = rate_nm_s / self.nm_per_g / area_cm2
        if is_alloy(self.name):
            alloy_C = alloy_temperature_C(self.name, flux)
            if alloy_C is None:
                return None
            pressure = sum(
                share * float(vapour_pressure_mbar(part, alloy_C, extrapolate=True))
                for part, share in alloy_parts(self.name).items()
            )
            return SourceTemperature(alloy_C, pressure, False, "Raoult's law over the parts")
        if self.molar_mass is None or not has_vapour_data(self.name):
            return None
        return temperature_for_rate(self.name, flux, self.molar_mass)

    def rate_at(self, temperature_C: float, area_cm2: float) -> float | None:
        """Rate [nm/s] from a hot surface; None where no vapour pressure is held."""
        if self.molar_mass is None or not has_vapour_data(self.name):
            return None
        pressure = vapour_pressure_mbar(self.name, temperature_C, extrapolate=True)
        flux = float(evaporation_g_cm2_s(pressure, temperature_C, self.molar_mass))
        return flux * area_cm2 * self.nm_per_g


def plan_source(
    entry: MaterialEntry | None,
    thickness_nm: float,
    setup: Setup,
    *,
    rate_nm_s: float | None = None,
    free_path_cm: float = math.inf,
) -> SourcePlan:
    """What the source does for a layer, and whether it can do what is asked.

    Parameters
    ----------
    entry : MaterialEntry or None
        None for a medium that no handbook line is held for: then only the rate is told.
    thickness_nm : float
    setup : Setup
    rate_nm_s : float, optional
        Asked for, or measured for a sputter target, and then corrected by the tooling factor. By
        default what the source gives: the current or the discharge stated, else the most a wire
        can for as long as the layer takes, else 1 nm/s.
    free_path_cm : float
        Of the gas in the way.

    Raises
    ------
    InputError
        If a wire's diameter is not known, or its metal is not.
    """
    tooled = setup.tooling if setup.source.kind == "sputter" else 1.0
    asked = None if rate_nm_s is None else rate_nm_s * tooled
    usual = SourcePlan(asked or USUAL_NM_S * tooled, rate_nm_s, _rate_words(rate_nm_s, setup))
    if entry is None or entry.density_g_cm3 is None:
        return usual
    molar = molar_mass_of(entry.name)
    way = arrival(setup.source, setup.placement, free_path_cm, molar_mass=molar or 50.0)
    vapour = _Vapour(entry.name, entry.density_g_cm3, molar, thickness_nm, setup, way)
    usual = replace(usual, arrival=way)
    if setup.source.kind == "sputter":
        return _plan_sputter(vapour, usual, asked)
    if setup.source.kind == "wire":
        return _plan_wire(entry, vapour, usual)
    return _plan_open(vapour, usual)


def _rate_words(rate_nm_s: float | None, setup: Setup) -> str:
    if rate_nm_s is None:
        return "usual, for none was given"
    return "measured" if setup.source.kind == "sputter" else "asked for"


def _plan_sputter(vapour: _Vapour, usual: SourcePlan, asked: float | None) -> SourcePlan:
    heater = vapour.setup.heater
    if asked is not None or heater.voltage_V is None or vapour.molar_mass is None:
        return usual
    if heater.current_A is None:
        raise InputError(
            "`voltage` and `current` of the discharge go together, such as 500V and 50mA",
            parameter="voltage",
        )
    if not has_yield(vapour.name):
        return replace(usual, rate_from="usual, for no sputter yield is held")
    lost = sputtered_g_s(
        vapour.name, vapour.molar_mass, Discharge(heater.voltage_V, heater.current_A)
    )
    return replace(
        usual,
        rate_nm_s=lost * vapour.nm_per_g,
        rate_from=f"computed from {heater.voltage_V:g} V and {1e3 * heater.current_A:g} mA",
        rate_factor=RATE_DOUBT * vapour.way.doubt,
    )


def _plan_open(vapour: _Vapour, usual: SourcePlan) -> SourcePlan:
    """From a boat, a crucible or a beam."""
    area = vapour.setup.heater.area_cm2 or OPEN_AREA_CM2
    plan, rate = usual, usual.rate_nm_s
    try:
        heat = vapour.heat_for(rate, area)
    except OutOfRangeError:
        top_C = HOTTEST_K - KELVIN
        rate = vapour.rate_at(top_C, area) or rate
        heat = vapour.heat_for(0.999 * rate, area)
        plan = replace(
            plan,
            rate_nm_s=0.999 * rate,
            rate_from="the most that this source can give",
            why_not=f"no temperature below {top_C:.0f} °C gives {usual.rate_nm_s:g} nm/s from here",
        )
    hot_C = None if heat is None else heat.temperature_C
    apart = fractions_of(vapour.name, hot_C) if hot_C and is_alloy(vapour.name) else ()
    return replace(plan, mass_g=vapour.mass_g, heat=heat, fractions=apart)


def _plan_wire(entry: MaterialEntry, vapour: _Vapour, usual: SourcePlan) -> SourcePlan:
    """From a wire of the layer's own metal where that can, else from one that carries a charge."""
    own = entry.name in wire_materials()
    stated = vapour.setup.heater.wire
    if own and stated in (None, entry.name):
        wire, told_by = wire_of(vapour.setup, entry.name)
        plan = _plan_own_wire(wire_curve(wire), vapour, usual, told_by)
        if stated is not None or plan.possible or usual.asked_nm_s is None:
            return plan
        carried = _plan_carrier(vapour, usual)
        return carried if carried.possible else plan
    return _plan_carrier(vapour, usual)


def wire_of(setup: Setup, metal: str) -> tuple[Wire, str]:
    """The wire of a setup, its diameter as stated or worked out, and what told it.

    Raises
    ------
    InputError
        If nothing tells the diameter.
    """
    source, heater = setup.source, setup.heater
    start = Wire(metal, 1e-2, source.length_mm, source.coil)
    if heater.wire_mm is not None:
        return replace(start, diameter_mm=heater.wire_mm), "as stated"
    if heater.melted_at_A is not None:
        found = _melted(start, heater.melted_at_A)
        return found, f"from one that melted at {heater.melted_at_A:g} A"
    if heater.cold_ohm is not None:
        across = diameter_from_resistance_mm(metal, source.length_mm, heater.cold_ohm)
        return replace(start, diameter_mm=across), f"from {heater.cold_ohm:g} ohm when cold"
    raise InputError(
        "the diameter of the wire decides its heat and is not known: give `wire_diameter`, or "
        "`melted_at`, the current at which one like it melted, or `cold_ohms`, its resistance at "
        "room temperature",
        parameter="wire_diameter",
    )


@cache
def _melted(start: Wire, melted_at_A: float) -> Wire:
    return diameter_from_melting(start, melted_at_A)


def _plan_own_wire(
    curve: WireCurve, vapour: _Vapour, usual: SourcePlan, told_by: str
) -> SourcePlan:
    """The wire itself evaporates: as asked, at the current stated, or as fast as it can."""
    stated_A = vapour.setup.heater.current_A
    top_A = curve.current_for_C(curve.wire.hottest_C - BELOW_MELTING_K)
    fastest = curve.vapour_at(top_A) * vapour.nm_per_g
    why_not, current_A, rate_from = "", top_A, "the most that this wire can give"
    if usual.asked_nm_s is not None:
        current_A, rate_from = (
            curve.current_for_vapour(usual.rate_nm_s / vapour.nm_per_g),
            "asked for",
        )
        if usual.rate_nm_s > fastest:
            why_not = (
                f"a {curve.wire.metal} wire of {curve.wire.diameter_mm:.2g} mm gives at most "
                f"{fastest:.2g} nm/s here, {BELOW_MELTING_K:.0f} K below its melting point, "
                f"not {usual.rate_nm_s:g} nm/s"
            )
        elif math.isnan(current_A):
            why_not = f"{usual.rate_nm_s:g} nm/s is less than a glowing wire gives"
    elif stated_A is not None:
        current_A, rate_from = stated_A, f"computed from {stated_A:g} A"
        why_not = _why_not_at(curve, vapour, stated_A)
    if why_not:
        current_A, rate_from = top_A, "the most that this wire can give"
    rate = curve.vapour_at(current_A) * vapour.nm_per_g
    measured = usual.asked_nm_s is not None and not why_not
    rate = usual.rate_nm_s if measured else rate
    return replace(
        usual,
        rate_nm_s=rate,
        rate_from=rate_from,
        rate_factor=1.0 if measured else WIRE_DOUBT,
        why_not=why_not,
        mass_g=vapour.mass_g,
        heat=_own_heat(vapour.name, curve.hottest_at(current_A)),
        wire=_wire_plan(curve, vapour, told_by, current_A=current_A, rate_nm_s=rate),
    )


def _why_not_at(curve: WireCurve, vapour: _Vapour, current_A: float) -> str:
    """Why a current through a wire lays no film; empty where it does."""
    wire = curve.wire
    shape = " coil" if wire.coil else " wire"
    if current_A >= curve.melting_A:
        return (
            f"this {wire.metal}{shape} of {wire.diameter_mm:.2g} mm melts above "
            f"{curve.melting_A:.1f} A, and {current_A:g} A is stated"
        )
    hot_C = curve.hottest_at(current_A)
    if math.isnan(hot_C):
        return f"at {current_A:g} A this {wire.metal}{shape} is far too cold to evaporate"
    rate = curve.vapour_at(current_A) * vapour.nm_per_g
    if vapour.thickness_nm / rate > LONGEST_S:
        return (
            f"at {current_A:g} A this {wire.metal}{shape} is at {hot_C:.0f} °C and gives "
            f"{rate:.1g} nm/s: {vapour.thickness_nm:g} nm would take more than a day"
        )
    return ""


def _own_heat(metal: str, hot_C: float) -> SourceTemperature | None:
    if not math.isfinite(hot_C):
        return None
    pressure = float(vapour_pressure_mbar(metal, hot_C, extrapolate=True))
    return SourceTemperature(hot_C, pressure, False, "heat balance of the wire")


def _table(curve: WireCurve, vapour: _Vapour) -> tuple[WireRow, ...]:
    """Rows at round currents up to melting."""
    decade = 10.0 ** math.floor(math.log10(curve.melting_A / 40.0))
    step = float(decade * _STEPS[np.searchsorted(_STEPS, curve.melting_A / 40.0 / decade) % 3])
    last = math.floor((curve.melting_A - 1e-9) / step)
    currents = [step * i for i in range(last - _TABLE_ROWS + 1, last + 1)]
    return tuple(
        WireRow(
            float(f"{current_A:.6g}"),
            curve.hottest_at(current_A),
            curve.vapour_at(current_A) * vapour.nm_per_g,
            curve.life_s(current_A),
        )
        for current_A in currents
        if current_A > curve.current_A[0]
    )


def _wire_plan(
    curve: WireCurve, vapour: _Vapour, told_by: str, *, current_A: float, rate_nm_s: float
) -> WirePlan:
    """The wire at a planned current, nan where the heat needed is not known."""
    wire, stated_A = curve.wire, vapour.setup.heater.current_A
    carries = wire.metal != vapour.name
    stated_C = stated_nm_s = None
    if stated_A is not None and curve.current_A[0] <= stated_A < curve.melting_A:
        stated_C = curve.hottest_at(stated_A)
        if carries:
            stated_nm_s = vapour.rate_at(stated_C, _wire_area_cm2(wire, vapour.setup))
        else:
            stated_nm_s = curve.vapour_at(stated_A) * vapour.nm_per_g
    lasts_s = curve.life_s(current_A) if math.isfinite(current_A) else math.inf
    time_s, usable_s = vapour.thickness_nm / rate_nm_s, curve.thinning_s(current_A, _USABLE)
    wires = max(math.ceil(time_s / usable_s), 1)
    last_A = current_A * (1.0 - _USABLE * time_s / wires / usable_s) ** 1.5
    fastest: float | None = None
    table: tuple[WireRow, ...] = ()
    if not carries:
        top_A = curve.current_for_C(wire.hottest_C - BELOW_MELTING_K)
        fastest, table = curve.vapour_at(top_A) * vapour.nm_per_g, _table(curve, vapour)
    return WirePlan(
        wire=wire.metal,
        diameter_mm=wire.diameter_mm,
        length_mm=wire.length_mm,
        diameter_from=told_by,
        carries=carries,
        melting_A=curve.melting_A,
        current_A=_known(current_A),
        power_W=_known(curve.power_at(current_A)),
        temperature_C=_known(curve.hottest_at(current_A)),
        lasts_s=lasts_s,
        last_A=_known(last_A),
        wires=wires,
        margin=melting_margin(vapour.name),
        fastest_nm_s=fastest,
        stated_A=stated_A,
        stated_C=stated_C,
        stated_nm_s=stated_nm_s,
        table=table,
    )


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _wire_area_cm2(wire: Wire, setup: Setup) -> float:
    return setup.heater.area_cm2 or math.pi * wire.diameter_mm * wire.length_mm / 100.0


def _plan_carrier(vapour: _Vapour, usual: SourcePlan) -> SourcePlan:
    """A charge hung on a wire of another metal."""
    wire, told_by = wire_of(vapour.setup, vapour.setup.heater.wire or FILAMENT)
    curve, area = wire_curve(wire), _wire_area_cm2(wire, vapour.setup)
    plan = _at_stated_current(curve, vapour, usual, area)
    top_C = wire.hottest_C - BELOW_MELTING_K
    try:
        heat = vapour.heat_for(plan.rate_nm_s, area)
    except OutOfRangeError:
        heat = SourceTemperature(HOTTEST_K - KELVIN, math.nan, True, "beyond")
    if heat is not None and heat.temperature_C > top_C:
        most = vapour.rate_at(top_C, area) or plan.rate_nm_s
        plan = replace(
            plan,
            rate_nm_s=0.999 * most,
            rate_from="the most that this wire can give",
            rate_factor=_VAPOUR_DOUBT,
            why_not=f"a {wire.metal} wire melts, or its data end, before {vapour.name} gives "
            f"{plan.rate_nm_s:g} nm/s here; the most is {most:.2g} nm/s",
        )
        heat = vapour.heat_for(plan.rate_nm_s, area)
    current_A = math.nan if heat is None else curve.current_for_C(heat.temperature_C)
    apart = fractions_of(vapour.name, heat.temperature_C) if heat and is_alloy(vapour.name) else ()
    return replace(
        plan,
        mass_g=vapour.mass_g,
        heat=heat,
        wire=_wire_plan(curve, vapour, told_by, current_A=current_A, rate_nm_s=plan.rate_nm_s),
        fractions=apart,
    )


def _at_stated_current(
    curve: WireCurve, vapour: _Vapour, usual: SourcePlan, area_cm2: float
) -> SourcePlan:
    """The rate that a stated current gives a charge, where no rate is asked for."""
    stated_A = vapour.setup.heater.current_A
    if usual.asked_nm_s is not None or stated_A is None or not has_vapour_data(vapour.name):
        return usual
    if stated_A >= curve.melting_A:
        return replace(usual, why_not=_why_not_at(curve, vapour, stated_A))
    hot_C = curve.hottest_at(stated_A)
    rate = None if math.isnan(hot_C) else vapour.rate_at(hot_C, area_cm2)
    if rate is None or vapour.thickness_nm / rate > LONGEST_S:
        cold = f"at {stated_A:g} A the wire is too cold for {vapour.name} to evaporate"
        return replace(usual, why_not=cold)
    if rate > FASTEST_NM_S:
        return replace(
            usual,
            why_not=f"at {stated_A:g} A the wire is at {hot_C:.0f} °C and {vapour.name} flashes "
            f"off at once",
        )
    return replace(
        usual, rate_nm_s=rate, rate_from=f"computed from {stated_A:g} A", rate_factor=WIRE_DOUBT
    )
