"""What gas is in my jar? Leak, pump, puffs, gauge, and what the gas makes of a growing metal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

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
from ..deposition.jar import Jar, as_jar, working_gas_of
from ..errors import InputError, LimitError, UnknownNameError, suggest_nearest
from ..films.materials.catalogue import find_entry
from ..units import parse_quantity
from .result import ChamberState, FlushEffect, Inflow

USUAL_METALS = ("Ti", "Al", "Cr", "Cu", "Ag", "Au")
MOST_METALS = 12
_TIMES_TO_RECOVER = 3.0  # time constants V/S until a leak is back to 95 %


def chamber(
    jar: Jar | Mapping[str, Any] | str | Path | None = None,
    *,
    flush: str | Flush | None = None,
    working_gas: str | None = None,
    working_pressure: str | float | None = None,
    metal: str | Sequence[str] = USUAL_METALS,
    rate: str | float = "0.2nm/s",
    source: SourceKind = "wire",
    distance: str | float = "5cm",
    duration: str | float = "20min",
    pumped: str | float = "30min",
    **parts: Any,
) -> ChamberState:
    """Gas in a chamber from pump-down to the end of a run, and what metals become in it.

    Parameters
    ----------
    jar : Jar, mapping, str or Path, optional
        The chamber, its parts as written, or the TOML file that describes it.
    flush : str or Flush, optional
        Puffs of working gas: ``"3,5mbar"``, or ``"3,5mbar,1e-2mbar"`` with the pressure that is
        pumped to before each.
    working_gas : str, optional
        ``"argon"`` (where a working pressure is given), ``"nitrogen"`` or ``"air"``.
    working_pressure : str or float, optional
        What the gauge shows with it [mbar].
    metal : str or sequence of str
        Metals to weigh: ``"Ti"``, ``"Ti,Cu"``.
    rate : str or float
        Growth on the piece [nm/s].
    source : {"wire", "point", "plane", "boat", "sputter"}
    distance : str or float
        From source to piece [mm].
    duration, pumped : str or float
        How long metal grows, and how long the pump has run before [s].
    **parts
        Parts of the jar in place of its own, as for
        :func:`~oxhue.optics.deposition.jar.make_jar`: ``volume="3l"``, ``pumping="2l/s"``,
        ``rise="5e-3mbar,5e-2mbar,60s"`` ...

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
    jar = as_jar(jar, **parts)
    if jar.pump is None:
        raise InputError(
            "the chamber needs a pumping speed, such as `pumping` 2l/s", parameter="pumping"
        )
    puffs = parse_flush(flush)
    gas = working_gas_of(working_gas)
    reading = None
    if working_pressure is not None:
        reading = _number("working_pressure", working_pressure, "pressure_mbar")
        gas = gas or "Ar"
    elif gas is not None:
        raise InputError(
            "`working_gas` needs `working_pressure` with it", parameter="working_pressure"
        )
    duration_s = _number("duration", duration, "time_s")
    pumped_s = _number("pumped", pumped, "time_s")
    true_mbar = None if reading is None else jar.true_pressure_mbar(reading, gas or "Ar")
    flows = _flows(metal, _number("rate", rate, "rate_nm_s"), source, distance)
    run: dict[str, Any] = {
        "working_gas": gas,
        "working_pressure_mbar": true_mbar,
        "duration_s": duration_s,
        "pumped_s": pumped_s,
    }
    films = tuple(gas_balance(jar, flow, **run) for flow in flows)
    chance = Chance(1, None)
    held = find_supply(jar, pumped_s, chance)
    working = None if gas is None or true_mbar is None else (gas, true_mbar)
    before = find_supply(jar, pumped_s, chance, working=working)
    history = follow_pressures(jar, flows[0], puffs, **run)
    return ChamberState(
        jar=jar,
        working_gas=gas,
        reading_mbar=reading,
        working_pressure_mbar=true_mbar,
        inflow=_inflow(jar, held),
        pumping_l_s=films[0].pumping_l_s,
        held_mbar=float(held.alone_mbar[0].sum()),
        held_partial_mbar=_by_gas(held),
        partial_mbar=_by_gas(before),
        feed_mbar_l_s=None if gas is None else _feed(before, gas),
        flush=None if puffs is None else _flush_effect(jar, puffs, held),
        rate_nm_s=_number("rate", rate, "rate_nm_s"),
        source=source,
        duration_s=duration_s,
        films=films,
        history=history,
    )


def _flows(
    metal: str | Sequence[str], rate_nm_s: float, source: SourceKind, distance: str | float
) -> list[MetalFlow]:
    """Each metal on its way from a source at a distance."""
    names = metal.split(",") if isinstance(metal, str) else list(metal)
    names = list(dict.fromkeys(name.strip() for name in names))
    if not 1 <= len(names) <= MOST_METALS:
        raise LimitError(f"`metal` must name 1 to {MOST_METALS} metals", parameter="metal")
    from_mm = _number("distance", distance, "length_mm")
    share = float(share_on(Source(source), Placement(from_mm)))
    flows = []
    for name in names:
        if name not in metals():
            offer = suggest_nearest(name, metals()) or f"use {', '.join(metals())}"
            raise UnknownNameError(f"`metal` cannot be {name!r:.40}; {offer}", parameter="metal")
        entry = find_entry(name)
        if entry.density_g_cm3 is None or entry.molar_mass_g_mol is None:
            raise InputError(f"the density of {name} is not known", parameter="metal")
        flux = float(metal_per_cm2_s(rate_nm_s, entry.density_g_cm3, entry.molar_mass_g_mol))
        target = read_data()["target"]["area_cm2"] if source == "sputter" else None
        flows.append(MetalFlow(name, flux, flux / share, min(10.0, 0.5 / share), target))
    return flows


def _by_gas(supply: GasSupply) -> dict[str, float]:
    return dict(zip(GASES, supply.alone_mbar[0].tolist(), strict=True))


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


def _number(name: str, value: str | float, dimension: str) -> float:
    if isinstance(value, str):
        return parse_quantity(value, dimension, f"`{name}`")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(
            f"`{name}` must be a text with a unit or a number, not {value!r:.80}", parameter=name
        )
    return float(value)
