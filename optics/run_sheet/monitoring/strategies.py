"""Ways to end the layers of a run, each tried in many simulated runs: how many pieces are good?

A reading of light is followed in earnest: the chip carries the layers as they came out in that run,
with that run's indices, and a layer ends where the reading it really shows turns or reaches its
level. Errors of one layer can so be made good, or made worse, by the next ones. Colours and ohms
end a layer with the doubt they have on the plan's chip.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..._typing import FloatArray, IndexArray
from ...design.goals import Goal
from ...design.merit import Merit, make_merit
from ...design.observation import make_observation
from ...design.stack_tolerance import list_media
from ...design.tolerance import FINE, DepositionErrors, draw_index_errors
from ...films.materials.medium import Medium
from .curves import LayerCue, growth_grid_nm
from .follow import Chip, LayerWatch, RunPlan
from .stops import stop_by_level, stop_by_turning, time_from_turning

_POINTS = 56  # thicknesses at which a reading is taken in a simulated layer
_TRIED = 4  # readings of a layer that are tried in simulated runs
_FRESH_GAIN = 0.5  # a fresh chip is worth the break of the run if it halves the error

Choose = Callable[[LayerWatch], LayerCue | None]


@dataclass(frozen=True)
class Strategy:
    """One way to end the layers of a run, and what comes of it.

    Attributes
    ----------
    strategy : str
    yield_share, yield_error : float
        Share of the simulated pieces that meet the goals [-], and its standard error.
    sd_nm : tuple of float
        Standard deviation of each step's thickness [nm].
    fresh_chips : int
    """

    strategy: str
    yield_share: float
    yield_error: float
    sd_nm: tuple[float, ...]
    fresh_chips: int


@dataclass(eq=False)
class RunTrials:
    """Simulated runs of one stack: the errors they share, whatever ends their layers.

    Attributes
    ----------
    plan : RunPlan
    goals : tuple of Goal
    errors : DepositionErrors
        ``relative_percent`` is that of time; ``absolute_nm`` of any stop; ``tooling_percent`` of
        the piece against the chip; ``index_percent`` of each material.
    samples, seed : int
    done : int
        Steps that are made already, as thick as the plan says.
    """

    plan: RunPlan
    goals: tuple[Goal, ...]
    errors: DepositionErrors
    samples: int
    seed: int
    done: int = 0

    def follow(self, name: str, choose: Choose, *, timed: bool) -> Strategy:
        """One reading throughout on one chip, chosen for each layer; None for time.

        With ``timed`` layers that do not end on a turning point are timed from the last one.
        """
        made: dict[int, FloatArray] = {}
        for watch in self.on_one_chip:
            cue = choose(watch)
            made[watch.step] = self._deposit(watch, cue, made, timed=timed)
        return self._judge(name, made, 0)

    def follow_sharpest(self, name: str, *, fresh: bool) -> tuple[Strategy, tuple[LayerWatch, ...]]:
        """For each layer what errs least in the simulated runs so far; chips changed or not."""
        made: dict[int, FloatArray] = {}
        chip, found = Chip(self.plan.bare), []
        for step in range(1, len(self.plan.order) + 1):
            best, nm = self._least_error(self._on(step, chip), made)
            if fresh and chip.steps and step > self.done:
                clean = Chip(self.plan.bare)
                other, its_nm = self._least_error(
                    self.plan.watch_step(step, clean, fresh=True), made
                )
                if (other.sd_nm or 0.0) < _FRESH_GAIN * (best.sd_nm or 0.0):
                    best, nm, chip = other, its_nm, clean
            found.append(best)
            made[step] = nm
            chip = self.plan.carry(step, chip)
        count = sum(watch.fresh_chip for watch in found)
        return self._judge(name, made, count), tuple(found)

    def _on(self, step: int, chip: Chip) -> LayerWatch:
        whole = len(chip.steps) == step - 1
        return self.on_one_chip[step - 1] if whole else self.plan.watch_step(step, chip)

    @cached_property
    def on_one_chip(self) -> tuple[LayerWatch, ...]:
        """Every step on the chip that carries all before it, nothing chosen yet."""
        chip, found = Chip(self.plan.bare), []
        for step in range(1, len(self.plan.order) + 1):
            found.append(self.plan.watch_step(step, chip))
            chip = self.plan.carry(step, chip)
        return tuple(found)

    def _least_error(
        self, watch: LayerWatch, made: dict[int, FloatArray]
    ) -> tuple[LayerWatch, FloatArray]:
        """A step with the reading of the least mean square error, and its thicknesses (N,)."""
        ways: list[tuple[LayerCue | None, bool, FloatArray]] = [
            (None, False, self._deposit(watch, None, made, timed=False))
        ]
        for cue in watch.cues[:_TRIED] if watch.step > self.done else ():
            read = None
            if self._is_followed(watch, cue) and (cue.turning_nm or cue.sharp_nm is not None):
                read = self._read(watch, cue, made, growth_grid_nm(watch.thickness_nm, _POINTS))
            for timed in (False, True):
                if (cue.turning_nm and cue.rule == "level") if timed else cue.sharp_nm is not None:
                    nm = self._deposit(watch, cue, made, timed=timed, read=read)
                    ways.append((cue, timed, nm))
        off = [float(np.sqrt(np.mean((nm - watch.thickness_nm) ** 2))) for _, _, nm in ways]
        best = int(np.argmin(off))
        chosen, after, nm = ways[best]
        found = replace(
            watch, chosen=chosen, timed_after_turning=after, sd_nm=off[best], timed_sd_nm=off[0]
        )
        return found, nm

    def _is_followed(self, watch: LayerWatch, cue: LayerCue) -> bool:
        """Whether the reading is taken on the chip as it came out: light on its front."""
        return cue.is_light and not self.plan.is_back(watch.position)

    def _judge(self, name: str, made: dict[int, FloatArray], fresh: int) -> Strategy:
        films, order = self.plan.films, self.plan.order
        rng = self._rng(0)
        tooling = 1.0 + 0.01 * self.errors.tooling_percent * rng.standard_normal(self.samples)
        step_of = {position: step for step, position in enumerate(order, start=1)}
        nm = np.stack(
            [made[step_of[i]] * tooling for i in range(len(films.layers))], axis=-1
        )  # front films
        met = self._merit.worst(self._which, nm, index_error=self._index) <= self._merit.allowed
        share = float(met.all(axis=-1).mean())
        sd = [float(np.std(made[step])) for step in sorted(made)]
        error = float(np.sqrt(share * (1.0 - share) / self.samples))
        return Strategy(name, share, error, tuple(sd), fresh)

    def _deposit(
        self,
        watch: LayerWatch,
        cue: LayerCue | None,
        made: dict[int, FloatArray],
        *,
        timed: bool,
        read: FloatArray | None = None,
    ) -> FloatArray:
        """Thickness of one step in every run [nm], shape (N,)."""
        rng, nm = self._rng(watch.step), watch.thickness_nm
        if watch.step <= self.done:
            return np.full(self.samples, nm)
        late, z, clock = rng.standard_normal((3, self.samples))
        clock = 1.0 + 0.01 * self.errors.relative_percent * clock
        if cue is None or (cue.sharp_nm is None and not timed):
            stop = nm * clock
        elif not self._is_followed(watch, cue):
            stop = nm * clock if cue.sharp_nm is None else nm + cue.sharp_nm * z
        else:
            grid = growth_grid_nm(nm, _POINTS)
            read = self._read(watch, cue, made, grid) if read is None else read
            if cue.rule == "turning point":
                stop = stop_by_turning(grid, read, cue, timed_nm=nm * clock, z=z)
            elif timed:
                stop = time_from_turning(grid, read, cue, nm=nm, clock=clock)
            else:
                stop = stop_by_level(grid, read, cue, nm=nm, clock=clock, z=z)
        return np.asarray(np.maximum(stop + self.errors.absolute_nm * late, 0.0))

    def _read(
        self, watch: LayerWatch, cue: LayerCue, made: dict[int, FloatArray], grid: FloatArray
    ) -> FloatArray:
        """What the detector reads in each run as the layer grows, shape (N, D)."""
        wavelength, weights = cue.cue.light()
        order = self.plan.order
        steps = [s for s in reversed(watch.chip.steps) if not self.plan.is_back(order[s - 1])]
        positions = [watch.position, *(order[step - 1] for step in steps)]
        sight = make_observation(replace(watch.chip.slide, layers=()), self._media, wavelength)
        shape = self.samples, grid.size
        below = [np.broadcast_to(made[step][:, None], shape) for step in steps]
        nm = np.stack([np.broadcast_to(grid, shape), *below], axis=-1)  # (N, D, films)
        off = None if self._index is None else self._index[:, None, positions]
        powers = sight.powers(sight.index(self._which[positions], off), nm)
        seen = powers.R if cue.side == "R" else powers.T
        return np.asarray(seen[..., 0, :] @ weights)

    def _rng(self, step: int) -> np.random.Generator:
        """The draws of one step, the same whatever ends it."""
        return np.random.default_rng([self.seed, step])

    @cached_property
    def _palette(self) -> tuple[tuple[Medium, ...], IndexArray]:
        return list_media(self.plan.films)

    @property
    def _media(self) -> tuple[Medium, ...]:
        return self._palette[0]

    @property
    def _which(self) -> IndexArray:
        return self._palette[1]

    @cached_property
    def _index(self) -> FloatArray | None:
        rng = np.random.default_rng([self.seed, 0, 1])
        return draw_index_errors(self._which, self.errors, samples=self.samples, rng=rng)

    @cached_property
    def _merit(self) -> Merit:
        films = self.plan.films
        return make_merit(
            replace(films, layers=()), self._media, self.goals, density=FINE,
            layers=len(films.layers),
        )  # fmt: skip
