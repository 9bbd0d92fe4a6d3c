"""Gas of a chamber without a film: what leaks in, comes off the walls, is let in and pumped out."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from .._typing import BoolArray, FloatArray
from ..errors import InputError
from ..numerics.interpolate import bisect
from .gases import (
    GASES,
    MOLECULES_PER_MBAR_L,
    atoms_left,
    mixture_shares,
    read_data,
    uptake_of,
    wall_speed_l_s_cm2,
)
from .jar import Jar
from .pump import Pump

_NORMAL = NormalDist()
_SEED = 20240
_AIR = ("N2", "O2", "Ar")
_SLOWEST = 1e-12  # l/s, and other things that must not be divided by 0
_DOUBTS = (
    "sticking", "leak", "outgassing", "speed", "pressure", "mixture", "plastic", "walls",
    "target", "capacity", "warmed",
)  # fmt: skip


class Chance:
    """Normal deviates of all that is in doubt: row 0 is the middle, the others fill strata.

    Each doubt has its own, whatever else is asked, so that two answers differ by the question.
    """

    def __init__(self, draws: int, rng: np.random.Generator | None) -> None:
        rng = np.random.default_rng(_SEED) if rng is None else rng
        strata = [_NORMAL.inv_cdf((i + 0.5) / draws) for i in range(draws)]
        self.rows = draws + 1
        self._deviates = {
            name: np.concatenate([[0.0], rng.permutation(strata)]) for name in _DOUBTS
        }

    def factor(self, name: str, doubt: float) -> FloatArray:
        """Factors of middle 1 with a standard deviation of their logarithm, shape (rows,)."""
        factors: FloatArray = np.exp(doubt * self._deviates[name])
        return factors


@dataclass(frozen=True, eq=False)
class GasSupply:
    """Gas of the chamber without film, in the middle (row 0) and for each draw."""

    alone_mbar: FloatArray  # (n, gases)
    per_speed_s_l: FloatArray  # (n, gases); 0 where pressures are held
    inflow_mbar_l_s: float | None
    own_mbar_l_s: FloatArray  # (gases,), leak and outgassing of row 0


def find_supply(
    jar: Jar,
    at_s: float,
    chance: Chance,
    *,
    working: tuple[str, float] | None = None,
    warm: bool = False,
) -> GasSupply:
    """Gas in a chamber without a film.

    Parameters
    ----------
    jar : Jar
    at_s : float
        Since the pump was started [s].
    chance : Chance
    working : tuple of (str, float), optional
        Working gas and the pressure of all gases with it [mbar].
    warm : bool
        Whether a source runs and warms what is near it.

    Raises
    ------
    InputError
        If neither the speed of the pump nor a base pressure is known.
    """
    stated = read_data()["stated"]
    if jar.pump is None:
        if jar.base_mbar is None:
            raise InputError(
                "the chamber needs a pumping speed, `pumping`, or the pressure that its pump "
                "holds, `base_pressure`",
                parameter="pumping",
            )
        held: FloatArray = jar.base_mbar * chance.factor("pressure", stated["pressure_doubt"])
        alone = held[:, None] * _residue(jar, chance)
        per_speed, inflow, own = np.zeros_like(alone), None, np.zeros(len(GASES))
    else:
        scale = pump_scale(jar.pump, chance)
        flow = find_inflow(jar, at_s, chance, warm=warm)
        per_speed = 1.0 / _speed(jar.pump, flow, None if working is None else working[1], scale)
        alone, inflow, own = flow * per_speed, float(flow[0].sum()), flow[0]
    if working is not None:
        rest = np.maximum(working[1] - alone.sum(axis=1), 0.0)[:, None]
        alone = alone + rest * working_shares(working[0])
    return GasSupply(alone, per_speed, inflow, own)


def pump_scale(pump: Pump, chance: Chance) -> FloatArray:
    """Speed of the pump over the nominal one, shape (n,)."""
    doubt = read_data()["stated"]["speed_doubt"] if pump.doubt is None else pump.doubt
    return chance.factor("speed", doubt)


def working_shares(gas: str) -> FloatArray:
    """Shares by pressure of a working gas, shape (gases,)."""
    if gas == "air":
        return mixture_shares("leak")
    shares: FloatArray = np.array([float(one == gas) for one in GASES])
    return shares


def _speed(
    pump: Pump, flow: FloatArray, working_mbar: float | None, scale: FloatArray
) -> FloatArray:
    """Speed at the pressure that is there [l/s], shape (n, gases).

    That is the working pressure, or more where the inflow alone makes more: p S(p) rises with p,
    and the interval of its logarithm is halved until p S(p) = Q.
    """
    if pump.is_even:
        even: FloatArray = np.maximum(pump.speed_at_l_s(np.ones_like(scale), scale), _SLOWEST)
        return even
    total = flow.sum(axis=1)
    shares = (flow + _SLOWEST) / np.sum(flow + _SLOWEST, axis=1, keepdims=True)
    start = math.log(1e-13 if working_mbar is None else working_mbar)
    low, high = np.full(total.size, start), np.full(total.size, max(start, 8.0))

    def draws_less(log_p: FloatArray) -> BoolArray:
        p = np.exp(log_p)
        drawn = p / np.sum(shares / np.maximum(pump.speed_at_l_s(p, scale), _SLOWEST), axis=1)
        return np.asarray(drawn < total)

    _, high = bisect(draws_less, low, high, halvings=50)
    found: FloatArray = np.maximum(pump.speed_at_l_s(np.exp(high), scale), _SLOWEST)
    return found


def find_inflow(jar: Jar, at_s: float, chance: Chance, *, warm: bool = False) -> FloatArray:
    """Leak and outgassing by gas [mbar l/s], shape (n, gases).

    Parameters
    ----------
    jar : Jar
    at_s : float
        Since the pump was started [s].
    chance : Chance
    warm : bool
        Whether a source runs and warms what is near it.
    """
    leak, gassing = _leak_and_walls(jar, at_s, chance)
    flow: FloatArray = np.outer(leak, mixture_shares("leak"))
    if jar.base_mbar is not None and jar.rise is None:
        off_walls = _flow_at_base(jar, leak, chance)
    else:
        off_walls = np.outer(gassing, mixture_shares("walls"))
    if warm:
        facts = read_data()["outgassing"]
        more = facts["warmed"] * chance.factor("warmed", facts["warmed_doubt"])
        more = np.maximum(more, 1.0)[:, None]
        # Of a base pressure said to be air, only what is no air comes off walls.
        air = np.array([jar.base_mbar is not None and gas in _AIR for gas in GASES])
        off_walls = np.where(air, off_walls, more * off_walls)
    flow += off_walls
    if jar.plastic:
        facts = read_data()["outgassing"]
        off = facts["plastic_cm2"] * plastic_mbar_l_s_cm2(chance, warm=warm)
        flow += np.outer(off, mixture_shares("plastic"))
    return flow


def plastic_mbar_l_s_cm2(chance: Chance, *, warm: bool) -> FloatArray:
    """Gas off a square centimetre of plastic [mbar l/s], shape (n,)."""
    facts = read_data()["outgassing"]
    usual = float(facts["plastic_mbar_l_s_cm2"] * (facts["plastic_warmed"] if warm else 1.0))
    return usual * chance.factor("plastic", facts["plastic_doubt"])


def _leak_and_walls(jar: Jar, at_s: float, chance: Chance) -> tuple[FloatArray, FloatArray]:
    """Leak, and outgassing of the walls as one over the time [mbar l/s], each of shape (n,)."""
    stated, facts = read_data()["stated"], read_data()["outgassing"]
    at_hour, doubt = facts["walls_mbar_l_s_cm2"] * jar.inner_cm2, facts["walls_doubt"]
    if jar.outgassing_mbar_l_s is not None:
        at_hour, doubt = jar.outgassing_mbar_l_s, stated["leak_doubt"]
    gassing = at_hour * (3600.0 / at_s) ** facts["power"] * chance.factor("outgassing", doubt)
    if (test := jar.inflow) is not None:
        spread = max(test.leak_interval90[1] / max(test.leak_mbar_l_s, _SLOWEST), 1.05)
        leak = test.leak_mbar_l_s * chance.factor("leak", min(math.log(spread) / 1.645, 1.0))
        if test.separated:
            known = chance.factor("outgassing", stated["leak_doubt"])
            return leak, test.outgassing_mbar_l_s * known
        gassing = np.minimum(gassing, leak)  # the sum is known: what the walls give is no leak
        gassing[0] = 0.0
        return leak - gassing, gassing
    if jar.leak_mbar_l_s is not None:
        return jar.leak_mbar_l_s * chance.factor("leak", stated["leak_doubt"]), gassing
    if jar.base_mbar is not None:
        return np.zeros(chance.rows), gassing
    usual = stated["unmeasured_leak_mbar_l_s"]
    return usual * chance.factor("leak", stated["unmeasured_leak_doubt"]), gassing


def _flow_at_base(jar: Jar, leak: FloatArray, chance: Chance) -> FloatArray:
    """What the pump takes at the base pressure, less the leak where it is known."""
    assert jar.base_mbar is not None  # asked for by the callers
    assert jar.pump is not None
    base = jar.base_mbar * chance.factor("pressure", read_data()["stated"]["pressure_doubt"])
    drawn: FloatArray = base[:, None] * jar.pump.speed_at_l_s(base, pump_scale(jar.pump, chance))
    if jar.leak_mbar_l_s is None:
        return drawn * _residue(jar, chance)
    rest: FloatArray = np.maximum(drawn.mean(axis=1) - leak, 0.0)
    off_walls: FloatArray = np.outer(rest, mixture_shares("walls"))
    return off_walls


def _residue(jar: Jar, chance: Chance) -> FloatArray:
    """What the base pressure is of, shape (n, gases); its oxygen is in doubt."""
    shares = np.tile(mixture_shares(jar.residue), (chance.rows, 1))
    taken = atoms_left("oxygen") > 0.0
    shares[:, taken] *= chance.factor("mixture", read_data()["stated"]["mixture_doubt"])[:, None]
    return shares


def add_getter(
    supply: GasSupply, area_cm2: float, duration_s: float, *, chance: Chance
) -> GasSupply:
    """The gas that a fresh titanium film on the walls leaves, on average over the run.

    Until it has taken up what it can, it pumps with ``A α v/4`` for each gas.
    """
    facts = read_data()["capacity"]
    if not np.all(supply.per_speed_s_l > 0.0):
        raise InputError("a getter needs the pumping speed with it", parameter="pumping")
    wall = area_cm2 * uptake_of("Ti").sticking * wall_speed_l_s_cm2()
    fresh = supply.alone_mbar / (1.0 + wall * supply.per_speed_s_l)
    atoms = atoms_left("oxygen") + atoms_left("nitrogen")
    taken = MOLECULES_PER_MBAR_L * np.sum(fresh * wall * atoms, axis=1) / area_cm2
    capacity = facts["per_cm2"] * chance.factor("capacity", facts["doubt"])
    share = np.minimum(capacity / np.maximum(taken * duration_s, _SLOWEST), 1.0)[:, None]
    left = np.where(supply.alone_mbar > 0.0, fresh / np.maximum(supply.alone_mbar, 1e-300), 1.0)
    mean = share * left + 1.0 - share
    return replace(
        supply, alone_mbar=supply.alone_mbar * mean, per_speed_s_l=supply.per_speed_s_l * mean
    )
