"""A run as it was done, the changes it may get, and what each makes of the gas and the metal."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from ..deposition.alloys import molar_mass_of, most_reactive
from ..deposition.gas_balance import GasBalance, MetalFlow, gas_balance
from ..deposition.gases import metal_per_cm2_s, metals
from ..deposition.history import Flush
from ..deposition.jar import Jar
from ..errors import InputError, OutOfRangeError
from ..films.materials.catalogue import find_entry

_PIECE_CM2 = 10.0
_LEAST_CM = 3.0  # no piece is closer to a hot source (common practice, no source)
_PUFF_MBAR = 5.0  # that argon is let in to where it was not said (common practice, no source)
_ARGON_MBAR = 5e-3
_LOWEST_MBAR = 1e-7  # that a small chamber is pumped to (common practice, no source)
METAL_ENOUGH = 0.9
"""Probability of metal from which one change is enough, and the gas of a run explains no oxide."""
_DRAWS = 128


@dataclass(frozen=True)
class PastRun:
    """What was done when a film was deposited.

    Attributes
    ----------
    metal : str
        Of the film; of an alloy its most reactive part meets the gas.
    rate_nm_s : float
        Growth at the piece [nm/s].
    jar : Jar
    working_gas : str or None
        ``Ar``, ``N2`` or ``air``, at ``working_mbar`` [mbar] in all.
    distance_cm : float
        From the source to the piece [cm].
    duration_s, pumped_s : float
        Time of growth, and of pumping before it [s].
    flush : Flush or None
        Puffs of argon before the run.
    getter_cm2 : float
        Wall under titanium that a run behind the shutter left fresh [cm²].
    target_cm2 : float or None
        Size of a sputter target; None for a hot source.

    Raises
    ------
    InputError
        If it is not known how the metal takes gas, or how dense it is.
    """

    metal: str
    rate_nm_s: float
    jar: Jar
    working_gas: str | None = None
    working_mbar: float | None = None
    distance_cm: float = 10.0
    duration_s: float = 600.0
    pumped_s: float = 1800.0
    flush: Flush | None = None
    getter_cm2: float = 0.0
    target_cm2: float | None = None

    def __post_init__(self) -> None:
        if most_reactive(self.metal) not in metals():
            raise InputError(
                f"how {self.metal} takes gas is not known, so its run says nothing about it",
                parameter="metal",
            )
        if not 1e-6 <= self.rate_nm_s <= 1e4:
            raise OutOfRangeError(
                f"`rate` is {self.rate_nm_s:g} nm/s; it must be 1e-06 to 10000 nm/s",
                parameter="rate",
            )
        if not 1.0 <= self.distance_cm <= 500.0:
            raise OutOfRangeError(
                f"`distance` is {self.distance_cm:g} cm; it must be 1 to 500 cm",
                parameter="distance",
            )

    @property
    def flow(self) -> MetalFlow:
        """Metal that lands and that leaves: a small source facing the piece sends ``F π d²``."""
        density, molar_mass = find_entry(self.metal).density_g_cm3, molar_mass_of(self.metal)
        if not density or not molar_mass:
            raise InputError(
                f"the density of {self.metal} is not known, so its run says nothing about it",
                parameter="metal",
            )
        landed = float(metal_per_cm2_s(self.rate_nm_s, density, molar_mass))
        sphere_cm2 = math.pi * self.distance_cm**2
        return MetalFlow(
            most_reactive(self.metal), landed, landed * sphere_cm2,
            min(_PIECE_CM2, sphere_cm2), self.target_cm2,
        )  # fmt: skip

    def balance(self) -> GasBalance:
        """The gas in it, and what that made of the metal."""
        return gas_balance(
            self.jar, self.flow, working_gas=self.working_gas,
            working_pressure_mbar=self.working_mbar, duration_s=self.duration_s,
            pumped_s=self.pumped_s, getter_cm2=self.getter_cm2, draws=_DRAWS,
        )  # fmt: skip


def change_run(run: PastRun, change: str) -> PastRun | None:
    """The run with one change of the data file; None where it does not apply to it."""
    return _CHANGES[change](run)


def lacks_figures(run: PastRun, change: str) -> bool:
    """Whether a change may help that cannot be computed, for the leak or the pump is not known."""
    jar = run.jar
    if change == "leak":
        return _leak(jar) is None
    if change == "flush":
        return jar.base_mbar is not None and (jar.pump is None or _leak(jar) is None)
    return change == "getter" and jar.pump is None and run.getter_cm2 == 0.0


def _flush(run: PastRun) -> PastRun | None:
    """Two puffs more: of what is no leak, ``(p_low / p_high)²`` is left."""
    jar = run.jar
    if jar.base_mbar is None or jar.pump is None or (leak := _leak(jar)) is None:
        return None
    floor = leak / jar.pump.speed_l_s
    high = run.flush.high_mbar if run.flush else _PUFF_MBAR
    left = max(jar.base_mbar - floor, 0.0) * min(jar.base_mbar / high, 1.0) ** 2
    return replace(run, jar=replace(jar, base_mbar=min(floor + left, jar.base_mbar)))


def _argon(run: PastRun) -> PastRun | None:
    if run.working_gas is not None or run.jar.pump is None or run.target_cm2 is not None:
        return None
    return replace(run, working_gas="Ar", working_mbar=_ARGON_MBAR)


def _tighten(run: PastRun) -> PastRun | None:
    leak = _leak(run.jar)
    if not leak:
        return None
    inflow, jar = run.jar.inflow, replace(run.jar, rise=None, leak_mbar_l_s=0.1 * leak)
    if inflow is not None and inflow.separated:
        jar = replace(jar, outgassing_mbar_l_s=inflow.outgassing_mbar_l_s)
    if jar.base_mbar is not None and jar.pump is not None:
        less = 0.9 * leak / jar.pump.speed_l_s
        jar = replace(jar, base_mbar=max(jar.base_mbar - less, 0.1 * jar.base_mbar))
    return replace(run, jar=jar)


def _leak(jar: Jar) -> float | None:
    """Air that leaks in [mbar l/s], stated or from a rise test; None where neither is there."""
    return jar.inflow.leak_mbar_l_s if jar.inflow is not None else jar.leak_mbar_l_s


def _clear_plastic(run: PastRun) -> PastRun | None:
    return replace(run, jar=replace(run.jar, plastic=False)) if run.jar.plastic else None


def _wait(run: PastRun) -> PastRun | None:
    """Only where the walls' gas is computed from the time; a stated pressure holds as it is."""
    if run.jar.pump is None or run.jar.base_mbar is not None:
        return None
    return replace(run, pumped_s=4.0 * run.pumped_s)


