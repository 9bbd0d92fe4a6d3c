"""What is held about a film after its spectrum: weighted draws about every mode of every world."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import lgamma

import numpy as np

from .._typing import FloatArray
from .forward_model import BLINDING, DOUBTS, GROWING, ForwardModel
from .noise_model import NoiseModel
from .reparametrisation import Ridge
from .search import Mode

_DRAWN = 5.0  # nats below the best at which a world is still drawn from
_DRAWS, _SIMPLE_DRAWS, _LEAST_DRAWS = 1600, 400, 60
_TAILS = 5.0  # degrees of freedom of the bells drawn from: heavier than any true tail
_WIDER = 1.15
_ROUNDS, _ENOUGH, _ENOUGH_SHARE = 3, 100.0, 0.25
_MOST_ROUNDS, _VERY_MOST, _FEW = 6, 12, 0.25  # more where fewer than this part of enough are found
_OPEN_NM, _NARROW_NM = 30.0, 6.0
_ANYWHERE, _PLACES = 0.15, 8  # of the draws where a doubt may hide the thickness
_ALONG, _NARROWER = 12, 1.6
_LEAST_EFFECTIVE, _MILDER = 20.0, 0.9  # draws that a bell is learned from
_LOOSE_SHARE = 0.25


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
    if world.has_thickness and world.doubt in BLINDING:
        bells = [replace(bell, share=(1.0 - _ANYWHERE) * bell.share) for bell in bells]
        bells += _bells_anywhere(modes[0])
    # Draws beyond a bound weigh nothing: they are counted, and cost nothing more.
    each, wanted = count * 2**world.folded // _ROUNDS, min(_ENOUGH, _ENOUGH_SHARE * count)
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


def _bells_anywhere(mode: Mode) -> list[_Bell]:
    """All else as in a mode, but of any thickness: where a doubt hides the fringes, films thick
    enough all look alike, and a mode among them says little of how far they reach."""
    low, high = mode.world.between_nm
    step = (high - low) / _PLACES
    precision = mode.precision.copy()
    precision[0], precision[:, 0] = 0.0, 0.0
    precision[0, 0] = step**-2.0
    root, straight = _root(precision) / _WIDER, Ridge.of((), False)
    centre = np.repeat(mode.x[None], _PLACES, axis=0)
    centre[:, 0] = low + step * (np.arange(_PLACES) + 0.5)
    if mode.world.doubt in GROWING:
        # What hides the fringes is size times thickness, d e^(σ z).
        first, *_ = DOUBTS[mode.world.doubt]
        column = mode.x.size - len(DOUBTS[mode.world.doubt])
        thicker = centre[:, 0] / max(mode.thickness_nm, float(centre[0, 0]))
        centre[:, column] -= np.log(thicker) / first.spread
    return [_Bell(place, root, _ANYWHERE / _PLACES, straight) for place in centre]


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
    if x.shape[1] == 0 or len(x) <= 2 * x.shape[1]:
        return []
    weight = _even_out(log_weight)
    about_nm = float(weight @ x[:, 0])
    ridge = ridge.restrict(about_nm, float(np.sqrt(weight @ (x[:, 0] - about_nm) ** 2)))
    y = ridge.straighten(x, about_nm)
    centre = weight @ y
    spread = (weight[:, None] * (y - centre)).T @ (y - centre)
    spread += 1e-3 * np.diag(np.diag(spread))
    root = _root(np.asarray(np.linalg.inv(spread), dtype=float))
    along = x[rng.choice(len(x), size=_ALONG, p=weight)]
    return [
        _Bell(centre, root / _WIDER, 0.3, ridge),
        *(_Bell(place, root * _NARROWER, 0.3 / _ALONG, ridge) for place in along),
    ]


def _even_out(log_weight: FloatArray) -> FloatArray:
    """Weights (N,) that sum to one, to the highest power at which enough of them count: where one
    draw outweighs all others, its neighbourhood was missed, and the others say where to look too.
    """
    power, least = 1.0, min(_LEAST_EFFECTIVE, 0.5 * log_weight.size)
    while _effective_count(power * log_weight) < least:
        power *= _MILDER
    weight = np.exp(power * (log_weight - log_weight.max()))
    return np.asarray(weight / weight.sum())


def _log_target(
    world: ForwardModel, x: FloatArray, reading: FloatArray, misfit: NoiseModel
) -> FloatArray:
    """Log of prior times likelihood (N,), and nothing where the prior is nothing."""
    target = world.log_prior(x)
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
