"""What gas is in a chamber while a metal grows, and what that makes of the metal.

One model for every source: gas leaks in and comes off the walls, the pump and the growing film take
it out. The pressure is taken as the same everywhere, which is fair where the way between collisions
is shorter than the chamber; a plume of metal on its way is not followed.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError
from .film_pump import FilmBalance, SputterTarget, Start, SteadyState, solve_film, take_draws
from .gas_supply import (
    Chance,
    GasSupply,
    add_getter,
    find_supply,
    plastic_mbar_l_s_cm2,
    working_shares,
)
from .gases import (
    GASES,
    MOLECULES_PER_MBAR_L,
    OxideGate,
    Uptake,
    atoms_left,
    impingement_per_cm2_s,
    mixture_shares,
    molar_masses,
    oxide_gate,
    read_data,
    uptake_of,
    wall_speed_l_s_cm2,
)
from .jar import Jar

DRAWS = 200
FilmState = Literal["metal", "grey", "oxide"]
_O2 = GASES.index("O2")
_SLOWEST = 1e-12
_WORKING = ("Ar", "N2", "air")


@dataclass(frozen=True)
class MetalFlow:
    """Metal on its way: what it is, how much leaves the source and how much lands on the piece.

    Attributes
    ----------
    metal : str
        As in :func:`~oxhue.optics.deposition.gases.metals`; of an alloy its most reactive part.
    flux_per_cm2_s : float
        Atoms that land on the piece [cm⁻² s⁻¹]; 0 behind a closed shutter. See
        :func:`~oxhue.optics.deposition.gases.metal_per_cm2_s`.
    atoms_per_s : float
        Atoms that leave the source [1/s]; the walls get what the piece does not.
    piece_cm2 : float
        Size of the piece [cm²].
    target_cm2 : float or None
        Size of the sputter target they come from [cm²]; None for a hot source.
    alloy : str
        The alloy it is the most reactive part of; empty for a plain metal.

    Raises
    ------
    OutOfRangeError
        If a number is not possible, or more lands than leaves.
    """

    metal: str
    flux_per_cm2_s: float
    atoms_per_s: float
    piece_cm2: float = 10.0
    target_cm2: float | None = None
    alloy: str = ""

    @property
    def name(self) -> str:
        """What flows, in a word."""
        return self.alloy or self.metal

    def __post_init__(self) -> None:
        uptake_of(self.metal)
        for what, value, low in (
            ("atoms that land", self.flux_per_cm2_s, 0.0),
            ("atoms that leave the source", self.atoms_per_s, 1.0),
            ("size of the piece", self.piece_cm2, 1e-6),
            ("size of the target", self.target_cm2, 1e-3),
        ):
            if value is not None and not low <= value <= 1e30:
                raise OutOfRangeError(f"the {what} must be {low:g} to 1e30, not {value:g}")
        if self.flux_per_cm2_s * self.piece_cm2 > self.atoms_per_s * (1.0 + 1e-9):
            raise OutOfRangeError("more metal lands on the piece than leaves the source")


@dataclass(frozen=True)
class Branch:
    """A steady state of gas, film and target.

    Attributes
    ----------
    start : {"clean", "poisoned"}
        What kind of start runs into it; where there is one state alone, both do.
    oxygen_per_metal, nitrogen_per_metal : float
        In the film on the piece [-].
    target_oxide : float
        Share of a sputter target that is oxide [-].
    rate_share : float
        Metal that leaves the source over that of a clean one [-].
    partial_mbar : dict
    """

    start: Start
    oxygen_per_metal: float
    nitrogen_per_metal: float
    target_oxide: float
    rate_share: float
    partial_mbar: dict[str, float]


@dataclass(frozen=True)
class GasBalance:
    """Gas in a chamber and what it makes of a growing metal.

    Attributes
    ----------
    jar : Jar
    flow : MetalFlow
    working_gas : str or None
        ``Ar``, ``N2`` or ``air``.
    total_mbar : float
        Pressure of all gases while the film grows [mbar].
    partial_mbar : dict
        Pressure of each gas while the film grows [mbar], middle of the doubt.
    alone_mbar : dict
        The same without the film's pumping [mbar].
    pumping_l_s : dict
        Speed of the pump at the chamber for each gas [l/s]; empty where it is not known.
    inflow_mbar_l_s : float or None
        Leak and outgassing, middle of the doubt; None where the pump's speed is not known.
    feed_mbar_l_s : float or None
        Working gas that must be let in [mbar l/s]; None where the pump's speed is not known.
    offered_per_metal : float
        Oxygen atoms that hit the piece for each metal atom that lands on it [-].
    oxygen_per_metal, nitrogen_per_metal : float
        In the film on the piece [-], middle of the doubt; 0 behind a closed shutter.
    oxygen_interval90, nitrogen_interval90 : tuple of float
    states : dict
        Probability of ``metal``, ``grey`` and ``oxide``; they sum to 1.
    nitride : float
        Probability of a nitride that is golden and conducts: part of metal and grey.
    gate : OxideGate or None
        Why this metal's oxide does not grow from O2.
    gate_holds : float
        Probability that it does not [-]; 0 without a gate.
    find_branches : callable
        Gives ``branches``, which few ask for.
    """

    jar: Jar
    flow: MetalFlow
    working_gas: str | None
    total_mbar: float
    partial_mbar: dict[str, float]
    alone_mbar: dict[str, float]
    pumping_l_s: dict[str, float]
    inflow_mbar_l_s: float | None
    feed_mbar_l_s: float | None
    offered_per_metal: float
    oxygen_per_metal: float
    nitrogen_per_metal: float
    oxygen_interval90: tuple[float, float]
    nitrogen_interval90: tuple[float, float]
    states: dict[FilmState, float]
    nitride: float
    gate: OxideGate | None
    gate_holds: float
    find_branches: Callable[[], tuple[Branch, ...]] = field(compare=False, repr=False)

    @functools.cached_property
    def branches(self) -> tuple[Branch, ...]:
        """One steady state, or two: that from clean surfaces first, which all else here is of."""
        return self.find_branches()

    @property
    def verdict(self) -> FilmState:
        """The likeliest state."""
        return max(self.states, key=lambda state: self.states[state])


def gas_balance(
    jar: Jar,
    flow: MetalFlow,
    *,
    working_gas: str | None = None,
    working_pressure_mbar: float | None = None,
    duration_s: float = 600.0,
    pumped_s: float = 1800.0,
    getter_cm2: float = 0.0,
    draws: int = DRAWS,
    rng: np.random.Generator | None = None,
) -> GasBalance:
    """Gas in a chamber while a metal grows in it, and what becomes of the metal.

    Parameters
    ----------
    jar : Jar
    flow : MetalFlow
    working_gas : str, optional
        ``"Ar"``, ``"N2"`` or ``"air"``, let in to hold the working pressure.
    working_pressure_mbar : float, optional
        True pressure of all gases with it [mbar]; see :meth:`Jar.true_pressure_mbar`.
    duration_s : float
        How long the metal grows [s]; the middle of it is what outgassing is taken for.
    pumped_s : float
        How long the pump has run before [s].
    getter_cm2 : float
        Wall under titanium that a run behind the shutter left fresh [cm²].
    draws : int
        Draws of what is in doubt.
    rng : Generator, optional
        By default one of a fixed seed, so that two calls differ by what was asked alone.

    Raises
    ------
    InputError
        If something given is refused.

    Notes
    -----
    For each gas, ``Q = S p + Σ A α Γ (1 - θ)`` with the film's θ of
    :mod:`~oxhue.optics.deposition.film_pump`. In doubt are sticking, leak, outgassing, pumping
    speed, the wall that metal reaches, and where metal turns grey and grey turns oxide.
    """
    working = _read_run(working_gas, working_pressure_mbar, duration_s, pumped_s)
    chance = Chance(draws, rng)
    middle_s = pumped_s + 0.5 * duration_s
    pumped = find_supply(jar, middle_s, chance, working=working, warm=True)
    getter = getter_cm2 > 0.0
    supply = add_getter(pumped, getter_cm2, duration_s, chance=chance) if getter else pumped
    uptake, gate = uptake_of(flow.metal), oxide_gate(flow.metal)
    closed = uptake if gate is None else _without_oxygen(uptake)
    film = make_film(jar, flow, closed, supply=supply, chance=chance)
    state = solve_film(film)
    where = 1 if flow.flux_per_cm2_s > 0.0 else 0  # on the piece, or on the walls
    holds, opened = np.zeros(draws + 1), state
    if gate is not None:
        holds = _gate_holds(gate, flow, state)
        opened = solve_film(make_film(jar, flow, uptake, supply=supply, chance=chance))
    states, nitride = _states(uptake, opened, where, holds)
    oxygen = uptake.full_oxide * np.where(state.oxide > _SLOWEST, state.oxide, 0.0)[:, where]
    nitrogen = uptake.full_nitride * state.nitride[:, where]
    S = pumped.per_speed_s_l[0]
    partial, feed = _fill_up(state.partial_mbar[0], working, pumped)
    return GasBalance(
        jar, flow, working_gas,
        total_mbar=float(partial.sum()),
        partial_mbar=_by_gas(partial),
        alone_mbar=_by_gas(pumped.alone_mbar[0]),
        pumping_l_s=_by_gas(1.0 / S) if np.all(S > 0.0) else {},
        inflow_mbar_l_s=pumped.inflow_mbar_l_s,
        feed_mbar_l_s=feed,
        offered_per_metal=_offered(state, film, where, straight=_plastic_hits(jar, chance)[0]),
        oxygen_per_metal=float(oxygen[0]),
        nitrogen_per_metal=float(nitrogen[0]),
        oxygen_interval90=_interval90(oxygen[1:]),
        nitrogen_interval90=_interval90(nitrogen[1:]),
        states=states,
        nitride=nitride,
        gate=gate,
        gate_holds=float(holds[0]),
        find_branches=functools.partial(_branches, film, state, where),
    )  # fmt: skip


def _read_run(
    working_gas: str | None, pressure: float | None, duration_s: float, pumped_s: float
) -> tuple[str, float] | None:
    """The working gas with its pressure, once all of a run is checked."""
    if (working_gas is None) != (pressure is None):
        raise InputError(
            "`working_gas` and `working_pressure` go together", parameter="working_gas"
        )
    if working_gas is not None and working_gas not in _WORKING:
        raise InputError(
            f"`working_gas` must be one of {', '.join(_WORKING)}, not {working_gas!r:.40}",
            parameter="working_gas",
        )
    for name, value, low, high in (
        ("working_pressure", pressure, 1e-6, 10.0),
        ("duration", duration_s, 0.0, 1e6),
        ("pumped", pumped_s, 1.0, 1e8),
    ):
        if value is not None and not low <= value <= high:
            raise OutOfRangeError(f"`{name}` is {value:g}; it must be {low:g} to {high:g}")
    return None if working_gas is None or pressure is None else (working_gas, pressure)


def _fill_up(
    partial: FloatArray, working: tuple[str, float] | None, pumped: GasSupply
) -> tuple[FloatArray, float | None]:
    """Pressures with the argon that makes up for what the film takes, and the gas to let in."""
    if working is None:
        return partial, None
    gas, pressure = working
    if gas == "Ar":
        short = max(pressure - float(partial.sum()), 0.0)
        partial = partial + short * working_shares("Ar")
    S = pumped.per_speed_s_l[0]
    if pumped.inflow_mbar_l_s is None or not np.all(S > 0.0):
        return partial, None
    kept = working_shares(gas) > 0.0
    drawn = (partial if gas == "Ar" else pumped.alone_mbar[0])[kept] / S[kept]
    return partial, float(np.maximum(drawn - pumped.own_mbar_l_s[kept], 0.0).sum())


def _without_oxygen(uptake: Uptake) -> Uptake:
    return replace(uptake, sticking=np.where(atoms_left("oxygen") > 0.0, 0.0, uptake.sticking))


def make_film(
    jar: Jar, flow: MetalFlow, uptake: Uptake, *, supply: GasSupply, chance: Chance
) -> FilmBalance:
    """Walls, column 0, and piece, column 1, as pumps."""
    sticking = np.minimum(uptake.sticking * chance.factor("sticking", uptake.doubt)[:, None], 1.0)
    walls = jar.inner_cm2 * chance.factor("walls", read_data()["stated"]["walls_doubt"])
    on_walls = (flow.atoms_per_s - flow.flux_per_cm2_s * flow.piece_cm2) / walls
    piece = np.full(chance.rows, flow.piece_cm2 if flow.flux_per_cm2_s > 0.0 else 0.0)
    on_piece = np.full(chance.rows, flow.flux_per_cm2_s or 1.0)
    target = None
    if flow.target_cm2 is not None:
        facts = read_data()["target"]
        yields = chance.factor("target", facts["doubt"])
        target = SputterTarget(
            flow.target_cm2,
            np.full(chance.rows, flow.atoms_per_s / flow.target_cm2),
            np.minimum(facts["oxide_yield"] * yields, 1.0),
            np.minimum(facts["nitride_yield"] * yields, 1.0),
        )
    return FilmBalance(
        supply.alone_mbar,
        supply.per_speed_s_l,
        sticking * wall_speed_l_s_cm2(),
        np.stack([walls, piece], axis=1),
        np.stack([np.maximum(on_walls, 1.0), on_piece], axis=1),
        np.stack([np.zeros(chance.rows), _off_plastic(jar, sticking, chance)], axis=1),
        uptake.full_oxide,
        uptake.full_nitride,
        target,
    )


def _off_plastic(jar: Jar, sticking: FloatArray, chance: Chance) -> FloatArray:
    """Oxygen that a clean piece would take straight from plastic near it [cm⁻² s⁻¹], (n,)."""
    oxygen: FloatArray = _plastic_hits(jar, chance) * (
        sticking @ (atoms_left("oxygen") * mixture_shares("plastic"))
    )
    return oxygen


def _plastic_hits(jar: Jar, chance: Chance) -> FloatArray:
    """Molecules that come straight from plastic near the piece [cm⁻² s⁻¹], shape (n,)."""
    if not jar.plastic:
        return np.zeros(chance.rows)
    arrives: FloatArray = 0.5 * MOLECULES_PER_MBAR_L * plastic_mbar_l_s_cm2(chance, warm=True)
    return arrives


def _branches(film: FilmBalance, clean: SteadyState, where: int) -> tuple[Branch, ...]:
    """The steady states in the middle of the doubt."""
    first = _branch("clean", film, clean, where)
    if film.target is None:
        return (first,)
    other = _branch("poisoned", film, solve_film(take_draws(film, [0]), "poisoned"), where)
    same = math.isclose(first.oxygen_per_metal, other.oxygen_per_metal, rel_tol=1e-3, abs_tol=1e-9)
    nearly = math.isclose(first.rate_share, other.rate_share, rel_tol=1e-3)
    return (first,) if same and nearly else (first, other)


def _branch(start: Start, film: FilmBalance, state: SteadyState, where: int) -> Branch:
    return Branch(
        start,
        film.full_oxide * float(state.oxide[0, where]),
        film.full_nitride * float(state.nitride[0, where]),
        float(state.target_oxide[0]),
        float(state.metal_share[0]),
        _by_gas(state.partial_mbar[0]),
    )


def _gate_holds(gate: OxideGate, flow: MetalFlow, state: SteadyState) -> FloatArray:
    """Probability in each draw that the oxide does not grow, shape (n,)."""
    opens = gate.plasma if flow.target_cm2 is not None else read_data()["limits"]["gate_vapour"]
    barred = gate.slow | (state.partial_mbar[:, _O2] < gate.balance_mbar)
    return np.where(barred, 1.0 - opens, 0.0)


def _states(
    uptake: Uptake, state: SteadyState, where: int, holds: FloatArray
) -> tuple[dict[FilmState, float], float]:
    """Probabilities of the states, and that of a golden nitride.

    Each draw's oxygen over that of the full oxide is compared with limits whose doubt is normal in
    the logarithm; where the gate holds it is metal.
    """
    limits = read_data()["limits"]
    offered = np.log(np.maximum(state.offered[1:, where], 1e-300))
    below = {
        name: _normal((math.log(limits[name]) - offered) / limits["limit_doubt"])
        for name in ("metal", "oxide")
    }
    holds = holds[1:]
    metal = float(np.mean(holds + (1.0 - holds) * below["metal"]))
    oxide = float(np.mean((1.0 - holds) * (1.0 - below["oxide"])))
    nitrogen = np.log(np.maximum(state.nitride[1:, where], 1e-300))
    golden = _normal((nitrogen - math.log(limits["nitride"])) / limits["nitride_doubt"])
    nitride = float(np.mean(golden * below["oxide"])) if uptake.full_nitride > 0.0 else 0.0
    return {"metal": metal, "grey": max(1.0 - metal - oxide, 0.0), "oxide": oxide}, nitride


def _normal(deviations: FloatArray) -> FloatArray:
    """Share of a normal distribution below so many standard deviations, ``erfc(-z/√2) / 2``."""
    return np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in deviations.tolist()])


def _offered(state: SteadyState, film: FilmBalance, where: int, *, straight: float) -> float:
    """Oxygen atoms that hit for each metal atom that lands, ``Σ a Γ / F``.

    Besides the gas of the chamber, some molecules come straight from plastic to the piece.
    """
    hits = impingement_per_cm2_s(state.partial_mbar[0], molar_masses()) * atoms_left("oxygen")
    if where == 1:
        hits = hits + straight * mixture_shares("plastic") * atoms_left("oxygen")
    landed = film.flux_per_cm2_s[0, where] * state.metal_share[0]
    return float(hits.sum() / landed)


def _interval90(values: FloatArray) -> tuple[float, float]:
    at = np.linspace(0.0, 1.0, values.size)  # numpy's own quantile loads masked arrays
    low, high = np.interp((0.05, 0.95), at, np.sort(values)).tolist()
    return low, high


def _by_gas(values: FloatArray) -> dict[str, float]:
    return {gas: float(value) for gas, value in zip(GASES, values, strict=True)}
