"""Changes that a run may get, each a run of its own whose gas can be computed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..deposition.jar import Jar
from ..deposition.metal_run import MetalRun

_LEAST_CM = 3.0  # no piece is closer to a hot source (common practice, no source)
_PUFF_MBAR = 5.0  # that argon is let in to where it was not said (common practice, no source)
_ARGON_MBAR = 5e-3
_LOWEST_MBAR = 1e-7  # that a small chamber is pumped to (common practice, no source)
METAL_ENOUGH = 0.9
"""Probability of metal from which one change is enough, and the gas of a run explains no oxide."""


def change_run(run: MetalRun, change: str) -> MetalRun | None:
    """The run with one change of the data file; None where it does not apply to it."""
    return _CHANGES[change](run)


def lacks_figures(run: MetalRun, change: str) -> bool:
    """Whether a change may help that cannot be computed, for the leak or the pump is not known."""
    jar = run.jar
    if change == "leak":
        return _leak(jar) is None
    if change == "flush":
        return jar.base_mbar is not None and (jar.pump is None or _leak(jar) is None)
    return change == "getter" and jar.pump is None and run.getter_cm2 == 0.0


def _flush(run: MetalRun) -> MetalRun | None:
    """Two puffs more: of what is no leak, ``(p_low / p_high)²`` is left."""
    jar = run.jar
    if jar.base_mbar is None or jar.pump is None or (leak := _leak(jar)) is None:
        return None
    floor = leak / jar.pump.speed_l_s
    high = run.flush.high_mbar if run.flush else _PUFF_MBAR
    left = max(jar.base_mbar - floor, 0.0) * min(jar.base_mbar / high, 1.0) ** 2
    return replace(run, jar=replace(jar, base_mbar=min(floor + left, jar.base_mbar)))


def _argon(run: MetalRun) -> MetalRun | None:
    if run.working_gas is not None or run.jar.pump is None or run.target_cm2 is not None:
        return None
    return replace(run, working_gas="Ar", working_mbar=_ARGON_MBAR)


def _tighten(run: MetalRun) -> MetalRun | None:
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


def _clear_plastic(run: MetalRun) -> MetalRun | None:
    return replace(run, jar=replace(run.jar, plastic=False)) if run.jar.plastic else None


def _wait(run: MetalRun) -> MetalRun | None:
    """Only where the walls' gas is computed from the time; a stated pressure holds as it is."""
    if run.jar.pump is None or run.jar.base_mbar is not None:
        return None
    return replace(run, pumped_s=4.0 * run.pumped_s)


def _faster(run: MetalRun) -> MetalRun | None:
    return replace(run, rate_nm_s=3.0 * run.rate_nm_s, duration_s=run.duration_s / 3.0)


def _closer(run: MetalRun) -> MetalRun | None:
    if run.distance_cm < 2.0 * _LEAST_CM:
        return None
    return run.at_half_distance()


def _getter(run: MetalRun) -> MetalRun | None:
    if run.jar.pump is None or run.getter_cm2 > 0.0:
        return None
    return replace(run, getter_cm2=0.5 * run.jar.inner_cm2)


def _pump_lower(run: MetalRun) -> MetalRun | None:
    """Tenths of the pressure until the film is likely to stay metal, or the pump's end."""
    pump = run.jar.pump
    if run.jar.base_mbar is None or (pump is not None and pump.is_stated):
        return None
    lower = run
    while (mbar := 0.1 * (lower.jar.base_mbar or 0.0)) >= _LOWEST_MBAR:
        lower = replace(lower, jar=replace(lower.jar, base_mbar=mbar))
        if lower.balance.states["metal"] >= METAL_ENOUGH:
            break
    return None if lower is run else lower


_CHANGES: dict[str, Callable[[MetalRun], MetalRun | None]] = {
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
