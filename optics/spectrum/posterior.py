"""What is held about a film after its spectrum: weighted draws about every mode of every world."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import lgamma

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from .forward_model import BLINDING, ForwardModel
from .noise_model import NoiseModel, NoiseSetting
from .reparametrisation import Ridge
from .sample_batch import ModelBatch, batch_models, join_unknowns
from .search import NO_RIVAL, ROUGH_GAIN, Mode, curvature, descend, find_distinct, scan

_WORTHWHILE = 12.0  # nats below the best mode at which a mode is kept, and listed
_FOLLOWED, _SCANNED = 3, 2  # ends of each world, and places of a scan, followed to other worlds
_DRAWN = 5.0  # nats below the best at which a world is still drawn from
_DRAWS, _SIMPLE_DRAWS, _LEAST_DRAWS = 1600, 400, 60
_TAILS = 5.0  # degrees of freedom of the bells drawn from: heavier than any true tail
_WIDER = 1.15
_ROUNDS, _ENOUGH, _ENOUGH_SHARE = 3, 100.0, 0.25
_MOST_ROUNDS, _VERY_MOST, _FEW = 6, 12, 0.25  # more where fewer than this part of enough are found
_SETTLINGS = 2  # the first finds the noise, the second fits under it
_OPEN_NM, _NARROW_NM = 30.0, 6.0
_ALONG, _NARROWER, _LEAST_EFFECTIVE = 12, 1.6, 8.0
_FIRST_NOISE, _FIRST_MISFIT = 0.007, 0.004
_LOOSE_MISFIT, _LOOSE_SHARE = 0.015, 0.25


@dataclass(frozen=True, eq=False)
class Rivals:
    """Ends of descents in the worlds of one family.

    Attributes
    ----------
    family : ModelBatch
    which : ndarray of int, shape (N,)
        The world of each.
    x : ndarray, shape (N, F)
    cost : ndarray, shape (N,)
    """

    family: ModelBatch
    which: IndexArray
    x: FloatArray
    cost: FloatArray

    def by_world(self) -> list[tuple[ForwardModel, IndexArray]]:
        """The worlds with ends, and the places of these."""
        return [(self.family.worlds[i], np.flatnonzero(self.which == i)) for i in set(self.which)]

    def best(self, places: IndexArray) -> IndexArray:
        """Of some places, those of the few lowest costs."""
        return np.asarray(places[np.argsort(self.cost[places])[:_FOLLOWED]])

    def keep(self, own: BoolArray) -> Rivals:
        """Only some of the ends."""
        return replace(self, which=self.which[own], x=self.x[own], cost=self.cost[own])

    def residuals(self, reading: FloatArray) -> FloatArray:
        """What each leaves of a reading, shape (N, W)."""
        return reading - self.family.at(self.which).curves(self.x)


@dataclass(frozen=True, eq=False)
class FitDraws:
    """Weighted draws from one world.

    Attributes
    ----------
    world : ForwardModel
    x : ndarray, shape (N, F)
    log_weight : ndarray, shape (N,)
        Such that the mean of the weights is the world's evidence times its prior weight.
    """

    world: ForwardModel
    x: FloatArray
    log_weight: FloatArray

    @property
    def log_evidence(self) -> float:
        """Log of the mean weight."""
        peak = self.log_weight.max()
        if not np.isfinite(peak):
            return -np.inf
        return float(peak + np.log(np.mean(np.exp(self.log_weight - peak))))


def noise_by_differences(reading: FloatArray) -> float:
    """Standard deviation of white noise from the third differences of neighbours.

    A smooth curve cancels to third order; the median forgives the few places where it does not.
    Fringes as narrow as the steps between readings count as noise.
    """
    if reading.size < 8:
        return 0.01
    third = np.diff(reading, 3) / np.sqrt(20.0)
    return float(max(np.median(np.abs(third)) / 0.6745, 2e-4))


def find_modes(
    worlds: Sequence[ForwardModel], reading: FloatArray, misfit: NoiseModel
) -> tuple[list[Mode], int]:
    """Every best fit worth listing, likeliest first, and how many descents were made.

    The noise is that of the best of them all. Doubts about piece and instrument are followed from
    where the plain worlds end, on the base that suits best.
    """
    # Taken as noisy at first: a sharp reading has a landscape too rough to descend from afar.
    noise = min(max(noise_by_differences(reading), _FIRST_NOISE), 0.02)
    whitening = misfit.whitening(NoiseSetting(noise, _FIRST_MISFIT))
    plain, descents = _plain_ends(batch_models(worlds), reading, whitening)
    doubtful, more = _doubtful_ends(plain, reading, whitening)
    rivals = _drop_hopeless([*plain, *doubtful])
    before = None
    for _ in range(_SETTLINGS):
        likeliest = _likeliest_noise(rivals, reading, misfit)
        if likeliest == before:
            break
        each, best = [], np.inf
        for ends in sorted(rivals, key=lambda ends: float(ends.cost.min())):
            each.append(_settle_modes(ends, reading, likeliest, misfit, best))
            best = min(best, float(each[-1][0].cost.min()))
        rivals, before = _drop_hopeless([ends for ends, _ in each]), likeliest
    modes = [mode for _, found in each for mode in found]
    modes.sort(key=lambda mode: -mode.log_evidence)
    kept = [m for m in modes if m.log_evidence > modes[0].log_evidence - _WORTHWHILE]
    return kept, descents + more


def _likeliest_noise(
    rivals: Sequence[Rivals], reading: FloatArray, misfit: NoiseModel
) -> NoiseSetting:
    """What explains the residual of the best of all ends best."""
    best: tuple[float, NoiseSetting] = (-np.inf, NoiseSetting(_FIRST_NOISE, _FIRST_MISFIT))
    for ends in rivals:
        residual = ends.residuals(reading)
        height = misfit.log_likelihood(residual)
        if height.max() > best[0]:
            best = float(height.max()), misfit.likeliest(residual[int(np.argmax(height))])
    return best[1]


def _plain_ends(
    families: Sequence[ModelBatch], reading: FloatArray, whitening: FloatArray
) -> tuple[list[Rivals], int]:
    """Where the descents of every family end, and how many there were.

    What a film's index model comes to on one base is where it starts from on the others.
    """
    known: dict[str, FloatArray] = {}
    scanned: list[tuple[ForwardModel, FloatArray]] = []
    found, descents = [], 0
    for family in families:
        own_ends = []
        for worlds in _first_bases_first(family, known):
            own = ModelBatch(tuple(world.draft for world in worlds))
            starts = [_find_starts(one, reading, whitening, known, scanned) for one in worlds]
            ends, count = _ends_of(own, *join_unknowns(starts), reading, whitening, np.inf)
            for world, places in ends.by_world():
                if world.has_thickness and world.model:
                    known.setdefault(world.model.name, ends.x[ends.best(places)])
            own_ends.append(replace(ends, family=ModelBatch(worlds)))
            descents += count
        found.append(_join(own_ends))
    return found, descents


def _join(parts: Sequence[Rivals]) -> Rivals:
    """Ends of worlds of one family as one."""
    before = np.cumsum([0, *(len(part.family.worlds) for part in parts)])
    return Rivals(
        ModelBatch(tuple(world for part in parts for world in part.family.worlds)),
        np.concatenate([part.which + first for part, first in zip(parts, before, strict=False)]),
        np.concatenate([part.x for part in parts]),
        np.concatenate([part.cost for part in parts]),
    )


def _first_bases_first(
    family: ModelBatch, known: dict[str, FloatArray]
) -> list[tuple[ForwardModel, ...]]:
    """The worlds of a family, those apart whose index model is met for the first time."""
    new: list[ForwardModel] = []
    rest: list[ForwardModel] = []
    met = set(known)
    for world in family.worlds:
        name = world.model.name if world.model and world.has_thickness else None
        (rest if name in met else new).append(world)
        met |= {name} if name else set()
    return [tuple(worlds) for worlds in (new, rest) if worlds]


def _doubtful_ends(
    plain: Sequence[Rivals], reading: FloatArray, whitening: FloatArray
) -> tuple[list[Rivals], int]:
    """Where doubts lead, each by itself: from the plain worlds' best ends, and from a scan.

    On every base and with every index: without its doubt a spectrum looks like a film of another
    index on another base.
    """
    rival = min(float(ends.cost.min()) for ends in plain)
    scanned: dict[str, tuple[ForwardModel, FloatArray]] = {}
    found, descents = [], 0
    for ends in plain:
        near = [(world, ends.x[ends.best(own)]) for world, own in ends.by_world()]
        for doubt in near[0][0].doubts:
            worlds = [world.with_doubt(doubt) for world, _ in near]
            starts = [world.start_of(doubt, x) for world, x in near]
            if doubt in BLINDING and worlds[0].has_thickness:
                if doubt not in scanned:
                    first = scan(worlds[0], reading, whitening)[:_SCANNED]
                    scanned[doubt] = worlds[0], first
                for i, world in enumerate(worlds):
                    more = world.start_like(*scanned[doubt])
                    starts[i] = np.concatenate([starts[i], more])
            which, x = join_unknowns(starts)
            own = ModelBatch(tuple(world.draft for world in worlds))
            end, count = _ends_of(own, which, x, reading, whitening, rival)
            rival = min(rival, float(end.cost.min()))
            found.append(replace(end, family=ModelBatch(tuple(worlds))))
            descents += count
    return found, descents


def _ends_of(
    family: ModelBatch,
    which: IndexArray,
    x: FloatArray,
    reading: FloatArray,
    whitening: FloatArray,
    rival: float,
) -> tuple[Rivals, int]:
    """The different ends of descents, roughly, and how many descents there were."""
    x, _, cost = descend(
        family, which, x, reading=reading, whitening=whitening, rival=rival, least_gain=ROUGH_GAIN
    )
    kept = _find_distinct(family, which, x, cost)
    return Rivals(family, which[kept], x[kept], cost[kept]), len(x)


def _drop_hopeless(rivals: Sequence[Rivals]) -> list[Rivals]:
    """Without the ends, and the families, that the first look leaves no chance."""
    least = min(float(ends.cost.min()) for ends in rivals if ends.cost.size)
    near = [ends.keep(ends.cost < least + NO_RIVAL) for ends in rivals]
    return [ends for ends in near if ends.cost.size]


def _find_distinct(
    family: ModelBatch, which: IndexArray, x: FloatArray, cost: FloatArray
) -> IndexArray:
    """Places of the different ends of each world, world after world."""
    each = [np.flatnonzero(which == i) for i in np.unique(which)]
    first = family.worlds[0]
    return np.concatenate([own[find_distinct(x[own], cost[own], first)] for own in each])


def _find_starts(
    world: ForwardModel,
    reading: FloatArray,
    whitening: FloatArray,
    known: dict[str, FloatArray],
    scanned: list[tuple[ForwardModel, FloatArray]],
) -> FloatArray:
    """Starts of a world; those of a film's index model are sought on one base only.

    Tables are alike but for the size of their index, so that one is scanned and the others start
    where a film has the same optical path.
    """
    if not world.has_thickness or world.model is None:
        return np.zeros((1, len(world.parameters)))
    if world.model.name in known:
        return known[world.model.name]
    if world.model.table is None:
        return scan(world, reading, whitening)
    if not scanned:
        scanned.append((world, scan(world, reading, whitening)))
    first, starts = scanned[0]
    x = starts.copy()
    x[:, 0] = world.same_path_nm(first, x)
    return x


def _settle_modes(
    ends: Rivals, reading: FloatArray, noise: NoiseSetting, misfit: NoiseModel, rival: float
) -> tuple[Rivals, list[Mode]]:
    """Modes of a family under the noise that was found, and how loose a misfit makes them."""
    family = ends.family
    loosely = replace(noise, miss=max(3.0 * noise.miss, _LOOSE_MISFIT))
    tight, loose_white = misfit.whitening(noise), misfit.whitening(loosely)
    x, precision, cost = descend(
        family, ends.which, ends.x, reading=reading, whitening=tight, rival=rival
    )
    kept = _find_distinct(family, ends.which, x, cost)
    which, x, precision = ends.which[kept], x[kept], precision[kept]
    together = family.at(which)
    residual = reading - together.curves(x)
    height = misfit.log_likelihood(residual) + log_prior(family.worlds[0], x)
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
    return Rivals(family, which, x, cost[kept]), modes


def log_prior(world: ForwardModel, x: FloatArray) -> FloatArray:
    """Log density (N,) of unknowns before the measurement, the world's own weight included."""
    first = int(world.has_thickness)
    z = x[:, first:]
    density = np.log(world.weight) - 0.5 * ((z**2).sum(axis=1) + z.shape[1] * np.log(2.0 * np.pi))
    if first:
        density -= np.log(world.between_nm[1] - world.between_nm[0])
    low, high = world.bounds
    inside = np.all((x >= low) & (x <= high), axis=1)
    return np.where(inside, density, -np.inf)


