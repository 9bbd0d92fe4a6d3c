"""What is held about many spots after they were read together, and how it is summed up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..._typing import FloatArray
from ...inference.colour_table import STEP_NM
from ...inference.faults import NONE
from ...inference.hypotheses import FilmModel
from ...numerics.density import quantiles
from .faults import PRESENT
from .likelihood import Spots, thickness_density
from .model import SharedModel, film_members
from .row import SpotRow, separate_spots
from .sampler import JointDraws

_REPORTED = ("wb_a", "wb_b", "glare", "angle_deg", "index_error", "share")
_LEVELS = np.array([0.05, 0.5, 0.95])
# Two runs agree if their log evidences do, and their medians in units of the interval's width.
_EVIDENCE_APART, _MIDDLES_APART, _LEAST_ACCEPTANCE = 3.0, 0.35, 0.3


@dataclass(frozen=True)
class SharedValue:
    """One unknown that all spots share: its median and equal-tailed 90 % interval."""

    value: float
    interval90: tuple[float, float]


@dataclass(frozen=True, eq=False)
class JointEstimate:
    """What is held about every spot after all were read together.

    Attributes
    ----------
    thickness_nm : ndarray, shape (P,)
        Medians [nm].
    interval90_nm : ndarray, shape (P, 2)
        Equal-tailed 90 % intervals [nm], each of its own spot: all move together if the shared
        unknowns are off, so they do not average out over the spots.
    grid_nm, density : ndarray, shapes (T,) and (P, T)
        Posterior density per nanometre.
    gain, wb_a, wb_b, glare, angle_deg, index_error, share : SharedValue
        Exposure factor [-], white balance [ΔE in a*, b*], share of veiling light [-], viewing
        angle [°], relative index error [-], and the part of the discrepancy that is common.
    films : dict
        Probability of each film hypothesis.
    pair_probability : ndarray, shape (J,)
        Probability of each of ``pairs``.
    faults : dict
        Probability of each fault of surface, oxide, camera or lamp that all spots may share, the
        likeliest first, and of ``none``; two may be there at once. Empty where none was in doubt.
    log_evidence : float
    effective_draws : float
        Draws of equal weight that those kept are worth.
    acceptance : float
        Mean share of paths the sampler took.
    converged : bool
        Whether two independent runs came to the same answer; if not, do not trust it.
    why : str
        In words, when not converged; empty otherwise.
    pairs : tuple of FilmModel
    seed : int
    model : SharedModel
    draws : JointDraws
    weight : ndarray, shape (N,)
        Posterior weight of each draw; they sum to 1.
    """

    thickness_nm: FloatArray
    interval90_nm: FloatArray
    grid_nm: FloatArray
    density: FloatArray
    gain: SharedValue
    wb_a: SharedValue
    wb_b: SharedValue
    glare: SharedValue
    angle_deg: SharedValue
    index_error: SharedValue
    share: SharedValue
    films: dict[str, float]
    pair_probability: FloatArray
    faults: dict[str, float]
    log_evidence: float
    effective_draws: float
    acceptance: float
    converged: bool
    why: str
    pairs: tuple[FilmModel, ...]
    seed: int
    model: SharedModel
    draws: JointDraws
    weight: FloatArray


def summarise_draws(
    model: SharedModel,
    *,
    pairs: tuple[FilmModel, ...],
    spots: Spots,
    draws: JointDraws,
    row: SpotRow | None,
) -> dict[str, Any]:
    """Fields of a :class:`JointEstimate` that come of the sampler's draws.

    Group ``r H + h`` of the draws is film h of H in run r of two. With a row, the spots are its
    places, and every spot of it is separated again.
    """
    log_evidence, weight = _weights(pairs, draws)
    return {
        **_thicknesses(model, spots, draws, weight, log_evidence, row),
        **_shared_values(model, draws, weight),
        **_identities(pairs, draws, weight),
        "faults": _fault_probabilities(model, draws, weight),
        "log_evidence": float(np.logaddexp(*log_evidence.tolist()) - np.log(2.0)),
        "effective_draws": float(1.0 / (weight @ weight)),
        "acceptance": draws.acceptance,
        "pairs": pairs,
        "model": model,
        "draws": draws,
        "weight": weight,
    }


def _weights(pairs: tuple[FilmModel, ...], draws: JointDraws) -> tuple[FloatArray, FloatArray]:
    """Log evidence of both runs over all films (2,), and the weight of every draw (N,)."""
    films = film_members(pairs)
    prior = np.array([sum(pairs[j].weight for j in members) for members, _ in films])
    each = draws.log_evidence.reshape(2, -1) + np.log(prior / prior.sum())
    run: FloatArray = np.logaddexp.reduce(each, axis=1)
    size = np.bincount(draws.group, minlength=each.size)
    share = np.exp(each - each.max()).ravel() / np.maximum(size, 1)
    weight = share[draws.group]
    return run, weight / weight.sum()


def _thicknesses(
    model: SharedModel,
    spots: Spots,
    draws: JointDraws,
    weight: FloatArray,
    log_evidence: FloatArray,
    row: SpotRow | None,
) -> dict[str, Any]:
    low_nm, high_nm = model.between_nm
    grid_nm = np.linspace(low_nm, high_nm, round((high_nm - low_nm) / STEP_NM) + 1)
    run = draws.group >= draws.log_evidence.size // 2
    each, middles = [], []
    for chosen in (~run, run):
        scores, pair, own = draws.scores[chosen], draws.pair[chosen], weight[chosen]
        if own.sum() > 0.0:
            each.append(
                own.sum()
                * thickness_density(
                    model, spots, scores=scores, pair=pair, weight=own, grid_nm=grid_nm
                )
            )
            middles.append(quantiles(grid_nm, each[-1], _LEVELS[1:2])[:, 0])
    density = np.sum(each, axis=0)
    low, _, high = quantiles(grid_nm, density, _LEVELS).T
    apart = np.abs(middles[0] - middles[-1]) / np.maximum(high - low, STEP_NM)
    why = _find_disagreement(log_evidence, float(np.median(apart)), draws.acceptance)
    if row is not None:
        density = separate_spots(grid_nm, density, row)
    low, middle, high = quantiles(grid_nm, density, _LEVELS).T
    return {
        "thickness_nm": middle,
        "interval90_nm": np.stack([low, high], axis=1),
        "grid_nm": grid_nm,
        "density": density,
        "converged": not why,
        "why": why,
    }


def _find_disagreement(log_evidence: FloatArray, middles_apart: float, acceptance: float) -> str:
    """Why the two runs cannot both be right; empty if they can."""
    apart = abs(log_evidence[0] - log_evidence[1])
    if apart > _EVIDENCE_APART:
        return f"two runs of the sampler differ by {apart:.1f} in log evidence; take more particles"
    if middles_apart > _MIDDLES_APART:
        return "two runs of the sampler found different thicknesses; take more particles"
    if acceptance < _LEAST_ACCEPTANCE:
        return "the sampler hardly moved; take more particles"
    return ""


def _shared_values(model: SharedModel, draws: JointDraws, weight: FloatArray) -> dict[str, Any]:
    shared = model.shared(draws.scores)
    values = {name: _value(getattr(shared, name), weight) for name in _REPORTED}
    return {"gain": _value(np.exp(shared.log_gain), weight), **values}


def _value(draws: FloatArray, weight: FloatArray) -> SharedValue:
    order = np.argsort(draws)
    middle_of_step = np.cumsum(weight[order]) - 0.5 * weight[order]
    low, middle, high = np.interp(_LEVELS, middle_of_step, draws[order])
    return SharedValue(float(middle), (float(low), float(high)))


def _identities(
    pairs: tuple[FilmModel, ...], draws: JointDraws, weight: FloatArray
) -> dict[str, Any]:
    chance = np.bincount(draws.pair, weights=weight, minlength=len(pairs))
    films = dict.fromkeys((pair.film_name for pair in pairs), 0.0)
    for pair, probability in zip(pairs, chance, strict=True):
        films[pair.film_name] += float(probability)
    return {"films": films, "pair_probability": chance}


def _fault_probabilities(
    model: SharedModel, draws: JointDraws, weight: FloatArray
) -> dict[str, float]:
    if not model.faults.names:
        return {}
    there = model.faults.amounts(draws.scores[:, model.fault_scores]) > PRESENT
    shares = {NONE: float(weight @ ~there.any(axis=1))}
    shares.update(zip(model.faults.names, (weight @ there).tolist(), strict=True))
    return dict(sorted(shares.items(), key=lambda item: -item[1]))
