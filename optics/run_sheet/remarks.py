"""What to mind about a layer and about a run, in plain sentences."""

from __future__ import annotations

from ..deposition.alloys import is_alloy
from ..deposition.arrival import Arrival
from ..deposition.charges import BEAM_ONLY, charge_remarks
from ..deposition.gas_balance import GasBalance
from ..deposition.setup import Setup
from ..deposition.source_plan import FASTEST_NM_S, SourcePlan, WirePlan
from ..deposition.vapour import HOTTEST_K, KELVIN, has_vapour_data
from ..films.materials.catalogue import MaterialEntry
from ..report.format import format_percent, format_scientific
from ..units import format_digits, format_duration
from .gas import SURE, MetalLimits

_SCATTERED = 0.9  # share of straight flight below which gas on the way is worth a word
_MORE = 0.05  # in the probability of metal, from which a pump is worth a word
_APART = 1.25  # factor between a rate stated and one computed that is worth a word

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


def remarks_on(
    entry: MaterialEntry | None, label: str, plan: SourcePlan, *, setup: Setup,
    balance: GasBalance | None, limits: MetalLimits | None, time_s: float,
) -> tuple[str, ...]:  # fmt: skip
    """What to mind about a layer."""
    if entry is None or entry.density_g_cm3 is None:
        return (f"no density is known for {label}, so the charge is not computed",)
    said: list[str] = []
    if setup.source.kind != "sputter":
        said += _source_remarks(entry, plan)
        if plan.wire is not None:
            said += _wire_remarks(entry, plan.wire, plan, time_s)
        charge = charge_remarks(entry.name)
        said += [text for text in (_holder(charge.holder, setup), charge.attacks) if text]
    said += _rate_remarks(plan)
    if is_alloy(entry.name):
        said += _alloy_remarks(entry, plan, setup)
    if balance is not None:
        said += _discharge_remarks(setup, balance)
        said += _gas_remarks(entry.name, balance, limits)
    elif entry.kind in ("metal", "alloy"):
        said.append(f"how {entry.name} takes oxygen is not known: coat a trial slide first")
    return tuple(said)


def run_cautions(materials: list[str], arrival: Arrival | None) -> tuple[str, ...]:
    """The usual cautions, those of the materials, and what gas does to the flight."""
    hazards = dict.fromkeys(charge_remarks(name).hazard for name in materials)
    said = [f"{hazard[0].upper()}{hazard[1:]}." for hazard in hazards if hazard]
    if arrival is not None and arrival.directed < _SCATTERED:
        said.append(
            f"At this pressure the mean free path is {arrival.free_path_cm:.3g} cm: "
            f"{format_percent(arrival.directed)} of the vapour still flies straight, "
            f"{format_percent(arrival.factor)} of what would land without gas lands on the piece "
            f"(within a factor of {arrival.doubt:.2g}), and it spreads round edges and masks."
        )
    return (*said, *CAUTIONS)


def _holder(holder: str, setup: Setup) -> str:
    """What the charge is heated in, and whether that is what was asked for."""
    kind = setup.source.kind
    if holder == BEAM_ONLY and kind in ("boat", "wire"):
        return f"source: {holder}: a {kind} will not do, plan it from a point"
    return holder and f"source: {holder}"


def _source_remarks(entry: MaterialEntry, plan: SourcePlan) -> list[str]:
    if plan.heat is None and not has_vapour_data(entry.name):
        return [f"no vapour pressure is held for {entry.name}: set its heat by a trial"]
    if plan.heat is None:
        return [f"no temperature below {HOTTEST_K - KELVIN:.0f} °C gives this rate from here"]
    said, hot_C = [], plan.heat.temperature_C
    if entry.melting_C is not None:
        state = "sublimes" if hot_C < entry.melting_C else "is molten"
        if not is_alloy(entry.name):
            said.append(
                f"{entry.name} {state} at {hot_C:.0f} °C (it melts at {entry.melting_C:.0f} °C)"
            )
    if plan.heat.extrapolated:
        said.append("that temperature lies beyond the data of the vapour pressure")
    if "estimated" in plan.heat.tag:
        said.append("that temperature is an estimate, good to about 50 K")
    return said