def draw_posterior(
    modes: Sequence[Mode], reading: FloatArray, misfit: NoiseModel, *, rng: np.random.Generator
) -> list[FitDraws]:
    """Weighted draws from every world that may matter, by importance sampling.

    Worlds with a film, without, and with one nothing shines through are drawn from whatever
    their odds against each other.

    A world is drawn from as a mixture of Student bells about its modes, and each draw weighed by
    how much likelier the posterior makes it than the mixture does.
    """
    found = []
    for role in dict.fromkeys(mode.world.piece.role for mode in modes):
        own = [mode for mode in modes if mode.world.piece.role == role]
        worlds = list(dict.fromkeys(mode.world for mode in own))
        evidence = np.array(
            [np.logaddexp.reduce([m.log_evidence for m in own if m.world is w]) for w in worlds]
        )
        # The root gives worlds that the bells undervalue a fair number of draws.
        share = np.exp(0.5 * (evidence - evidence.max()))
        share[evidence < evidence.max() - _DRAWN] = 0.0
        total = _DRAWS if role == "film" else _SIMPLE_DRAWS
        for world, part in zip(worlds, share / share.sum(), strict=True):
            if part > 0.0:
                count = max(_LEAST_DRAWS, round(total * float(part)))
                about = [mode for mode in own if mode.world is world]
                found.append(_draw_model(world, about, count, reading, misfit, rng))
    return found


