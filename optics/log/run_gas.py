"""The gas of one run of a jar: what tells of it, and tables of it over leak, walls and sticking.

A jar is known by a leak and a pump, or by the pressure that its pump holds. Where nobody says how
fast that pump is, it is the usual one of unknown speed, as in ``sheet`` and ``assay``: leak,
pressure and speed are then one unknown of the jar, the gas that comes in.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np

from .._typing import FloatArray
from ..deposition.film_pump import solve_film
from ..deposition.gas_balance import MetalFlow, make_film
from ..deposition.gas_supply import Chance, find_supply
from ..deposition.gases import read_data, uptake_of
from ..deposition.history import parse_flush
from ..deposition.jar import Jar, as_jar, working_gas_of
from ..deposition.pump import usual_pump
from ..films.materials.catalogue import find_entry
from ..units import parse_quantity

USUAL_PUMPED = "30min"
"""How long a jar is pumped before a run, where nobody says (judgement)."""
READING_DOUBT = 0.4
"""Deviation of the logarithm of a gauge reading, gauge and position (judgement)."""
GAS_AXES = (
    np.linspace(math.log(1e11), math.log(1e19), 13),  # metal on the piece, 1/cm² s
    np.linspace(-4.6, 4.6, 7),  # leak, or the pressure that the pump holds and its speed
    np.linspace(-3.0, 4.6, 5),  # outgassing
    np.array([-2.0, 0.0, 2.0]),  # sticking
)
"""Logarithms that the gas is tabulated at."""
_UNTOLD_MBAR = 1e-4  # held by the pump of a jar of which nothing is said (judgement)
_UNTOLD_LOW_MBAR = 1e-2  # pumped to before a puff, where nobody wrote it down (judgement)
_UNIT_FLUX = 1e15


def is_known_by_pressure(jar: Jar) -> bool:
    """Whether what tells of the gas is the pressure that the pump holds, and no leak."""
    return jar.base_mbar is not None and jar.rise is None and jar.leak_mbar_l_s is None


def jar_of(done: Mapping[str, str], facts: Mapping[str, Any]) -> Jar:
    """The jar of a run.

    Where neither leak nor pressure is known, what the gauge read in the run counts as the pressure
    that the pump holds, unless a working gas made it.
    """
    jar = as_jar(facts.get("jar"))
    if done.get("plastic") == "yes":
        jar = replace(jar, plastic=True)
    if jar.rise is None and jar.leak_mbar_l_s is None:
        read = "base_pressure" if "base_pressure" in done else "gauge_reading"
        if read in done and (read == "base_pressure" or _is_untold(jar, done)):
            base = parse_quantity(done[read], "pressure_mbar", f"`{read}`")
            air = _is_untold(jar, done) and base > _UNTOLD_MBAR
            jar = replace(jar, base_mbar=base, residue="air" if air else jar.residue)
        elif jar.pump is None and jar.base_mbar is None:
            jar = replace(jar, base_mbar=_UNTOLD_MBAR)
    if jar.pump is not None:
        return jar
    return replace(jar, pump=usual_pump(jar.base_mbar or _UNTOLD_MBAR))


def _is_untold(jar: Jar, done: Mapping[str, str]) -> bool:
    return jar.pump is None and jar.base_mbar is None and "working_gas" not in done


def pressure_share(jar: Jar) -> float:
    """How much of the logarithm of the gas that comes in is that of the pressure held.

    The rest is that of the speed of a pump that is not known: what one part of a sum of two normal
    numbers is expected to be, by its share of the variance.
    """
    if jar.pump is None or jar.pump.doubt is None or not is_known_by_pressure(jar):
        return 1.0
    pressure = base_doubt()
    return float(pressure**2 / (pressure**2 + jar.pump.doubt**2))


def base_doubt() -> float:
    """Deviation of the logarithm of a base pressure, from run to run of the log too."""
    return float(read_data()["stated"]["pressure_doubt"]) + 0.3  # lids differ (judgement)


def leak_doubt(jar: Jar, *, told: bool = True) -> float:
    """Doubt of the logarithm of the gas that comes into a jar: seals age, lids differ.

    Parameters
    ----------
    jar : Jar
        As :func:`jar_of` gives it.
    told : bool
        Whether anybody told a leak or a base pressure.
    """
    unmeasured = float(read_data()["stated"]["unmeasured_leak_doubt"])
    if not is_known_by_pressure(jar):
        measured = jar.rise is not None or jar.leak_mbar_l_s is not None
        return 0.7 if measured else unmeasured  # measured once (judgement)
    speed = 0.0 if jar.pump is None or jar.pump.doubt is None else jar.pump.doubt
    return math.hypot(base_doubt() if told else unmeasured, speed)


def working_of(done: Mapping[str, str], facts: Mapping[str, Any]) -> tuple[str, float] | None:
    """Working gas of a run and its true pressure [mbar]."""
    if "working_gas" not in done:
        return None
    gas = working_gas_of(done["working_gas"]) or "Ar"
    name = "working_pressure" if "working_pressure" in done else "gauge_reading"
    if name not in done:
        return None
    reading = parse_quantity(done[name], "pressure_mbar", f"`{name}`")
    return gas, as_jar(facts.get("jar")).true_pressure_mbar(reading, gas)


def pressure_read(done: Mapping[str, str], jar: Jar, *, name: str) -> float | None:
    """Logarithm of a reading that the leak of a jar makes, before the run or in it; None without.

    Parameters
    ----------
    done : mapping
    jar : Jar
    name : {"base_pressure", "gauge_reading"}
    """
    if name not in done or is_known_by_pressure(jar):
        return None
    if name == "gauge_reading" and "working_gas" in done:
        return None
    return math.log(max(parse_quantity(done[name], "pressure_mbar", f"`{name}`"), 1e-12))


def flush_left(done: Mapping[str, str], jar: Jar) -> float:
    """What a flush leaves of the gas that was there, as far as it does not come back."""
    flush = parse_flush(done.get("flush"))
    if flush is None:
        return 1.0
    low = flush.low_mbar or jar.base_mbar or _UNTOLD_LOW_MBAR
    return flush.share_left(low)


class _GridChance(Chance):
    """Factors laid out on a grid in place of drawn ones."""

    def __init__(self, jar: Jar, leak: FloatArray, gassing: FloatArray, stick: FloatArray) -> None:
        self.rows = leak.size
        share = pressure_share(jar)
        self._ln_factors = {
            "leak": leak, "pressure": share * leak, "speed": (1.0 - share) * leak,
            "outgassing": gassing, "plastic": gassing, "sticking": stick,
        }  # fmt: skip

    def factor(self, name: str, _: float) -> FloatArray:
        """The factors of the grid, whatever the usual doubt; 1 of what is not varied."""
        found: FloatArray = np.exp(self._ln_factors.get(name, np.zeros(self.rows)))
        return found


@lru_cache(maxsize=256)
def gas_table(
    jar: Jar,
    metal: str,
    working: tuple[str, float] | None,
    *,
    pumped_s: float,
    ln_nm_per_g: float,
) -> FloatArray:
    """Offer of oxygen, and pressure, over flux, leak, outgassing and sticking (2, 13, 7, 5, 3)."""
    entry = find_entry(metal)
    points = np.array(list(product(*GAS_AXES)))
    chance = _GridChance(jar, points[:, 1], points[:, 2], points[:, 3])
    supply = find_supply(jar, max(pumped_s, 1.0), chance, working=working, warm=True)
    flux = np.exp(points[:, 0])
    # atoms on 1 cm² of the piece over all that leave: nm/cm² of one gram, as atoms
    share = math.exp(ln_nm_per_g) * 1e-7 * (entry.density_g_cm3 or math.nan)
    flow = MetalFlow(entry.name, _UNIT_FLUX, _UNIT_FLUX / share, piece_cm2=1.0)
    film = make_film(jar, flow, uptake_of(entry.name), supply=supply, chance=chance)
    balance = replace(film, flux_per_cm2_s=film.flux_per_cm2_s * (flux / _UNIT_FLUX)[:, None])
    state = solve_film(balance)
    both = np.stack([state.offered[:, 1], state.partial_mbar.sum(axis=1)])
    values: FloatArray = np.log(np.maximum(both, 1e-30))
    return values.reshape(2, *(axis.size for axis in GAS_AXES))


@lru_cache(maxsize=256)
def base_table(jar: Jar, pumped_s: float) -> FloatArray:
    """Logarithm of the pressure before a run [mbar], over leak and outgassing, shape (7, 5)."""
    points = np.array(list(product(GAS_AXES[1], GAS_AXES[2])))
    chance = _GridChance(jar, points[:, 0], points[:, 1], np.zeros(len(points)))
    supply = find_supply(jar, max(pumped_s, 1.0), chance)
    found: FloatArray = np.log(np.maximum(supply.alone_mbar.sum(axis=1), 1e-30))
    return found.reshape(GAS_AXES[1].size, GAS_AXES[2].size)
