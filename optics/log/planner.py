"""The next run of a jar: settings with the best odds, what limits them, what would teach most."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ..errors import OutOfRangeError
from ..numerics.normal_law import normal_cdf
from .jar_posterior import JarDraws, melting_chance, predict_ln_nm
from .run_model import RunModel

_CURRENTS = np.linspace(-0.20, 0.14, 18)  # logarithms over the current of the run it is like
_TIMES = np.geomspace(0.45, 2.2, 9)  # over the time that the middle of the draws asks for
_LONGEST_S = 4.0 * 3600.0
_SHORTEST_S = 5.0
_TELLING_NM = (12.0, 60.0)  # metal that lets light through tells its thickness best


@dataclass(frozen=True)
class WantedMetal:
    """What a run is to give.

    Attributes
    ----------
    nm : float
        Thickness that its metal would have as metal [nm].
    within : float
        Share by which that may be off.
    state : {"metal", "oxide"}
    """

    nm: float
    within: float
    state: str


@dataclass(frozen=True)
class Settings:
    """Settings of a run and their odds.

    Attributes
    ----------
    ln_current : float
        Logarithm of the current over that of the run it is like; 0 without a wire.
    seconds : float
    chance : float
        Of thickness and state together, and of no melted wire.
    in_thickness, in_state, melts : float
        Chance of each alone.
    """

    ln_current: float
    seconds: float
    chance: float
    in_thickness: float
    in_state: float
    melts: float


def odds(
    model: RunModel, draws: JarDraws, goal: WantedMetal, *, ln_current: float, seconds: float
) -> Settings:
    """Chances of one choice of settings."""
    changed = change_model(model, ln_current, seconds)
    prior, z, loss = draws.prior, draws.z, draws.wire_loss
    ln_nm = next(iter(predict_ln_nm(changed, prior, z, loss=loss).values()))
    off, width = ln_nm - math.log(goal.nm), math.log1p(goal.within)
    scatter = prior.scatter(z)
    hit = normal_cdf((width - off) / scatter) - normal_cdf((-width - off) / scatter)
    metal, _, oxide = changed.state_chances(ln_nm, prior.gas(z, changed.before))
    state = metal if goal.state == "metal" else oxide
    melts = melting_chance(changed, prior, z, loss=loss)
    return Settings(
        ln_current, seconds, float(np.mean(hit * state * (1.0 - melts))), float(np.mean(hit)),
        float(np.mean(state)), float(np.mean(melts)),
    )  # fmt: skip


def change_model(model: RunModel, ln_current: float, seconds: float) -> RunModel:
    """The same run at another current and for another time."""
    grid = model.ln_mass_grid
    return replace(
        model,
        ln_mass_g_s=np.interp(grid + ln_current, grid, model.ln_mass_g_s),
        ln_melting=model.ln_melting - ln_current,
        seconds=seconds,
    )


def best_settings(
    model: RunModel, draws: JarDraws, goal: WantedMetal, *, risk: float
) -> tuple[Settings, bool]:
    """The settings with the best chance, and whether all of them ask for more than the risk.

    Parameters
    ----------
    model : RunModel
        The run it is like.
    draws : JarDraws
    goal : WantedMetal
    risk : float
        Most that the chance of a melted wire may be.

    Raises
    ------
    OutOfRangeError
        If no time that a run can take gives about so much metal.
    """
    found = [
        odds(model, draws, goal, ln_current=ln_current, seconds=seconds)
        for ln_current, seconds in _choices(model, draws, goal)
    ]
    if not found:
        current = (
            ", at currents 18 % below to 15 % above its own," if model.source == "wire" else ""
        )
        raise OutOfRangeError(
            f"no time from {_SHORTEST_S:.0f} s to {_LONGEST_S / 3600.0:.0f} h gives about "
            f"{goal.nm:.3g} nm of metal by a run like the last{current} so far; "
            f"record a run whose source gives more metal or less, or ask for another thickness",
            parameter="want",
        )
    allowed = [one for one in found if one.melts <= risk]
    if not allowed:
        return min(found, key=lambda one: one.melts), True
    return max(allowed, key=lambda one: one.chance), False


def telling_settings(model: RunModel, draws: JarDraws, *, risk: float) -> Settings | None:
    """The run that would teach most: where the draws differ most and a piece can be read."""
    best: tuple[float, Settings] | None = None
    low, high = np.log(_TELLING_NM)
    longest_s = 2.0 * model.seconds  # nobody sits at the jar all day to learn
    for ln_current, seconds in _choices(model, draws, WantedMetal(30.0, 0.5, "metal")):
        if seconds > longest_s:
            continue
        one = odds(
            model, draws, WantedMetal(30.0, 0.5, "metal"), ln_current=ln_current, seconds=seconds
        )
        changed = change_model(model, ln_current, seconds)
        ln_nm = next(
            iter(predict_ln_nm(changed, draws.prior, draws.z, loss=draws.wire_loss).values())
        )
        readable = float(np.mean((ln_nm > low) & (ln_nm < high)))
        # information about the thickness over that of the scatter, where it can be read
        told = readable * math.log1p(
            float(ln_nm.var() / np.mean(draws.prior.scatter(draws.z) ** 2))
        )
        if one.melts <= risk and (best is None or told > best[0]):
            best = told, one
    return None if best is None else best[1]


def _choices(model: RunModel, draws: JarDraws, goal: WantedMetal) -> Iterator[tuple[float, float]]:
    """Currents, and times around that which gives the thickness in the middle of the draws."""
    wire = math.isfinite(model.ln_melting)
    for ln_current in _CURRENTS if wire else [0.0]:
        changed = change_model(model, float(ln_current), model.seconds)
        ln_nm = next(
            iter(predict_ln_nm(changed, draws.prior, draws.z, loss=draws.wire_loss).values())
        )
        middle = model.seconds * goal.nm / math.exp(float(np.median(ln_nm)))
        times = (middle * _TIMES)[
            (middle * _TIMES >= _SHORTEST_S) & (middle * _TIMES <= _LONGEST_S)
        ]
        for seconds in times.tolist():
            yield float(ln_current), float(seconds)
