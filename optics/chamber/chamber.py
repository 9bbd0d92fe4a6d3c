"""What gas is in my jar? Leak, pump, puffs, gauge, and what the gas makes of a growing metal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from .._typing import FloatArray
from ..deposition.alloys import alloys, is_alloy, molar_mass_of, most_reactive
from ..deposition.gas_balance import MetalFlow, gas_balance
from ..deposition.gas_supply import Chance, GasSupply, find_supply, working_shares
from ..deposition.gases import (
    GASES,
    MOLECULES_PER_MBAR_L,
    metal_per_cm2_s,
    metals,
    read_data,
)
from ..deposition.geometry import Placement, Source, SourceKind, share_on
from ..deposition.history import Flush, follow_pressures, parse_flush
from ..deposition.jar import Gauge, Jar, Residue, as_jar, read_number, read_working
from ..deposition.metal_run import takes_gas
from ..deposition.pump import Pump, Tube
from ..deposition.rise_test import RiseTest
from ..errors import InputError, LimitError, UnknownNameError, suggest_nearest
from ..films.materials.catalogue import find_entry
from ..films.materials.effective_medium import Grade, Mixture
from ..films.materials.nk_table import Material
from ..films.materials.stand_ins import metal_in_place_of
from ..films.notation import parse_medium
from .result import ChamberState, FlushEffect, Inflow

USUAL_METALS = ("Ti", "Al", "Cr", "Cu", "Ag", "Au")
MOST_METALS = 12
_PIECE_CM2 = 10.0
_TIMES_TO_RECOVER = 3.0  # time constants V/S until a leak is back to 95 %


def chamber(
    jar: Jar | Mapping[str, Any] | str | Path | None = None,
    *,
    volume: str | float | None = None,
    rise: str | RiseTest | None = None,
    leak: str | float | None = None,
    outgassing: str | float | None = None,
    base_pressure: str | float | None = None,
    residue: Residue | None = None,
    pumping: str | float | Pump | None = None,
    ultimate: str | float | None = None,
    tube: str | Tube | None = None,
    walls: str | float | None = None,
    plastic: bool | None = None,
    gauge: Gauge | None = None,
    flush: str | Flush | None = None,
    working_gas: str | None = None,
    working_pressure: str | float | None = None,
    metal: str | Sequence[str] = USUAL_METALS,
    rate: str | float = "0.2nm/s",
    source: SourceKind = "wire",
    distance: str | float = "5cm",
    duration: str | float = "20min",
    pumped: str | float = "30min",
) -> ChamberState:
    """Gas in a chamber from pump-down to the end of a run, and what metals become in it.

    Parameters
    ----------
    jar : Jar, mapping, str or Path, optional
        The chamber, its parts by the names below, or the TOML file that describes it so.
    volume, pumping, ultimate, tube, walls
        ``"3l"``; ``"2l/s"`` and ``"1e-3mbar"`` of the pump alone; length and bore ``"1m,8mm"``;
        inner surface ``"1200cm2"``. A number has the unit l, l/s, mbar, cm². These and the next
        ones take the place of the jar's own.
    rise : str or RiseTest, optional
        With the valve shut: a pressure, then pressure and time of each later reading,
        ``"5e-3mbar,5e-2mbar,60s"``.
    leak, outgassing : str or float, optional
        In place of it [mbar l/s]; outgassing is that after an hour of pumping.
    base_pressure, residue : optional
        What the pump holds [mbar], and of what: ``"water"`` or ``"air"``.
    plastic : bool, optional
        Whether plastic masks, tape, paint or grease are in it.
    gauge : {"absolute", "pirani", "ion"}, optional
    flush : str or Flush, optional
        Puffs of working gas: ``"3,5mbar"``, or ``"3,5mbar,1e-2mbar"`` with the pressure that is
        pumped to before each.
    working_gas : str, optional
        ``"argon"`` (where a working pressure is given), ``"nitrogen"`` or ``"air"``.
    working_pressure : str or float, optional
        What the gauge shows with it [mbar].
    metal : str or sequence of str
        Metals and alloys to weigh: ``"Ti"``, ``"Ti,brass"``.
    rate : str or float
        Growth on the piece [nm/s].
    source : {"wire", "point", "plane", "boat", "sputter"}
    distance : str or float
        From source to piece [mm].
    duration, pumped : str or float
        How long metal grows, and how long the pump has run before [s].

    Raises
    ------
    InputError
        If anything given is refused, or the pumping speed is not known.

    Examples
    --------
    >>> found = chamber(leak="1e-3mbar.l/s", pumping="2l/s", metal="Ti")
    >>> found.verdicts
    {'Ti': 'metal'}
    """
    jar = as_jar(
        jar, volume=volume, rise=rise, leak=leak, outgassing=outgassing,
        base_pressure=base_pressure, residue=residue, pumping=pumping, ultimate=ultimate, tube=tube,
        walls=walls, plastic=plastic, gauge=gauge,
    )  # fmt: skip
    if jar.pump is None:
        raise InputError(
            "the chamber needs a pumping speed, such as `pumping` 2l/s", parameter="pumping"
        )
    rate_nm_s = read_number("rate", rate, "rate_nm_s")
    run = ChamberRun(
        parse_flush(flush),
        *read_working(jar, working_gas, working_pressure),
        rate_nm_s,
        source,
        read_number("duration", duration, "time_s"),
        read_number("pumped", pumped, "time_s"),
    )
    from_mm = read_number("distance", distance, "length_mm")
    share = float(share_on(Source(source), Placement(from_mm)))
    return weigh_run(jar, run, [_flow(name, run, share) for name in _read_metals(metal)])


@dataclass(frozen=True)
class ChamberRun:
    """What is done in the chamber."""

    flush: Flush | None
    working: tuple[str, float] | None  # gas, and true pressure of all gases with it [mbar]
    reading_mbar: float | None
    rate_nm_s: float
    source: SourceKind
    duration_s: float
    pumped_s: float


def weigh_run(jar: Jar, run: ChamberRun, flows: Sequence[MetalFlow]) -> ChamberState:
    """The gas of a run, with each of several metals."""
    gas, pressure = (None, None) if run.working is None else run.working
    given: dict[str, Any] = {
        "working_gas": gas,
        "working_pressure_mbar": pressure,
        "duration_s": run.duration_s,
        "pumped_s": run.pumped_s,
    }
    films = tuple(gas_balance(jar, flow, **given) for flow in flows)
    chance = Chance(0, None)  # the middle alone
    held = find_supply(jar, run.pumped_s, chance)
    before = find_supply(jar, run.pumped_s, chance, working=run.working)
    return ChamberState(
        jar=jar,
        working_gas=gas,
        reading_mbar=run.reading_mbar,
        working_pressure_mbar=pressure,
        inflow=_inflow(jar, held),
        pumping_l_s=_by_gas(1.0 / before.per_speed_s_l[0]),
        held_mbar=float(held.alone_mbar[0].sum()),
        held_partial_mbar=_by_gas(held.alone_mbar[0]),
        partial_mbar=_by_gas(before.alone_mbar[0]),
        feed_mbar_l_s=None if gas is None else _feed(before, gas),
        flush=None if run.flush is None else _flush_effect(jar, run.flush, held),
        rate_nm_s=run.rate_nm_s,
        source=run.source,
        duration_s=run.duration_s,
        films=films,
        history=follow_pressures(jar, flows[0], run.flush, **given),
    )


def _read_metals(metal: str | Sequence[str]) -> list[str]:
    names = metal.split(",") if isinstance(metal, str) else list(metal)
    if not 1 <= len(names) <= MOST_METALS:
        raise LimitError(f"`metal` must name 1 to {MOST_METALS} metals", parameter="metal")
    parts = [part for name in names for part in _metals_in(name.strip())]
    return list(dict.fromkeys(_read_metal(part) for part in parts))


def _metals_in(name: str) -> tuple[str, ...]:
    """The metals of a mixture or a grade such as ``Ti:Al 50%``: each meets the gas by itself."""
    if ":" not in name and "->" not in name:
        return (name,)
    try:
        mixed = parse_medium(name)
    except InputError:
        return (name,)
    both = (mixed.first, mixed.second) if isinstance(mixed, Mixture | Grade) else ()
    named = [part.name for part in both if isinstance(part, Material) and takes_gas(part.name)]
    return tuple(named) or (name,)


def _read_metal(name: str) -> str:
    """A metal or an alloy by any of its names, as the handbook has it, or what stands for it."""
    known = [*metals(), *alloys()]
    stands = metal_in_place_of(name)
    try:
        found = find_entry(stands if stands and not is_alloy(name) else name).name
    except UnknownNameError:
        offer = suggest_nearest(name, known) or f"use {', '.join(known)}"
        refusal = f"`metal` cannot be {name!r:.40}; {offer}"
        raise UnknownNameError(refusal, parameter="metal") from None
    if not takes_gas(found):
        raise UnknownNameError(
            f"`metal` cannot be {name!r:.40}: how it takes up gas is not known; use "
            f"{', '.join(known)}",
            parameter="metal",
        )
    return found


def _flow(metal: str, run: ChamberRun, share: float) -> MetalFlow:
    """A metal on its way; ``share`` of its vapour lands on a square centimetre of the piece."""
    density, molar_mass = find_entry(metal).density_g_cm3, molar_mass_of(metal)
    if density is None or molar_mass is None:
        raise InputError(f"the density of {metal} is not known", parameter="metal")
    flux = float(metal_per_cm2_s(run.rate_nm_s, density, molar_mass))
    target = read_data()["target"]["area_cm2"] if run.source == "sputter" else None
    return MetalFlow(
        most_reactive(metal), flux, flux / share, min(_PIECE_CM2, 0.5 / share), target,
        alloy=metal if is_alloy(metal) else "",
    )  # fmt: skip


def _by_gas(values: FloatArray) -> dict[str, float]:
    return dict(zip(GASES, values.tolist(), strict=True))


def _feed(before: GasSupply, gas: str) -> float:
    """Working gas to let in before metal flows, ``S p`` less what leaks in of it [mbar l/s]."""
    kept = working_shares(gas) > 0.0
    drawn = before.alone_mbar[0] / before.per_speed_s_l[0] - before.own_mbar_l_s
    return float(np.maximum(drawn[kept], 0.0).sum())


def _inflow(jar: Jar, held: GasSupply) -> Inflow:
    """Leak and outgassing as they were told or found, without a source that warms the walls."""
    total = float(held.own_mbar_l_s.sum())
    molecules = MOLECULES_PER_MBAR_L * total
    if (test := jar.inflow) is not None:
        known = test.outgassing_mbar_l_s if test.separated else None
        return Inflow(total, molecules, test.leak_mbar_l_s, test.leak_interval90, known, "rise")
    leak = jar.leak_mbar_l_s
    if leak is not None:
        return Inflow(total, molecules, leak, None, max(total - leak, 0.0), "stated")
    if jar.base_mbar is not None:
        return Inflow(total, molecules, None, None, None, "base pressure")
    usual = float(read_data()["stated"]["unmeasured_leak_mbar_l_s"])
    return Inflow(total, molecules, usual, None, max(total - usual, 0.0), "usual")


def _flush_effect(jar: Jar, puffs: Flush, held: GasSupply) -> FlushEffect:
    """What puffs leave, and how soon the leak has brought it back."""
    low = puffs.low_mbar if puffs.low_mbar is not None else float(held.alone_mbar[0].sum())
    share = puffs.share_left(low)
    nitrogen_s_l = float(held.per_speed_s_l[0, GASES.index("N2")])
    back_s = _TIMES_TO_RECOVER * jar.volume_l * nitrogen_s_l
    return FlushEffect(puffs.puffs, low, puffs.high_mbar, share, low * share, back_s)
