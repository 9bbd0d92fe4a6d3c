"""What one layer of a run needs: charge, time, heat, wire, vacuum; and what to mind about it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..deposition.residual_gas import (
    Chamber,
    MetalVerdict,
    mean_free_path_cm,
    metal_verdict,
    takes_oxygen,
)
from ..deposition.setup import (
    Setup,
    WirePlan,
    charge_mass_g,
    charge_remarks,
    source_temperature,
    wire_plan,
)
from ..deposition.vapour import HOTTEST_K, KELVIN, SourceTemperature, has_vapour_data
from ..errors import OutOfRangeError
from ..films.materials.catalogue import MaterialEntry

_BEAM_ONLY = "electron beam only"  # as charges.toml says it
_SCATTERED = 0.1  # share of the vapour that may meet gas on its way before it is worth a word
_SHORT_LIFE_S = 36_000.0

CAUSES = (
    "a leak, water from walls and fresh deposits, fingerprints, and masks, tape, paint or plastics "
    "that give off gas when the source heats them"
)
"""Where the oxygen comes from when a metal does not stay one (common practice, no source)."""

CAUTIONS = (
    "Glass jars under vacuum can implode: use a guard and goggles, and discard scratched ones.",
    "Feedthroughs carry mains-fed current: cover them, and cut and lock off the supply first.",
    "Hot filaments stay hot, glare and spit: look through dark glass, and let them cool in vacuum.",
    "Vent slowly, with dry gas, once the source is cold; hot flakes may catch fire in air.",
    "These notes do not replace local codes or licensed practice; where they differ, follow those.",
)
"""The usual cautions of work in vacuum."""


@dataclass(frozen=True)
class Needs:
    """What a layer needs.

    Attributes
    ----------
    rate_nm_s, time_s : float
    mass_g : float or None
        Charge that must evaporate; None for a sputter target, or where the density is not known.
    source : SourceTemperature or None
        How hot the charge must be; None where not known or for a sputter target.
    wire : WirePlan or None
        For a hot wire.
    metal : MetalVerdict or None
        For a metal whose way with oxygen is known.
    """

    rate_nm_s: float
    time_s: float
    mass_g: float | None
    source: SourceTemperature | None
    wire: WirePlan | None
    metal: MetalVerdict | None


def layer_time_s(thickness_nm: float, rate_nm_s: float, setup: Setup) -> float:
    """How long a layer takes [s].

    The rate is that on the piece, except for a sputter target: its measured rate is corrected
    by the tooling factor.
    """
    return thickness_nm / (rate_nm_s * (setup.tooling if _sputters(setup) else 1.0))


def needs_of(
    entry: MaterialEntry | None,
    thickness_nm: float,
    rate_nm_s: float,
    setup: Setup,
    chamber: Chamber,
    relief: dict[str, float],
) -> Needs:
    """What a layer needs; of a medium that no handbook line is held for, only the time.

    Parameters
    ----------
    relief : dict
        Share of each residual gas that a getter leaves; see ``metal_verdict``.
    """
    time_s = layer_time_s(thickness_nm, rate_nm_s, setup)
    if entry is None or entry.density_g_cm3 is None:
        return Needs(rate_nm_s, time_s, None, None, None, None)
    metal = None
    if entry.kind == "metal" and entry.molar_mass_g_mol is not None and takes_oxygen(entry.name):
        growth = thickness_nm / time_s
        metal = metal_verdict(
            entry.name, growth, entry.density_g_cm3, entry.molar_mass_g_mol, chamber, relief
        )
    if _sputters(setup):
        return Needs(rate_nm_s, time_s, None, None, None, metal)
    mass = charge_mass_g(thickness_nm, entry.density_g_cm3, setup)
    try:
        source = source_temperature(entry, rate_nm_s, setup)
    except OutOfRangeError:  # no source gets hot enough: said in the remarks
        source = None
    hot_wire = setup.source.kind == "wire" and source is not None
    wire = wire_plan(entry, source, setup) if hot_wire else None
    return Needs(rate_nm_s, time_s, mass, source, wire, metal)


def remarks_on(
    entry: MaterialEntry | None, label: str, needs: Needs, setup: Setup, chamber: Chamber
) -> tuple[str, ...]:
    """What to mind about a layer, in plain sentences."""
    if entry is None or entry.density_g_cm3 is None:
        return (f"no density is known for {label}, so the charge is not computed",)
    said = [] if _sputters(setup) else _source_remarks(entry, needs)
    if needs.wire is not None:
        said += _wire_remarks(entry, needs.wire)
    if not _sputters(setup):
        charge = charge_remarks(entry.name)
        said += [text for text in (_holder(charge.holder, setup), charge.attacks) if text]
    if needs.metal is not None:
        said += _metal_remarks(entry.name, needs.metal, chamber)
    return tuple(said)


def _holder(holder: str, setup: Setup) -> str:
    """What the charge is heated in, and whether that is what was asked for."""
    kind = setup.source.kind
    if holder == _BEAM_ONLY and kind in ("boat", "wire"):
        return f"source: {holder}: a {kind} will not do, plan it from a point"
    return holder and f"source: {holder}"


def run_cautions(materials: list[str], setup: Setup, chamber: Chamber) -> tuple[str, ...]:
    """The usual cautions, those of the materials, and what the pressure does to the flight."""
    hazards = dict.fromkeys(charge_remarks(name).hazard for name in materials)
    said = [f"{hazard[0].upper()}{hazard[1:]}." for hazard in hazards if hazard]
    path_cm = float(mean_free_path_cm(chamber.pressure_mbar))
    way_cm = 0.1 * math.hypot(setup.placement.distance_mm, setup.placement.offset_mm)
    scattered = -math.expm1(-way_cm / path_cm)
    if scattered > _SCATTERED:
        said.append(
            f"At this pressure the mean free path is {path_cm:.3g} cm, and {100 * scattered:.0f} % "
            f"of the vapour meets gas on its way: charge and uniformity are then only rough."
        )
    return (*said, *CAUTIONS)


def _source_remarks(entry: MaterialEntry, needs: Needs) -> list[str]:
    if not has_vapour_data(entry.name):
        return [f"no vapour pressure is held for {entry.name}: set its heat by a trial"]
    if needs.source is None:
        return [f"no temperature below {HOTTEST_K - KELVIN:.0f} °C gives this rate from here"]
    said, hot_C = [], needs.source.temperature_C
    if entry.melting_C is not None:
        state = "sublimes" if hot_C < entry.melting_C else "is molten"
        said.append(
            f"{entry.name} {state} at {hot_C:.0f} °C (it melts at {entry.melting_C:.0f} °C)"
        )
    if needs.source.extrapolated:
        said.append("that temperature lies beyond the data of the vapour pressure")
    if "estimated" in needs.source.tag:
        said.append("that temperature is an estimate, good to about 50 K")
    return said


def _wire_remarks(entry: MaterialEntry, wire: WirePlan) -> list[str]:
    said = []
    if wire.margin is not None:
        said.append(wire.margin.sentence)
    if wire.fastest_own_nm_s is not None:
        said.append(
            f"a wire of {entry.name} itself gives at most {wire.fastest_own_nm_s:.2g} nm/s here, "
            f"30 K below its melting point"
        )
    if not wire.possible:
        said.append(f"a {wire.wire} wire cannot do this: it melts, or its data end, before")
    elif wire.carries:
        said.append(f"the charge hangs on a {wire.wire} wire")
    if wire.lifetime_s is not None and wire.lifetime_s < _SHORT_LIFE_S:
        said.append(
            f"bare, the wire is a tenth thinner after {wire.lifetime_s / 3600.0:.2g} h at this heat"
        )
    if wire.at_current_C is not None:
        rate = "" if wire.at_current_nm_s is None else f" and gives {wire.at_current_nm_s:.2g} nm/s"
        said.append(f"at the current you state the wire is at {wire.at_current_C:.0f} °C{rate}")
    return said


def _metal_remarks(name: str, metal: MetalVerdict, chamber: Chamber) -> list[str]:
    if metal.metal >= 0.9:
        return []
    said = [
        f"to keep {name} metal nine times in ten: below {metal.most_mbar:.1e} mbar at this rate, "
        f"or above {metal.least_nm_s:.2g} nm/s at this pressure",
        f"if it comes out grey or clear, look for {CAUSES}",
    ]
    if chamber.plastic:
        said.append("plastic near the piece is expected to add water; take it out if you can")
    return said


def _sputters(setup: Setup) -> bool:
    return setup.source.kind == "sputter"
