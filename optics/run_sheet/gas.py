"""The gas of a run: which chamber, which gas is let in, and what that makes of each metal."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import NormalDist
from typing import Any, get_args

from ..deposition.alloys import molar_mass_of
from ..deposition.arrival import arrival
from ..deposition.gas_supply import Chance, find_supply
from ..deposition.gases import GASES, mean_free_path_cm
from ..deposition.geometry import Piece, Uniformity, share_on
from ..deposition.jar import Jar, Residue, as_jar, working_gas_of
from ..deposition.metal_run import MetalRun, takes_gas
from ..deposition.pump import Pump, usual_pump
from ..deposition.setup import Setup
from ..deposition.source_plan import FASTEST_NM_S, SourcePlan
from ..errors import InputError, OutOfRangeError, UnknownNameError, suggest_nearest
from ..films.materials.catalogue import MaterialEntry
from ..remedies.remedies import Remedy, find_remedies
from ..units import parse_quantity

SPECIES = "oxygen atoms offered per metal atom"
SURE = 0.9
"""Probability of metal that limits of pressure and rate are given for."""
_USUAL_MBAR = 1e-5  # where nothing tells the pressure
_PUMPED_S = 1800.0  # half an hour of pumping before the first layer (common practice, no source)
_TARGET_CM2 = 20.0  # of a target 50 mm across, where no ring is stated
_LEAST_MBAR = 1e-12  # a jar has no less
_HIGHEST_MBAR = 0.1  # of residual gas: beyond it nobody deposits metal
_PUMPS_L_S = (2.0, 50.0)  # of a rotary and of a small high-vacuum pump (common practice)
_JUST = 0.001  # over SURE is what a limit is sought at, and found to within the same
_MOST_TRIES = 40
_NORMAL = NormalDist()
_FEW_DRAWS = 64


@dataclass(frozen=True)
class RunGas:
    """Chamber and gas of a run.

    Attributes
    ----------
    jar : Jar
        Where a pressure of residual gas alone is given, it holds whatever the film takes; where a
        base pressure is, a pump of unknown speed holds it.
    working_gas : str or None
        ``Ar``, ``N2`` or ``air``.
    working_pressure_mbar : float or None
        True pressure with it [mbar].
    getter_cm2 : float
        Wall that a titanium run behind the shutter coated before [cm²].
    volume_stated : bool
        Whether the volume of the chamber was given, not taken to fit the distance.
    """

    jar: Jar
    working_gas: str | None = None
    working_pressure_mbar: float | None = None
    getter_cm2: float = 0.0
    volume_stated: bool = True

    @property
    def free_path_cm(self) -> float:
        """Mean way of a molecule between collisions, argon counted [cm]."""
        working = None
        if self.working_gas is not None and self.working_pressure_mbar is not None:
            working = self.working_gas, self.working_pressure_mbar
        supply = find_supply(self.jar, _PUMPED_S, Chance(0, None), working=working, warm=True)
        return mean_free_path_cm(dict(zip(GASES, supply.alone_mbar[0].tolist(), strict=True)))


@dataclass(frozen=True)
class MetalLimits:
    """What would keep a metal metal nine times in ten.

    Attributes
    ----------
    below_mbar : float or None
        Pressure of residual gas at this rate [mbar]; None where the pump's speed was stated, and
        the leak is what counts.
    above_nm_s : float or None
        Rate in this gas [nm/s]; None where no rate does.
    metal_if_pumped : dict
        Probability of metal where a pump of so many l/s holds that residual gas, for then the film
        takes gas away; empty where the pump's speed was stated.
    """

    below_mbar: float | None
    above_nm_s: float | None
    metal_if_pumped: dict[str, float]


def as_run_gas(
    jar: Jar | Mapping[str, Any] | str | Path | None = None,
    *,
    distance_mm: float,
    pressure: str | None = None,
    gas: str | None = None,
    working_gas: str | None = None,
    working_pressure: str | None = None,
    getter: str | None = None,
    **parts: Any,
) -> RunGas:
    """Chamber and gas of a run from how they are written.

    Parameters
    ----------
    jar : Jar, mapping, str or Path, optional
        Described once; ``parts`` change it for this run.
    distance_mm : float
        From source to piece, for a volume that holds it where none is given.
    pressure, gas : str, optional
        Of the residual gas alone, and what it is: ``"water"`` or ``"air"``. 1e-5 mbar of water
        where nothing else tells the gas.
    working_gas, working_pressure, getter : str, optional
        ``"argon"``, ``"1e-2mbar"`` as the jar's gauge shows it, ``"0.3m2"``.
    **parts
        Of :func:`~oxhue.optics.deposition.jar.make_jar`: ``leak``, ``pumping``,
        ``base_pressure``, ``volume``, ``plastic`` ...

    Raises
    ------
    InputError
        If something is refused, or the gas is told in two ways.
    """
    parts = {name: value for name, value in parts.items() if value not in (None, False)}
    _check_told_once(parts, pressure, getter)
    if pressure is not None:
        parts["base_pressure"] = parse_quantity(pressure, "pressure_mbar", "`pressure`")
    if gas is not None:
        if gas not in get_args(Residue):
            offer = suggest_nearest(str(gas), list(get_args(Residue))) or "use water or air"
            raise UnknownNameError(f"unknown residual gas {gas!r:.40}; {offer}", parameter="gas")
        parts["residue"] = gas
    found = as_jar(jar, **parts)
    stated_volume = jar is not None or "volume" in parts
    if not stated_volume:
        found = replace(found, volume_l=max(found.volume_l, _volume_around_l(distance_mm)))
    if found.pump is None and found.base_mbar is None:
        if found.leak_mbar_l_s is not None or found.rise is not None:
            raise InputError("`leak` needs `pumping` with it, such as 2l/s", parameter="leak")
        found = replace(found, base_mbar=_USUAL_MBAR)
    elif found.pump is None and found.base_mbar is not None and pressure is None:
        found = replace(found, pump=usual_pump(found.base_mbar))
    if found.base_mbar is not None and found.base_mbar > _HIGHEST_MBAR:
        raise OutOfRangeError(
            f"the pressure is {found.base_mbar:g} mbar; metal is deposited between 1e-12 and "
            f"{_HIGHEST_MBAR:g} mbar of residual gas",
            parameter="pressure",
        )
    kind = working_gas_of(working_gas)
    if (kind is None) != (working_pressure is None):
        raise InputError(
            "`working_gas` and `working_pressure` go together, such as argon and 1e-2mbar",
            parameter="working_gas",
        )
    true_mbar = None
    if working_pressure is not None:
        reading = parse_quantity(working_pressure, "pressure_mbar", "`working_pressure`")
        true_mbar = found.true_pressure_mbar(reading, kind or "Ar")
    area = 0.0 if getter is None else parse_quantity(getter, "area_cm2", "`getter`")
    return RunGas(found, kind, true_mbar, area, stated_volume)


def _check_told_once(parts: dict[str, Any], pressure: str | None, getter: str | None) -> None:
    if pressure is not None and not isinstance(pressure, str):
        raise InputError(
            f"`pressure` is a text with a unit such as '1e-5mbar', not {pressure!r:.80}",
            parameter="pressure",
        )
    for name in ("leak", "base_pressure", "rise"):
        if pressure is not None and name in parts:
            raise InputError(
                f"`pressure` is that of the residual gas, which `{name}` tells too; give one",
                parameter="pressure",
            )
    if getter is not None and "pumping" not in parts:
        raise InputError(
            "`getter` and `pumping` go together, such as 0.3m2 and 50l/s", parameter="getter"
        )


def _volume_around_l(distance_mm: float) -> float:
    """Volume of a cylinder as high as wide that holds source and piece [l]."""
    high_cm = 0.15 * distance_mm
    return 1e-3 * math.pi / 4.0 * high_cm**3


def plan_metal_run(
    entry: MaterialEntry, plan: SourcePlan, setup: Setup, *, even: Uniformity, gas: RunGas,
    thickness_nm: float, spent_s: float,
) -> MetalRun | None:  # fmt: skip
    """A layer of metal as it grows in the gas of a run; None for what takes gas in unknown ways.

    ``spent_s`` is the time since the first layer began. An alloy counts as its most reactive part.
    """
    if entry.kind not in ("metal", "alloy") or not takes_gas(entry.name):
        return None
    molar = molar_mass_of(entry.name)
    if entry.density_g_cm3 is None or molar is None:
        return None
    arriving = 1.0 if plan.arrival is None else plan.arrival.factor
    share = float(share_on(setup.source, setup.placement)) * arriving * setup.tooling
    target = None
    if setup.source.kind == "sputter":
        ring_cm = 0.1 * setup.source.ring_mm
        target = math.pi / 4.0 * (1.5 * ring_cm) ** 2 if ring_cm > 0.0 else _TARGET_CM2
    return MetalRun(
        entry.name,
        plan.rate_nm_s,
        gas.jar,
        gas.working_gas,
        gas.working_pressure_mbar,
        distance_cm=0.1 * setup.placement.distance_mm,
        duration_s=min(thickness_nm / plan.rate_nm_s, 1e6),
        pumped_s=_PUMPED_S + min(spent_s, 1e7),
        getter_cm2=gas.getter_cm2,
        target_cm2=target,
        piece_cm2=_area_cm2(setup.piece) * float(even.relative[even.inside].mean()),
        spread_cm2=1.0 / share,
        rate_at_half=_rate_at_half(setup, plan, molar),
        free_path_cm=math.inf if plan.arrival is None else plan.arrival.free_path_cm,
    )


def settle_on_way(run: MetalRun, setup: Setup, *, rate_holds: bool) -> MetalRun:
    """A changed run once its own gas is on the way of the vapour.

    Parameters
    ----------
    run : MetalRun
    setup : Setup
    rate_holds : bool
        Whether the rate is kept, by sending more or less vapour; else what the source sends is.
    """
    gas = RunGas(run.jar, run.working_gas, run.working_mbar)
    molar, spread_cm2 = molar_mass_of(run.metal), run.spread_cm2
    if molar is None or spread_cm2 is None:
        return run
    place = replace(setup.placement, distance_mm=10.0 * run.distance_cm)
    before, after = (
        arrival(setup.source, place, path_cm, molar_mass=molar).factor
        for path_cm in (run.free_path_cm, gas.free_path_cm)
    )
    more = after / before
    faster = 1.0 if rate_holds else more
    return replace(
        run, spread_cm2=spread_cm2 / more, rate_nm_s=faster * run.rate_nm_s,
        duration_s=run.duration_s / faster, free_path_cm=gas.free_path_cm,
    )  # fmt: skip


def _rate_at_half(setup: Setup, plan: SourcePlan, molar_mass: float) -> float:
    """Rate at half the distance over that at the distance, collisions on the way counted."""
    far = setup.placement
    path_cm = math.inf if plan.arrival is None else plan.arrival.free_path_cm
    shares = [
        float(share_on(setup.source, one))
        * arrival(setup.source, one, path_cm, molar_mass=molar_mass).factor
        for one in (replace(far, distance_mm=0.5 * far.distance_mm), far)
    ]
    return shares[0] / shares[1]


def limits_of(run: MetalRun) -> MetalLimits:
    """Pressure and rate that would keep a metal a metal nine times in ten, by halving."""
    few = replace(run, draws=_FEW_DRAWS)
    jar, below = run.jar, None
    base, pumped = jar.base_mbar, {}

    def at_pressure(factor: float) -> float:
        lower = replace(jar, base_mbar=max(factor * (base or 0.0), _LEAST_MBAR))
        return replace(few, jar=lower).balance.states["metal"]

    def at_rate(factor: float) -> float:
        quick = replace(few, rate_nm_s=factor * run.rate_nm_s, duration_s=run.duration_s / factor)
        return quick.balance.states["metal"]

    if base is not None and (jar.pump is None or not jar.pump.is_stated):
        factor = _last_sure(at_pressure, max(_LEAST_MBAR / base, 1e-7))
        below = None if factor is None else factor * base
        for speed in _PUMPS_L_S:
            held = replace(run, jar=replace(jar, pump=Pump(speed)))
            pumped[f"{speed:g} l/s"] = held.balance.states["metal"]
    factor = _last_sure(at_rate, max(FASTEST_NM_S / run.rate_nm_s, 1.0))
    return MetalLimits(below, None if factor is None else factor * run.rate_nm_s, pumped)


def find_plan_remedies(
    run: MetalRun | None, metal: str, *, on: str, troubles: Sequence[str] = (),
    settle: Callable[[MetalRun], MetalRun | None] | None = None,
) -> tuple[Remedy, ...]:  # fmt: skip
    """What to change so that a planned metal stays one, and against troubles of earlier runs.

    What is computed comes from the run that the states are computed from, each change of it as
    ``settle`` makes it.
    """
    weighed = dict.fromkeys(troubles, 1.0)
    if run is not None and run.balance.states["metal"] < SURE:
        states = run.balance.states
        likely = "oxidised" if states["oxide"] > states["grey"] else "grey"
        weighed = {likely: 1.0, "nitride": run.balance.nitride} | weighed
    if not weighed:
        return ()
    return find_remedies(weighed, metal=metal, on=on, run=run, settle=settle)


def _last_sure(metal: Callable[[float], float], holds: float) -> float | None:
    """The factor nearest to 1, which fails, at which metal is just sure; None where none is.

    Regula falsi (Illinois) on deviates of the normal law, which run nearly straight with the
    logarithm of the factor.
    """

    def off(log_factor: float) -> float:
        chance = metal(math.exp(log_factor))
        return _deviate(chance) - _deviate(SURE + _JUST)

    ends = {-1: 0.0, 1: math.log(holds)}
    values = {side: off(at) for side, at in ends.items()}
    if values[1] < 0.0 or values[-1] >= 0.0:
        return None if values[1] < 0.0 else 1.0
    close = _deviate(SURE + 2.0 * _JUST) - _deviate(SURE + _JUST)
    last = 0
    for _ in range(_MOST_TRIES):
        share = values[-1] / (values[-1] - values[1])
        at = ends[-1] + share * (ends[1] - ends[-1])
        value = off(at)
        if abs(value) < close:
            return math.exp(at)
        side = 1 if value > 0.0 else -1
        if side == last:
            values[-side] *= 0.5
        ends[side], values[side], last = at, value, side
    return math.exp(ends[1])


def _deviate(chance: float) -> float:
    return _NORMAL.inv_cdf(min(max(chance, 1e-9), 1.0 - 1e-9))


def _area_cm2(piece: Piece) -> float:
    return 0.01 * piece.width_mm * piece.height_mm * (math.pi / 4.0 if piece.round else 1.0)