def _draw_model(
    world: ForwardModel,
    modes: Sequence[Mode],
    count: int,
    reading: FloatArray,
    misfit: NoiseModel,
    rng: np.random.Generator,
) -> FitDraws:
    """Draws about the modes, then about what the draws so far have found.

    All are weighed against the mixture of all rounds (the balance rule of E. Veach and
    L. J. Guibas, SIGGRAPH 1995, 419, from memory).
    """
    share = np.exp([mode.log_evidence - modes[0].log_evidence for mode in modes])
    share = 0.9 * share / share.sum() + 0.1 / len(modes)
    bells = [
        bell
        for mode, part in zip(modes, share, strict=True)
        for bell in _bell_about(mode, float(part))
    ]
    # Draws beyond a bound weigh nothing: they are counted, and cost nothing more.
    bounded = sum(p.shape == "half-normal" for p in world.parameters)
    each, wanted = count * 2**bounded // _ROUNDS, min(_ENOUGH, _ENOUGH_SHARE * count)
    mixtures = [bells]
    x = _draw_possible(world, bells, each, rng)
    target = _log_target(world, x, reading, misfit)
    density = [_log_mixture(bells, x)]
    while True:
        weight = target - np.logaddexp.reduce(density) + np.log(len(x) / each)
        effective = _effective_count(weight)
        most = _MOST_ROUNDS if effective > _FEW * wanted else _VERY_MOST
        if len(mixtures) >= (_ROUNDS if effective > wanted else most):
            return FitDraws(world, x, weight)
        learned = _fit_bell(x, weight, world.ridge, rng)
        kept = [replace(bell, share=0.4 * bell.share) for bell in bells] if learned else bells
        new = _draw_possible(world, kept + learned, each, rng)
        density = [
            np.append(old, _log_mixture(own, new))
            for own, old in zip(mixtures, density, strict=True)
        ]
        mixtures.append(kept + learned)
        x = np.concatenate([x, new])
        density.append(_log_mixture(mixtures[-1], x))
        target = np.concatenate([target, _log_target(world, new, reading, misfit)])