def _wire_remarks(
    entry: MaterialEntry, wire: WirePlan, plan: SourcePlan, time_s: float
) -> list[str]:
    said = [] if wire.margin is None else [wire.margin.sentence]
    measured = "melted at" in wire.diameter_from
    good = "" if measured else "; emissivity is known to some 20 %, so that is good to 10 %"
    said.append(
        f"the {wire.wire} wire of {wire.diameter_mm:.3g} mm ({wire.diameter_from}) melts above "
        f"{wire.melting_A:.3g} A{good}"
    )
    if wire.fastest_nm_s is not None:
        said.append(
            f"a wire of {entry.name} itself gives at most {wire.fastest_nm_s:.2g} nm/s here, "
            f"30 K below its melting point"
        )
    if wire.carries and plan.possible:
        said.append(f"the charge hangs on a {wire.wire} wire")
    if wire.wires > 1:
        said.append(
            f"one wire is used up before the layer is there: {wire.wires} in turn, or a thicker one"
        )
    elif wire.lasts_s < time_s and wire.last_A is not None:
        said.append(
            f"lower the current slowly, to {wire.last_A:.3g} A at the end, as the wire thins: kept "
            f"at {wire.current_A:.3g} A it burns out after {format_duration(wire.lasts_s)}"
        )
    asked = plan.asked_nm_s
    if asked is not None and wire.stated_nm_s is not None and plan.possible:
        factor = max(asked, wire.stated_nm_s) / max(min(asked, wire.stated_nm_s), 1e-300)
        if factor > _APART and wire.stated_nm_s < FASTEST_NM_S:
            said.append(
                f"at the {wire.stated_A:.3g} A you state the wire is at {wire.stated_C:.0f} °C and "
                f"gives {wire.stated_nm_s:.2g} nm/s by computation, against the {asked:g} nm/s you "
                f"state: the plan goes by the rate"
            )
    return said


def _rate_remarks(plan: SourcePlan) -> list[str]:
    said = []
    if plan.asked_nm_s is None and plan.rate_factor == 1.0:
        said.append(
            f"no rate was given: the plan goes by {plan.rate_nm_s:g} nm/s; measure yours, the time "
            f"follows"
        )
    elif plan.rate_factor > 1.0:
        said.append(
            f"the rate is {plan.rate_from}, within a factor of {plan.rate_factor:.2g}: a measured "
            f"one is better"
        )
    return said


def _alloy_remarks(entry: MaterialEntry, plan: SourcePlan, setup: Setup) -> list[str]:
    if setup.source.kind == "sputter":
        return [
            f"sputtered {entry.name} keeps its composition once the target is burnt in: run it for "
            f"some minutes behind a shutter"
        ]
    if not plan.fractions:
        return [f"heated {entry.name} comes apart, its more volatile part first"]
    first, last = (
        max(one.film.items(), key=lambda part: part[1])
        for one in (plan.fractions[0], plan.fractions[-1])
    )
    return [
        f"heated {entry.name} comes apart: the first film is {format_percent(first[1])} "
        f"{first[0]}, the last {format_percent(last[1])} {last[0]} (Raoult's law); sputter it, or "
        f"evaporate the metals one after the other"
    ]


def _pumped_remark(balance: GasBalance, limits: MetalLimits) -> list[str]:
    """What a pump would change: a film cannot take up more than it lets in."""
    better = {
        speed: metal
        for speed, metal in limits.metal_if_pumped.items()
        if metal > balance.states["metal"] + _MORE
    }
    if not better:
        return []
    chances = ", ".join(f"{format_percent(metal)} with {speed}" for speed, metal in better.items())
    taken = (
        "the residual gas is taken to stay at its pressure whatever the film takes, which is the "
        "worst case"
    )
    if (pump := balance.jar.pump) is not None:
        some = format_digits(pump.speed_l_s)
        taken = f"the speed of the pump was not given and is taken as some {some} l/s"
    return [
        f"{taken}: what a pump lets in is all that a film can take up, and the chance of metal is "
        f"{chances}; give the speed of yours"
    ]


def _discharge_remarks(setup: Setup, balance: GasBalance) -> list[str]:
    """A sputter source burns in a gas let in; where none is named, the pressure may be its own."""
    if setup.source.kind != "sputter" or balance.working_gas is not None:
        return []
    return [
        f"a sputter source burns in a gas let in, mostly argon, and none was named: all of the "
        f"{format_scientific(balance.total_mbar)} mbar count as residual gas; name the working gas "
        f"and its pressure, and give the residual gas alone"
    ]


def _gas_remarks(name: str, balance: GasBalance, limits: MetalLimits | None) -> list[str]:
    said, metal = [], balance.states["metal"]
    if balance.gate is not None and balance.offered_per_metal > 0.1 and metal >= 0.5:
        why = "does not form on a cold film" if balance.gate.slow else "cannot form"
        said.append(
            f"{balance.gate.oxide} {why} from the oxygen that is here, however much meets the film"
        )
    if balance.nitride >= 0.05:
        said.append(
            f"nitrogen makes it golden {name} nitride, which conducts, with a probability of "
            f"{format_percent(balance.nitride)}"
        )
    if metal >= SURE:
        return said
    if limits is not None:
        ways = []
        if limits.below_mbar is not None:
            ways.append(
                f"below {format_scientific(limits.below_mbar)} mbar of residual gas at this rate"
            )
        if limits.above_nm_s is not None:
            ways.append(f"above {limits.above_nm_s:.2g} nm/s in this gas")
        if ways:
            said.append(f"to keep {name} metal nine times in ten: {', or '.join(ways)}")
        said += _pumped_remark(balance, limits)
    said.append(f"if it comes out grey or clear, look for {CAUSES}")
    if balance.jar.plastic:
        said.append("plastic near the piece is expected to add water; take it out if you can")
    return said
