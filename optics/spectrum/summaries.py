"""Weighted draws and modes in the figures people ask for."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from .._typing import FloatArray
from .forward_model import ForwardModel
from .modes import noise_by_differences
from .posterior import FitDraws
from .search import Mode

Interval = tuple[float, float]
Three = tuple[float, float, float]
Key = TypeVar("Key", bound=Hashable)

NO_DOUBT = "none"
_REFERENCE_NM = 550.0
_CANDIDATE_NM = 4.0  # modes of different index models closer than this are one candidate
_LEVELS = np.array([0.05, 0.5, 0.95])
_ROLES = {"film": "film", "none": "bare base", "bulk": "opaque film"}


@dataclass(frozen=True)
class FittedNumber:
    """One number of the fit.

    Attributes
    ----------
    name, unit : str
    value : float
        Median.
    interval90 : tuple of float
    """

    name: str
    unit: str
    value: float
    interval90: Interval


@dataclass(frozen=True)
class Minimum:
    """One distinct best fit.

    Attributes
    ----------
    thickness_nm : float
    rms : float
        Of its residual [-].
    probability : float
        Among the candidates with a film, from the evidence about each.
    model : str
        The likeliest index model there.
    interval90_nm : tuple of float
        Equal-tailed 90 % interval [nm] of the draws nearest to it.
    order : int
        Interference order; 0 where it was not worked out.
    srgb_hex, name : str
        Colour of such a film at normal incidence; empty where it was not worked out.
    """

    thickness_nm: float
    rms: float
    probability: float
    model: str
    interval90_nm: Interval = (float("nan"), float("nan"))
    order: int = 0
    srgb_hex: str = ""
    name: str = ""


def film_thickness(draws: Sequence[FitDraws]) -> tuple[FloatArray, FloatArray]:
    """Thickness [nm] of every draw, half its roughness included, and weights that sum to 1."""
    thickness = []
    for part in draws:
        rough = part.world.values(part.x).get("roughness", np.zeros(len(part.x)))
        thickness.append(part.world.thickness_nm(part.x) + 0.5 * rough)
    return np.concatenate(thickness), weights_of(draws)


def weights_of(draws: Sequence[FitDraws]) -> FloatArray:
    """Weights (N,) of all draws together, summing to 1."""
    logs = np.concatenate([part.log_weight - np.log(len(part.x)) for part in draws])
    weight = np.exp(logs - logs.max())
    return np.asarray(weight / weight.sum())


def quantiles_of(values: FloatArray, weight: FloatArray) -> Three:
    """The 5, 50 and 95 % quantiles of weighted values."""
    order = np.argsort(values)
    share = np.cumsum(weight[order]) - 0.5 * weight[order]
    low, middle, high = np.interp(_LEVELS * weight.sum(), share, values[order])
    return float(low), float(middle), float(high)


def outer_interval(three: Three) -> Interval:
    """The 90 % interval of three quantiles."""
    return three[0], three[2]


def find_minima(modes: Sequence[Mode]) -> tuple[Minimum, ...]:
    """Distinct minima; modes of several worlds at one thickness are one."""
    left = sorted(modes, key=lambda mode: -mode.log_evidence)
    top = left[0].log_evidence
    groups: list[list[Mode]] = []
    for mode in left:
        home = next(
            (g for g in groups if abs(_with_rough(g[0]) - _with_rough(mode)) < _CANDIDATE_NM), None
        )
        if home is None:
            groups.append([mode])
        else:
            home.append(mode)
    mass = [sum(float(np.exp(mode.log_evidence - top)) for mode in group) for group in groups]
    found = [
        Minimum(
            _with_rough(group[0]),
            group[0].rms,
            part / sum(mass),
            group[0].world.model.name if group[0].world.model else "",
        )
        for group, part in zip(groups, mass, strict=True)
    ]
    return tuple(sorted(found, key=lambda one: -one.probability))


def add_intervals(
    candidates: Sequence[Minimum], thickness_nm: FloatArray, weight: FloatArray
) -> tuple[Minimum, ...]:
    """The candidates with the interval of the draws (N,) that lie nearest to each."""
    middles = np.array([one.thickness_nm for one in candidates])
    nearest = np.argmin(np.abs(thickness_nm[:, None] - middles), axis=1)
    found = []
    for i, one in enumerate(candidates):
        own = (nearest == i) & (weight > 0.0)
        ends = outer_interval(quantiles_of(thickness_nm[own], weight[own])) if own.any() else None
        found.append(replace(one, interval90_nm=ends or (one.thickness_nm, one.thickness_nm)))
    return tuple(found)


def _with_rough(mode: Mode) -> float:
    rough = mode.world.values(mode.x[None]).get("roughness", np.zeros(1))
    return mode.thickness_nm + 0.5 * float(rough[0])


def half_gap(candidates: Sequence[Minimum]) -> float:
    """Half the distance from the first candidate to the nearest other [nm]."""
    first, *others = candidates
    return 0.5 * min(
        (abs(one.thickness_nm - first.thickness_nm) for one in others), default=float("inf")
    )


def index_at(
    draws: Sequence[FitDraws], weight: FloatArray, wavelength_nm: FloatArray
) -> tuple[float, Three, Three]:
    """Where the index is quoted [nm], and the quantiles of n and k there."""
    low, high = wavelength_nm[0], wavelength_nm[-1]
    at_nm = _REFERENCE_NM if low <= _REFERENCE_NM <= high else float(0.5 * (low + high))
    values = []
    for part in draws:
        model = part.world.model
        index = model.at(np.array([at_nm])) if model else None
        values.append(part.world.film(part.x, index, False)[0][:, 0])
    # A draw that has no index has no weight either.
    nk = np.nan_to_num(np.concatenate(values))
    return at_nm, quantiles_of(nk.real, weight), quantiles_of(nk.imag, weight)


def parameters_of(draws: Sequence[FitDraws]) -> tuple[FittedNumber, ...]:
    """The parameters of the likeliest index model and doubt, over all bases."""
    shares = _shares_of(draws, lambda world: (world.model, world.doubt))
    best = next(iter(shares))
    own = [part for part in draws if (part.world.model, part.world.doubt) == best]
    weight = weights_of(own)
    found = []
    for parameter in own[0].world.parameters:
        values = np.concatenate([part.world.values(part.x)[parameter.name] for part in own])
        three = quantiles_of(values, weight)
        found.append(FittedNumber(parameter.name, parameter.unit, three[1], outer_interval(three)))
    return tuple(found)


def models_of(draws: Sequence[FitDraws]) -> dict[str, float]:
    """Probability of each index model, likeliest first."""
    return _shares_of(draws, lambda world: world.model.name if world.model else "")


def doubts_of(draws: Sequence[FitDraws]) -> dict[str, float]:
    """Probability that each doubt is true, likeliest first; ``none`` where all is plain."""
    return _shares_of(draws, lambda world: world.doubt or NO_DOUBT)


def _shares_of(draws: Sequence[FitDraws], key: Callable[[ForwardModel], Key]) -> dict[Key, float]:
    """Probability of what worlds have in common, likeliest first."""
    evidence: dict[Key, float] = {}
    top = max(part.log_evidence for part in draws)
    for part in draws:
        name = key(part.world)
        evidence[name] = evidence.get(name, 0.0) + float(np.exp(part.log_evidence - top))
    total = sum(evidence.values())
    return {
        name: share / total for name, share in sorted(evidence.items(), key=lambda item: -item[1])
    }


def alternatives_of(draws: Sequence[FitDraws]) -> dict[str, float]:
    """Probability of a film, of none, and of one that nothing shines through."""
    return dict.fromkeys(_ROLES.values(), 0.0) | _shares_of(
        draws, lambda world: _ROLES[world.piece.role]
    )


def systematic_rms(residual: FloatArray, value: FloatArray) -> float:
    """Rms of a residual [-] beyond the white noise of the readings."""
    excess = float(np.mean(residual**2)) - noise_by_differences(value) ** 2
    return float(np.sqrt(max(excess, 0.0)))


def data_sets_of(modes: Sequence[Mode]) -> tuple[str, ...]:
    """The tables that the modes rest on, films before bases."""
    films = [name for mode in modes if mode.world.model for name in mode.world.model.data_sets]
    bases = [mode.world.base for mode in modes]
    return tuple(dict.fromkeys(films + bases))