def _draw_possible(
    world: ForwardModel, bells: Sequence[_Bell], count: int, rng: np.random.Generator
) -> FloatArray:
    """Those of a number of draws that lie within the bounds."""
    x = _draw_from_bells(bells, count, rng)
    low, high = world.bounds
    inside = np.all((x >= low) & (x <= high), axis=1)
    return x[inside] if inside.any() else np.clip(x[:1], low, high)


@dataclass(frozen=True, eq=False)
class _Bell:
    """One Student bell of a mixture, of the unknowns that are straight along the ridge about its
    centre; its inverse spread is ``root rootᵀ``.
    """

    centre: FloatArray
    root: FloatArray
    share: float
    ridge: Ridge

    def to_unknowns(self, y: FloatArray) -> FloatArray:
        """Unknowns (N, F) of draws."""
        return self.ridge.bend_back(y, float(self.centre[0]) if self.centre.size else 0.0)

    def log_density(self, x: FloatArray) -> FloatArray:
        """Of the unknowns (N, F), share included."""
        about_nm = float(self.centre[0]) if self.centre.size else 0.0
        density = _log_student(self.ridge.straighten(x, about_nm), self.centre, self.root)
        return np.asarray(np.log(self.share) + density + self.ridge.log_stretch(x, about_nm))