def _faster(run: PastRun) -> PastRun | None:
    return replace(run, rate_nm_s=3.0 * run.rate_nm_s, duration_s=run.duration_s / 3.0)


def _closer(run: PastRun) -> PastRun | None:
    if run.distance_cm < 2.0 * _LEAST_CM:
        return None
    return replace(
        run, distance_cm=0.5 * run.distance_cm, rate_nm_s=4.0 * run.rate_nm_s,
        duration_s=0.25 * run.duration_s,
    )  # fmt: skip


def _getter(run: PastRun) -> PastRun | None:
    if run.jar.pump is None or run.getter_cm2 > 0.0:
        return None
    return replace(run, getter_cm2=0.5 * run.jar.inner_cm2)


def _pump_lower(run: PastRun) -> PastRun | None:
    """Tenths of the pressure until the film is likely to stay metal, or the pump's end."""
    if run.jar.base_mbar is None or run.jar.pump is not None:
        return None
    lower = run
    while (mbar := 0.1 * (lower.jar.base_mbar or 0.0)) >= _LOWEST_MBAR:
        lower = replace(lower, jar=replace(lower.jar, base_mbar=mbar))
        if lower.balance().states["metal"] >= METAL_ENOUGH:
            break
    return None if lower is run else lower


_CHANGES: dict[str, Callable[[PastRun], PastRun | None]] = {
    "flush": _flush,
    "argon": _argon,
    "leak": _tighten,
    "plastic": _clear_plastic,
    "wait": _wait,
    "faster": _faster,
    "closer": _closer,
    "getter": _getter,
    "pressure": _pump_lower,
}
