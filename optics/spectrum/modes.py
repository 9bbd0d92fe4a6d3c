"""Every way a film may have given a spectrum: looked over, descended from, and weighed.

A survey of one film tells where descents may start, with each doubt and without. The other films
and bases start where that one ends: at its optical path, and with its doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from .._typing import FloatArray
from .forward_model import ForwardModel
from .noise_model import NoiseModel, NoiseSetting
from .sample_batch import ModelBatch, batch_models, join_unknowns
from .search import ROUGH_GAIN, Mode, curvature, descend, find_distinct, rival_limit
from .survey import Survey

_WORTHWHILE = 12.0  # nats below the best mode at which a mode is kept, and listed
_FOLLOWED = 3  # ends of a world followed to others
_STARTS, _DOUBTED = 16, 10  # places of a survey descended from, and with a doubt
_WAVES = 0.2, 0.5, 0.8  # places of the band by whose fringes a film may be mistaken
_AT_LEAST = 12  # of the best places, however bad they look
_ALIKE = 2  # of these within a quarter of a fringe
_LEVEL, _MORE = 10.0, 16  # nats above the best that are next to nothing, and places of such cost
_WORSE, _PROMISING = 3.0, 60.0  # times and nats above the best beyond which no end is followed
_NOT_FAR = 150.0  # nats that a doubt may still bring down
_SETTLINGS = 2  # the first finds the noise, the second fits under it
_FIRST_NOISE, _FIRST_MISFIT = 0.007, 0.004
_LOOSE_MISFIT = 0.015

Ends = dict[ForwardModel, tuple[FloatArray, FloatArray]]
"""Unknowns (S, F) and cost (S,) where descents in each world end, best first."""


def find_modes(
    worlds: Sequence[ForwardModel], reading: FloatArray, misfit: NoiseModel
) -> tuple[list[Mode], NoiseModel, int]:
    """Every best fit worth listing, likeliest first, the misfit about their curves, and how many
    descents were made.

    The noise is that of the best of them all. Doubts about piece and instrument are followed from
    where the plain worlds end, and from a survey of their own where they hide the thickness.
    """
    # Taken as noisy at first: a sharp reading has a landscape too rough to descend from afar.
    noise = min(max(noise_by_differences(reading), _FIRST_NOISE), 0.02)
    search = _Search(reading, misfit.whitening(NoiseSetting(noise, _FIRST_MISFIT)))
    films = [world for world in worlds if world.has_thickness]
    for slit in dict.fromkeys(world.slit for world in films):
        search.through([world for world in films if world.slit is slit])
    search.through_others([world for world in worlds if not world.has_thickness])
    rivals = _drop_hopeless(search.found, reading.size)
    modes: list[Mode] = []
    before = None
    for _ in range(_SETTLINGS):
        curve = _likeliest_curve(rivals, reading, misfit)
        misfit = misfit.about(curve)
        likeliest = misfit.likeliest(reading - curve)
        if likeliest == before:
            break
        settled: Ends = {}
        modes, best = [], np.inf
        for family in _best_first(rivals):
            found, own = _settle_modes(family, rivals, reading, likeliest, misfit, best)
            settled |= found
            modes += own
            best = min(best, *(float(cost.min(initial=np.inf)) for _, cost in found.values()))
        rivals, before = _drop_hopeless(settled, reading.size), likeliest
    modes.sort(key=lambda mode: -mode.log_evidence)
    kept = [m for m in modes if m.log_evidence > modes[0].log_evidence - _WORTHWHILE]
    return kept, misfit, search.descents


@dataclass(eq=False)
class _Search:
    """A first look for one reading.

    Attributes
    ----------
    reading : ndarray, shape (W,)
    whitening : ndarray, shape (W, W)
    best : float
        The lowest cost met.
    descents : int
    found : Ends
    """

    reading: FloatArray
    whitening: FloatArray
    best: float = np.inf
    descents: int = 0
    found: Ends = field(default_factory=dict)

    def through(self, worlds: Sequence[ForwardModel]) -> None:
        """Films of one grid: plain, then with each doubt, on the base that suits best."""
        leaders = _leaders(worlds, worlds[0].base)
        surveys = {leader: Survey.of(leader) for leader in leaders}
        self._descend({leader: self._look(surveys[leader], "") for leader in leaders})
        self._descend({leader: self._a_fringe_off(leader) for leader in leaders})
        self._follow({world: world for world in worlds}, leaders)
        best = min(worlds, key=lambda world: self.found[world][1].min(initial=np.inf))
        if best.base != leaders[0].base:
            leaders = _leaders(worlds, best.base)
            surveys = {leader: Survey.of(leader) for leader in leaders}
        for doubt in worlds[0].doubts:
            doubted = {world: world.with_doubt(doubt) for world in worlds}
            self._descend(
                {
                    doubted[leader]: np.concatenate(
                        [self._near(leader, doubt), self._look(survey, doubt)]
                    )
                    for leader, survey in surveys.items()
                }
            )
            self._descend(
                {doubted[leader]: self._a_fringe_off(doubted[leader]) for leader in leaders}
            )
            self._follow(doubted, leaders)

    def _a_fringe_off(self, world: ForwardModel) -> FloatArray:
        """Films a fringe thinner and thicker than the best of a world, for what is told by the
        short, the middle and the long waves: all else alike, the fringes of one look most like the
        other's."""
        best = self._followed(world)[:1]
        if not len(best):
            return best
        index = world.film(best, world.index, False)[0].real.mean()
        waves = np.quantile(world.piece.wavelength_nm, _WAVES)
        off_nm = np.concatenate([-waves, waves]) / (2.0 * index)
        starts = np.repeat(best, off_nm.size, axis=0)
        starts[:, 0] += off_nm
        low, high = world.between_nm
        return starts[(starts[:, 0] > low) & (starts[:, 0] < high)]

    def _near(self, world: ForwardModel, doubt: str) -> FloatArray:
        """Starts of a world with a doubt where it ends without, if that is not too far off."""
        x, cost = self.found[world]
        return world.start_of(doubt, x[cost < self._as_good(self.best) + _NOT_FAR][:_FOLLOWED])

    def _look(self, survey: Survey, doubt: str) -> FloatArray:
        x, cost = survey.starts(doubt, self.reading, self.whitening)
        near = cost < self._as_good(min(self.best, float(cost.min())))
        near[:_AT_LEAST] = True  # to first order a place may look far worse than it is
        first = _spread_out(x[near], survey.fringe_nm)[: _DOUBTED if doubt else _STARTS]
        # Where fringes are hidden, one film costs as much as the next.
        alike = x[cost < cost[0] + _LEVEL]
        return np.concatenate([first, _apart_from(first, alike, survey.fringe_nm)[:_MORE]])

    def _follow(
        self, as_asked: dict[ForwardModel, ForwardModel], leaders: Sequence[ForwardModel]
    ) -> None:
        """The leaders' ends to other films of their base, and each film's to other bases."""
        base = leaders[0].base
        led = {}
        for plain, world in as_asked.items():
            if plain.base == base and plain not in leaders:
                each = [
                    world.start_like(as_asked[one], self._followed(as_asked[one]))
                    for one in leaders
                ]
                if world.doubt:
                    each.append(self._near(plain, world.doubt))
                led[world] = np.concatenate(each)
        self._descend(led)
        same = {w.model.name: as_asked[w] for w in as_asked if w.model and w.base == base}
        self._descend(
            {
                world: self._followed(same[plain.model.name])
                for plain, world in as_asked.items()
                if plain.model and plain.base != base
            }
        )

    def through_others(self, worlds: Sequence[ForwardModel]) -> None:
        """Pieces without a thickness: plain, then with each doubt."""
        self._descend({world: np.zeros((1, len(world.parameters))) for world in worlds})
        for world in worlds:
            self._descend(
                {world.with_doubt(doubt): self._near(world, doubt) for doubt in world.doubts}
            )

    def _followed(self, world: ForwardModel) -> FloatArray:
        """The best ends of a world; of one with a doubt, those that may be rivals to the best."""
        x, cost = self.found[world]
        near = cost < self._as_good(self.best) if world.doubt else np.isfinite(cost)
        return np.asarray(x[near][:_FOLLOWED])

    @staticmethod
    def _as_good(best: float) -> float:
        """The cost up to which something may yet be a rival: the more, the less the best fits."""
        return _WORSE * best + _PROMISING

    def _descend(self, starts: dict[ForwardModel, FloatArray]) -> None:
        """Descend in some worlds, those alike together, and keep the different ends of each."""
        for world, x in starts.items():
            self.found.setdefault(world, (x[:0], np.empty(0)))
        for family in batch_models(list(starts)):
            drafts = ModelBatch(tuple(world.draft for world in family.worlds))
            which, x = join_unknowns([starts[world] for world in family.worlds])
            if not len(x):
                continue
            x, _, cost = descend(
                drafts,
                which,
                x,
                reading=self.reading,
                whitening=self.whitening,
                rival=self.best,
                least_gain=ROUGH_GAIN,
            )
            self.descents += len(x)
            self.best = min(self.best, float(cost.min(initial=np.inf)))
            for i, world in enumerate(family.worlds):
                own = np.flatnonzero(which == i)
                self._keep(world, x[own], cost[own])

    def _keep(self, world: ForwardModel, x: FloatArray, cost: FloatArray) -> None:
        older = self.found[world]
        x, cost = np.concatenate([older[0], x]), np.concatenate([older[1], cost])
        kept = find_distinct(x, cost, world) if len(x) else []
        self.found[world] = x[kept], cost[kept]