def _bell_about(mode: Mode, share: float) -> list[_Bell]:
    """The bell of a mode; where it leaves the thickness open, a narrow one as well.

    A film on glass changes nothing to first order as it begins, so that the curvature at zero
    says nothing of where it starts to show.
    """
    # What a misfit would allow is wider than the best fit's own bell, and must be drawn from too.
    ridge = mode.world.ridge
    if mode.world.has_thickness:
        spread_nm = float(np.sqrt(np.linalg.inv(mode.precision)[0, 0]))
        ridge = ridge.restrict(float(mode.x[0]), spread_nm)
    root = _root(ridge.straight_precision(mode.loose, mode.x))
    loose = _Bell(mode.x, root / _WIDER, _LOOSE_SHARE * share, ridge)
    share *= 1.0 - _LOOSE_SHARE
    root = _root(ridge.straight_precision(mode.precision, mode.x))
    bell = _Bell(mode.x, root / _WIDER, share, ridge)
    if not mode.world.has_thickness or mode.precision[0, 0] > _OPEN_NM**-2.0:
        return [bell, loose]
    pinned = mode.precision.copy()
    pinned[0, 0] += _NARROW_NM**-2.0
    root = _root(ridge.straight_precision(pinned, mode.x))
    narrow = _Bell(mode.x, root / _WIDER, 0.5 * share, ridge)
    return [replace(bell, share=0.5 * share), narrow, loose]


def _draw_from_bells(bells: Sequence[_Bell], count: int, rng: np.random.Generator) -> FloatArray:
    which = rng.choice(len(bells), size=count, p=[bell.share for bell in bells])
    normal = rng.standard_normal((count, bells[0].centre.size))
    stretch = np.sqrt(_TAILS / rng.chisquare(_TAILS, count))
    x = np.empty_like(normal)
    for i, bell in enumerate(bells):
        own = which == i
        y = bell.centre + stretch[own, None] * np.linalg.solve(bell.root.T, normal[own].T).T
        x[own] = bell.to_unknowns(y)
    return x


def _fit_bell(
    x: FloatArray, log_weight: FloatArray, ridge: Ridge, rng: np.random.Generator
) -> list[_Bell]:
    """What first draws show: one bell of their mean and spread, narrower ones along their ridge."""
    if x.shape[1] == 0 or not _effective_count(log_weight) > _LEAST_EFFECTIVE:
        return []
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    about_nm = float(weight @ x[:, 0])
    ridge = ridge.restrict(about_nm, float(np.sqrt(weight @ (x[:, 0] - about_nm) ** 2)))
    y = ridge.straighten(x, about_nm)
    centre = weight @ y
    spread = (weight[:, None] * (y - centre)).T @ (y - centre)
    spread += 1e-3 * np.diag(np.diag(spread))
    root = _root(np.linalg.inv(spread))
    along = x[rng.choice(len(x), size=_ALONG, p=weight)]
    return [
        _Bell(centre, root / _WIDER, 0.3, ridge),
        *(_Bell(place, root * _NARROWER, 0.3 / _ALONG, ridge) for place in along),
    ]


def _log_target(
    world: ForwardModel, x: FloatArray, reading: FloatArray, misfit: NoiseModel
) -> FloatArray:
    """Log of prior times likelihood (N,), and nothing where the prior is nothing."""
    target = log_prior(world, x)
    possible = np.isfinite(target)
    residual = np.nan_to_num(reading - world.curves(x[possible]), nan=1e3)
    target[possible] += misfit.log_likelihood(residual)
    return target


def _log_mixture(bells: Sequence[_Bell], x: FloatArray) -> FloatArray:
    return np.asarray(np.logaddexp.reduce([bell.log_density(x) for bell in bells]))


def _log_student(x: FloatArray, centre: FloatArray, root: FloatArray) -> FloatArray:
    """Log density (N,) of Student's bell whose inverse spread is ``root rootᵀ``."""
    size = x.shape[1]
    distance = (((x - centre) @ root) ** 2).sum(axis=1)
    constant = lgamma(0.5 * (_TAILS + size)) - lgamma(0.5 * _TAILS)
    constant += np.log(np.diag(root)).sum() - 0.5 * size * np.log(_TAILS * np.pi)
    return np.asarray(constant - 0.5 * (_TAILS + size) * np.log1p(distance / _TAILS))


def _effective_count(log_weight: FloatArray) -> float:
    """How many independent draws weighted ones are worth."""
    weight = np.exp(log_weight - log_weight.max())
    return float(weight.sum() ** 2 / np.sum(weight**2))


def _root(precision: FloatArray) -> FloatArray:
    """Lower triangle whose product with its transpose is the precision."""
    return np.asarray(np.linalg.cholesky(precision), dtype=float)
