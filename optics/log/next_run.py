"""The run that a log advises for a jar: settings, odds, their limits, a notch of each knob."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from ..errors import InputError, OutOfRangeError, shorten
from ..films.materials.catalogue import find_entry
from ..films.notation import parse_stack
from ..units import parse_quantity
from .derived import Kept
from .evidence import LN_NM
from .facts import DONE, check_facts, repeat_done
from .gauge_now import read_gauge
from .jar.learnt import JarLearnt, NextRun, Notch
from .jar_posterior import JarDraws, learn_jar
from .learn import learn
from .planner import Settings, WantedMetal, best_settings, odds, telling_settings
from .records import LoggedRun, LoggedSetup
from .run_model import RunModel, model_run

RISK = 0.05
WITHIN = 0.15
_FEWER_DRAWS = 300
_FLUSH = "3,5mbar"
_NOTCHES = (("current", 0.02), ("time", 0.10))


def advise(
    runs: Sequence[LoggedRun],
    setups: Sequence[LoggedSetup],
    *,
    want: str,
    within: float = WITHIN,
    risk: float = RISK,
    base_pressure: str | None = None,
    learnt: JarLearnt | None = None,
    kept: Kept | None = None,
    seed: int = 1,
) -> NextRun:
    """The next run of a jar for what is wanted.

    Parameters
    ----------
    runs, setups
        As ``learn.learn`` takes them; the newest run that is whole is the one the next is like.
    want : str
        A film such as ``Ti 80nm`` or ``TiO2 60nm``.
    within : float
        Share by which the thickness may be off, 0.02 to 1.
    risk : float
        Most that the chance of a melted wire may be, 0 to 1.
    base_pressure : str, optional
        What the gauge reads now, before the run.
    learnt : JarLearnt, optional
        What these runs teach, where it is known already.
    kept, seed
        As ``learn.learn`` takes them.

    Raises
    ------
    InputError
        If what is wanted is no film of a metal or its oxide, or a share is refused.
    """
    # long: its parameters, one a line
    _check_shares(within=within, risk=risk)
    learnt = learnt or learn(runs, setups, check=False, kept=kept, seed=seed)
    if base_pressure is not None:
        coming = coming_run(runs, setups, base_pressure=base_pressure)
        now = read_gauge(learnt.draws, model_run(coming, setups[-1].facts), seed=seed)
        learnt, runs = replace(learnt, draws=now), (*runs, coming)
    last, model = _newest_model(runs, setups)
    goal = parse_goal_film(want, model.metal, float(within))
    draws = _fewer(learnt.draws)
    best, too_risky, new_wire = _choose(model, draws, goal, risk)
    draws = _with_new_wire(draws) if new_wire else draws
    teaches = telling_settings(model, draws, risk=risk)
    unknown = learn_jar([], draws.prior, draws=_FEWER_DRAWS)
    before = odds(model, unknown, goal, ln_current=best.ln_current, seconds=best.seconds)
    return NextRun(
        learnt.setup, want.strip(), _words(last.done, best, new_wire), best.chance,
        before.chance, best.in_thickness, best.in_state, best.melts, float(within),
        _limit(best, goal, learnt.runs, too_risky=too_risky, risk=risk),
        _notches(model, draws, goal, best, last, setups),
        None if teaches is None else _words(last.done, teaches, new_wire), learnt.runs,
        base_pressure,
    )  # fmt: skip


def _choose(
    model: RunModel, draws: JarDraws, goal: WantedMetal, risk: float
) -> tuple[Settings, bool, bool]:
    """The best settings, whether all are too risky, and whether they ask for a new wire."""
    best, too_risky = best_settings(model, draws, goal, risk=risk)
    if math.isfinite(model.ln_melting):
        with suppress(OutOfRangeError):  # a new wire is thicker and may stay too cold
            other, other_risky = best_settings(model, _with_new_wire(draws), goal, risk=risk)
            if too_risky or (not other_risky and other.chance > best.chance + 0.1):
                return other, other_risky, True
    return best, too_risky, False


def _with_new_wire(draws: JarDraws) -> JarDraws:
    return replace(draws, wire_loss=np.zeros(len(draws.z)))


def _check_shares(**shares: float) -> None:
    for name, value in shares.items():
        low = 0.02 if name == "within" else 0.0
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= 1.0:
            raise OutOfRangeError(
                f"`{name}` must be a share from {low:g} to 1, not {value!r:.40}", parameter=name
            )


def coming_run(
    runs: Sequence[LoggedRun], setups: Sequence[LoggedSetup], *, base_pressure: str
) -> LoggedRun:
    """The next run, of which no more is known yet than the pressure that was read before it.

    Parameters
    ----------
    runs, setups
        As :func:`advise` takes them; it is like the newest run that is whole.
    base_pressure : str

    Raises
    ------
    InputError
        If no run can be computed, or the pressure is refused.
    """
    said = check_facts({"base_pressure": base_pressure}, DONE["chamber"])
    last, _ = _newest_model(runs, setups)
    return replace(
        last, run=runs[-1].run + 1, setup_version=setups[-1].setup_version, pieces=(),
        done=repeat_done(last.done) | said,
    )  # fmt: skip


def parse_goal_film(want: str, metal: str, within: float) -> WantedMetal:
    """A film that is wanted, as metal of so many nanometres and the state it is to be in.

    Raises
    ------
    InputError
        If it is not one film of the metal that the runs deposit, or of its oxide.
    """
    from ..assay.hypotheses import expansion, oxides_of

    if not isinstance(want, str):
        raise InputError(f"`want` is a film such as 'Ti 80nm', not {want!r:.80}", parameter="want")
    name, _, thickness = want.strip().partition(" ")
    is_film = bool(thickness) and "/" not in want
    if not is_film or len(parse_stack(f"{want} / glass").layers) != 1:
        raise InputError(
            f"`want` {shorten(want)!r} is not one film with its thickness and without what it lies "
            f"on, such as '{metal} 80nm'",
            parameter="want",
        )
    nm = parse_quantity(thickness.strip(), "length_nm", "`want`")
    low, high = np.exp(LN_NM[[0, -1]])
    if not low <= nm <= high:
        raise OutOfRangeError(
            f"`want` is {nm:g} nm; a run is planned for {low:.1f} to {high:.0f} nm",
            parameter="want",
        )
    film = find_entry(name).name
    if film == metal:
        return WantedMetal(nm, within, "metal")
    if film in {find_entry(one["medium"]).name for one in oxides_of(metal).values()}:
        return WantedMetal(nm / expansion(metal, film)[0], within, "oxide")
    raise InputError(
        f"`want` asks for {film}, but the runs deposit {metal}; ask for {metal} or its oxide",
        parameter="want",
    )


def _newest_model(
    runs: Sequence[LoggedRun], setups: Sequence[LoggedSetup]
) -> tuple[LoggedRun, RunModel]:
    """The newest run that can be computed, in the setup as it is now."""
    for run in reversed(runs):
        if not run.done or (run.done.get("melted") == "yes" and "rate" in run.done):
            continue
        bare = replace(run, pieces=run.pieces[:1], done=_without(run.done, "melted", "new_wire"))
        try:
            return run, model_run(bare, setups[-1].facts)
        except InputError:
            continue
    raise InputError("no run of the log says enough to plan the next from it")


def _without(done: Mapping[str, str], *names: str) -> dict[str, str]:
    return {name: text for name, text in done.items() if name not in names}


def _fewer(draws: JarDraws) -> JarDraws:
    step = max(len(draws.z) // _FEWER_DRAWS, 1)
    return replace(draws, drawn=draws.drawn[::step], wire_loss=draws.wire_loss[::step])


def _words(done: Mapping[str, str], best: Settings, new_wire: bool) -> dict[str, str]:
    """Settings in the words of a log."""
    changed = repeat_done(done)
    if "current" in done:
        ampere = parse_quantity(done["current"], "current_A", "`current`")
        changed["current"] = f"{ampere * math.exp(best.ln_current):.3g}A"
    if "charge" in done:  # at the rate it went
        times = best.seconds / parse_quantity(done["time"], "time_s", "`time`")
        changed["charge"] = f"{1e3 * times * parse_quantity(done['charge'], 'mass_g', ''):.3g}mg"
    changed["time"] = f"{round(best.seconds)}s"
    if new_wire:
        changed["new_wire"] = "yes"
    return changed


def _limit(best: Settings, goal: WantedMetal, runs: int, *, too_risky: bool, risk: float) -> str:
    """What keeps the chance from being better, in words."""
    if too_risky:
        return (
            f"every current that gives this thickness melts or burns out the wire more often than "
            f"{100 * risk:.0f} % of the time: take a thicker or longer wire, or go nearer"
        )
    if best.in_state < best.in_thickness:
        if goal.state == "metal":
            return "oxygen: a smaller leak, a faster source or no plastic helps most"
        return "too little oxygen: let in more air, or deposit more slowly"
    if runs < 5:
        return f"the thickness is known from {runs} run{'s' if runs > 1 else ''} only"
    return "the scatter of the thickness from run to run"


def _notches(
    model: RunModel,
    draws: JarDraws,
    goal: WantedMetal,
    best: Settings,
    last: LoggedRun,
    setups: Sequence[LoggedSetup],
) -> tuple[Notch, ...]:
    """The chance with one knob turned a little."""

    def chance(model: RunModel, draws: JarDraws, ln_current: float, seconds: float) -> float:
        return odds(model, draws, goal, ln_current=ln_current, seconds=seconds).chance

    found = []
    knobs = _NOTCHES if math.isfinite(model.ln_melting) else _NOTCHES[1:]
    for name, by in knobs:
        for sign in (1.0, -1.0):
            ln_current = best.ln_current + (math.log1p(sign * by) if name == "current" else 0.0)
            seconds = best.seconds * (1.0 + sign * by if name == "time" else 1.0)
            words = f"{name} {'+' if sign > 0 else '−'}{100 * by:.0f} %"
            found.append(Notch(words, chance(model, draws, ln_current, seconds)))
    z = draws.drawn.copy()
    z[:, 2] -= math.log(2.0) / draws.prior.leak_doubt
    bare = replace(last, pieces=last.pieces[:1], done=_without(last.done, "melted", "new_wire"))
    if "flush" not in last.done:
        flushed = model_run(replace(bare, done={**bare.done, "flush": _FLUSH}), setups[-1].facts)
        words = "flushed with argon, 3 times to 5 mbar"
        found.append(Notch(words, chance(flushed, draws, best.ln_current, best.seconds)))
    found.append(
        Notch("leak halved", chance(model, replace(draws, drawn=z), best.ln_current, best.seconds))
    )
    if last.done.get("plastic") == "yes":
        clean = model_run(replace(bare, done=_without(bare.done, "plastic")), setups[-1].facts)
        found.append(Notch("plastic out", chance(clean, draws, best.ln_current, best.seconds)))
    return tuple(found)