def _spread_out(x: FloatArray, fringe_nm: float) -> FloatArray:
    """Places (S, F), best first, without more than a few within a quarter of a fringe."""
    kept: list[int] = []
    for i in range(len(x)):
        if np.sum(np.abs(x[kept, 0] - x[i, 0]) < 0.25 * fringe_nm) < _ALIKE:
            kept.append(i)
    return np.asarray(x[kept])


def _apart_from(first: FloatArray, x: FloatArray, fringe_nm: float) -> FloatArray:
    """Places (S, F), best first, a fringe or more from the first ones and from each other."""
    kept = list(first)
    for place in x:
        if all(abs(place[0] - other[0]) >= fringe_nm for other in kept):
            kept.append(place)
    return np.array(kept[len(first) :]).reshape(-1, x.shape[1])


def _leaders(worlds: Sequence[ForwardModel], base: str) -> list[ForwardModel]:
    """The films of a base that are surveyed: formulas, which bend as tables do, if there are."""
    own = [world for world in worlds if world.base == base and world.model is not None]
    return [world for world in own if world.model and world.model.table is None] or own


def _drop_hopeless(ends: Ends, count: int) -> Ends:
    """Without the ends that a look at so many readings leaves no chance."""
    least = min(float(cost.min()) for _, cost in ends.values() if cost.size)
    near = {world: cost < rival_limit(least, count) for world, (_, cost) in ends.items()}
    return {
        world: (x[near[world]], cost[near[world]])
        for world, (x, cost) in ends.items()
        if near[world].any()
    }


