"""How is a run followed? What to watch in each layer, and how many pieces come out right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...colour.colour import to_colour
from ...colour.conditions import ViewingConditions
from ...design.goals import WITHIN_DELTA_E, Goal
from ...design.tolerance import DepositionErrors, as_errors
from ...films.solve import solve
from ...films.stack import Stack
from ...result import Hidden
from .cues import Cue
from .curves import LayerCue
from .follow import LayerWatch, RunPlan
from .strategies import Choose, RunTrials, Strategy

TIMED = DepositionErrors(relative_percent=5.0)
"""Rate times time, read off a run before: common practice, no source."""
_SAMPLES, _FILMS, _FEWEST = 400, 4_000, 150  # simulated runs, fewer of many layers
_SEED = 1
_SHARPEST = "the sharpest of each layer"


@dataclass(frozen=True, eq=False)
class Monitoring:
    """How a run is followed.

    Attributes
    ----------
    watched : tuple of str
        As asked.
    errors : str
        Of time, stops, tooling and indices, as standard deviations.
    goals : tuple of str
        What a good piece is.
    layers : tuple of LayerWatch
        On one chip through the run, each ended by what errs least.
    with_fresh_chips : tuple of LayerWatch
        The same where a chip is changed if that halves the error.
    strategies : tuple of Strategy
        The best first.
    samples, seed : int
    notes : tuple of str
    """

    watched: tuple[str, ...]
    errors: str
    goals: tuple[str, ...]
    layers: tuple[LayerWatch, ...]
    with_fresh_chips: tuple[LayerWatch, ...]
    strategies: tuple[Strategy, ...]
    samples: int
    seed: int
    notes: tuple[str, ...]
    best_light: Hidden[Cue | None]
    done: Hidden[int] = 0

    @property
    def advised(self) -> tuple[LayerWatch, ...]:
        """The layers as the better of the two ways with the sharpest readings follows them."""
        first = next(one for one in self.strategies if one.strategy.startswith(_SHARPEST))
        return self.with_fresh_chips if first.fresh_chips else self.layers

    @property
    def to_come(self) -> tuple[LayerWatch, ...]:
        """Of these the layers that are still to be deposited."""
        return self.advised[self.done :]


def monitor_run(
    films: Stack,
    order: Sequence[int],
    cues: Sequence[Cue],
    *,
    bare: Stack,
    viewing: ViewingConditions,
    goals: Sequence[Goal] = (),
    errors: DepositionErrors | str | None = None,
    done: int = 0,
) -> Monitoring:
    """What to watch in each layer, and the ways to end them compared in simulated runs.

    Without goals a piece is good if its colour comes within 3 ΔE of the planned one; ``done``
    steps are made already.
    """
    errors = TIMED if errors is None else as_errors(errors)
    wanted = tuple(goals) or (_keep_colour(films),)
    samples = int(np.clip(_FILMS // len(order), _FEWEST, _SAMPLES))
    plan = RunPlan(films, tuple(order), tuple(cues), bare, viewing, errors.relative_percent)
    trials = RunTrials(plan, wanted, errors, samples, _SEED, done)
    light = _best_light(trials.on_one_chip, cues)
    found = [trials.follow("time", lambda _: None, timed=False)]
    for name, choose, timed in _ways(light, cues):
        if any(choose(watch) for watch in trials.on_one_chip):
            found.append(trials.follow(name, choose, timed=timed))
    way, layers = trials.follow_sharpest(_SHARPEST, fresh=False)
    other, with_fresh = trials.follow_sharpest(f"{_SHARPEST}, with fresh chips", fresh=True)
    found += [way, other] if other.fresh_chips else [way]
    found.sort(key=lambda one: (-one.yield_share, sum(one.sd_nm)))
    return Monitoring(
        tuple(cue.name for cue in cues), str(errors), tuple(str(goal) for goal in wanted), layers,
        with_fresh, tuple(found), samples, _SEED, _notes(cues, bool(goals)), light, done,
    )  # fmt: skip


def _ways(light: Cue | None, cues: Sequence[Cue]) -> list[tuple[str, Choose, bool]]:
    """Strategies with one reading throughout: its name, what it reads in a layer, and whether
    only its turning points are used."""
    ways: list[tuple[str, Choose, bool]] = []
    if light is not None:
        name = light.name if light.kind == "light" else "lux"
        ways.append((f"turning points at {name}, time between", _reads(light.name), True))
        ways.append((f"level at {name}", _sharp(light.name), False))
    if any(cue.kind == "eye" for cue in cues):
        ways.append(("the eye", _sharp("eye"), False))
    if any(cue.kind == "ohms" for cue in cues):
        ways.append(("ohms of metals, time for the rest", _sharp("ohms"), False))
    return ways


def _reads(name: str) -> Choose:
    """The reading of a name with the most turning points, on the side where it is sharpest."""

    def choose(watch: LayerWatch) -> LayerCue | None:
        own = [cue for cue in watch.cues if cue.cue.name == name]
        return max(own, key=lambda cue: len(cue.turning_nm), default=None)

    return choose


def _sharp(name: str) -> Choose:
    """The reading of a name, where it is sharper than time."""

    def choose(watch: LayerWatch) -> LayerCue | None:
        own = [cue for cue in watch.cues if cue.cue.name == name and cue.sharp_nm is not None]
        best = own[0] if own else None
        if best is None or best.sharp_nm is None or best.sharp_nm >= watch.timed_sd_nm:
            return None
        return best

    return choose


def _best_light(watches: Sequence[LayerWatch], cues: Sequence[Cue]) -> Cue | None:
    """The light whose end points are sharpest over the run, in shares of what time leaves."""

    def doubt(cue: Cue) -> float:
        whole = 0.0
        for watch in watches:
            own = [c.sharp_nm for c in watch.cues if c.cue == cue and c.sharp_nm is not None]
            whole += min([*own, watch.timed_sd_nm]) / watch.timed_sd_nm
        return whole

    lights = [cue for cue in cues if cue.kind in ("light", "lux")]
    return min(lights, key=doubt, default=None)


def _keep_colour(films: Stack) -> Goal:
    lab = to_colour(solve(films)).lab
    text = ",".join(f"{value:.2f}" for value in lab.tolist())
    return Goal("colour", "=", colour=text, within=WITHIN_DELTA_E)


def _notes(cues: Sequence[Cue], asked: bool) -> tuple[str, ...]:
    notes = []
    if not asked:
        notes.append("no goals were given: a piece counts as good within 3 ΔE of the plan's colour")
    if any(cue.kind in ("light", "lux") for cue in cues):
        notes.append(
            "readings of light are compared with an earlier one of the same layer, so that lamp "
            "and detector need no calibration; take off what the detector reads with the beam "
            "covered, above all next to a glowing source"
        )
    if any(cue.kind == "eye" for cue in cues):
        notes.append("the eye compares with a printed swatch of the colour at the end")
    notes.append(
        "the chip gets the same thickness as the piece, but for the tooling error stated; how well "
        "a reading is known is common practice, without a source, and can be stated: "
        "532nm within 0.5%"
    )
    return tuple(notes)