def _best_first(ends: Ends) -> list[ModelBatch]:
    """The worlds with ends, those alike together, that of the best end first."""
    return sorted(
        batch_models(list(ends)),
        key=lambda family: min(float(ends[world][1].min()) for world in family.worlds),
    )


def _likeliest_curve(ends: Ends, reading: FloatArray, misfit: NoiseModel) -> FloatArray:
    """What the best of all ends would have the instrument read, shape (W,)."""
    curves = []
    for family in batch_models(list(ends)):
        which, x = join_unknowns([ends[world][0] for world in family.worlds])
        curves.append(family.at(which).curves(x))
    each = np.concatenate(curves)
    return np.asarray(each[np.argmax(misfit.log_likelihood(reading - each))])


def _settle_modes(
    family: ModelBatch,
    ends: Ends,
    reading: FloatArray,
    noise: NoiseSetting,
    misfit: NoiseModel,
    rival: float,
) -> tuple[Ends, list[Mode]]:
    """Ends and modes of a family under the noise that was found, and how loose a misfit makes
    them."""
    loosely = replace(noise, miss=max(3.0 * noise.miss, _LOOSE_MISFIT))
    tight, loose_white = misfit.whitening(noise), misfit.whitening(loosely)
    which, x = join_unknowns([ends[world][0] for world in family.worlds])
    x, precision, cost = descend(family, which, x, reading=reading, whitening=tight, rival=rival)
    own = [np.flatnonzero(which == i) for i in range(len(family.worlds))]
    each = [rows[find_distinct(x[rows], cost[rows], family.worlds[0])] for rows in own]
    kept = np.concatenate(each)
    settled = {
        world: (x[rows], cost[rows]) for world, rows in zip(family.worlds, each, strict=True)
    }
    which, x, precision = which[kept], x[kept], precision[kept]
    together = family.at(which)
    residual = reading - together.curves(x)
    height = misfit.log_likelihood(residual) + family.worlds[0].log_prior(x)
    height += np.log([family.worlds[i].weight / family.worlds[0].weight for i in which])
    _, size = np.linalg.slogdet(precision)
    evidence = height + 0.5 * (x.shape[1] * np.log(2.0 * np.pi) - size)
    loose = curvature(together, x, reading=reading, whitening=loose_white)
    left = residual - misfit.instrument_shift(residual, noise)
    rms = np.sqrt(np.mean(left**2, axis=1))
    modes = [
        Mode(family.worlds[i], x[j], precision[j], loose[j], float(rms[j]), float(evidence[j]))
        for j, i in enumerate(which)
    ]
    return settled, modes


def noise_by_differences(reading: FloatArray) -> float:
    """Standard deviation of white noise from the third differences of neighbours.

    A smooth curve cancels to third order; the median forgives the few places where it does not.
    Fringes as narrow as the steps between readings count as noise.
    """
    if reading.size < 8:
        return 0.01
    third = np.diff(reading, 3) / np.sqrt(20.0)
    return float(max(np.median(np.abs(third)) / 0.6745, 2e-4))
