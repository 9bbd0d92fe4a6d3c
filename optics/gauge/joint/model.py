"""What the spots of one photo share, and the colours a film shows for any of it.

Each shared unknown is written as a *score*, standard normal before the readings, so that one
sampler serves photo, card and instrument alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from ..._typing import FloatArray, IndexArray, SingleArray
from ...colour.conditions import ViewingConditions
from ...colour.illuminants import tristimulus_weights
from ...errors import OutOfRangeError
from ...films.engine.thickness_scan import base_of
from ...films.spectra import DEFAULT_WAVELENGTH_NM
from ...inference.colour_table import MAX_THICKNESS_NM, view_nodes
from ...inference.faults import IDEAL
from ...inference.hypotheses import FilmModel, group_by_film
from ...inference.layered import scan_scales
from ...inference.uncertainty import Uncertainty
from ...numerics.interpolate import lagrange, refine_even
from ...numerics.normal_law import normal_cdf
from .faults import SharedFaults, share_faults
from .sampler import Jump

FilmMembers = tuple[IndexArray, FloatArray]
"""Places of the pairs of a film hypothesis, and their chances within it."""

UNEVEN = 1.0 / np.arange(1.0, 6.0)
"""How far the log density of thickness over a piece may swing, as ``cos(k π t)`` of the part t
from one end to the other, k from 1: standard deviations; a judgement."""
SCORES = (
    *("gain", "wb_a", "wb_b", "glare", "angle", "index", "width", "start", "share"),
    *(f"uneven_{k + 1}" for k in range(UNEVEN.size)),
)
"""What the first scores stand for; those of the smooth discrepancy follow them, then those of the
faults, and last, where faults are in doubt, how far the index changes along the piece."""
MOST_SHARED = 0.9
"""At most this part of the discrepancy's variance is common to spots of like thickness."""
LEAST_WIDTH = 0.02
"""Least width of the spread of thickness over a piece, as a part of the range in question."""
CORRELATION_NM = 90.0
"""Optical path over which the model, where wrong, is wrong in the same way [nm]."""

_INDEX_NODES = np.array([-3.0, -1.5, 0.0, 1.5, 3.0])  # standard deviations
_INDEX_REACH = 4.0
_MOST_ANGLES = 8
_SMOOTH_KEPT = 0.995  # of the variance of the smooth discrepancy
_STEP_NM = (0.25, 1.25)  # finest and coarsest step of the scale
_KNOTS_NM = 3.8  # apart at most
_AROUND = 6  # knots of each polynomial


class SharedUnknowns(NamedTuple):
    """The shared unknowns in their own units, each an array (N,).

    ``low_nm`` and ``high_nm`` are the ends between which the thicknesses on the piece are spread,
    and ``uneven`` (N, K) how unevenly; ``share`` is the part of the discrepancy that spots of like
    thickness have in common.
    """

    log_gain: FloatArray
    wb_a: FloatArray
    wb_b: FloatArray
    glare: FloatArray
    angle_deg: FloatArray
    index_error: FloatArray
    low_nm: FloatArray
    high_nm: FloatArray
    share: FloatArray
    uneven: FloatArray


class NodeWeights(NamedTuple):
    """Weights of the table's nodes (N, nodes), and their slopes in e and in sin² of the angle."""

    weight: FloatArray
    by_index: FloatArray
    by_sine: FloatArray


@dataclass(frozen=True, eq=False)
class SharedModel:
    """Colours of all pairs over optical scale, and what the scores mean.

    Attributes
    ----------
    scale_nm : ndarray, shape (T,)
        Optical scale ``D = d (1 + e)`` in even steps [nm].
    knots_nm : ndarray, shape (C,)
        The few of its steps, and perhaps one past its end, at which colours are worked out.
    between : ndarray, shape (C, T)
        Weights by which colours at the knots give those of the whole scale.
    ratio : ndarray, shape (J, nodes, 3, C)
        XYZ over those of the white, at nodes of index error and viewing angle.
    smooth : ndarray, shape (K, C)
        Independent ways the shared discrepancy may run; their squares sum to nearly 1.
    between_nm : tuple of float
    doubts : Uncertainty
    faults : SharedFaults
    """

    scale_nm: FloatArray
    knots_nm: FloatArray
    between: SingleArray
    ratio: SingleArray
    smooth: SingleArray
    between_nm: tuple[float, float]
    doubts: Uncertainty
    faults: SharedFaults

    @property
    def scores(self) -> int:
        """Number of scores."""
        return int(self.fault_scores.stop) + bool(self.faults.names)

    @property
    def smooth_scores(self) -> slice:
        """Which scores are those of the smooth discrepancy."""
        return slice(len(SCORES), len(SCORES) + 3 * len(self.smooth))

    @property
    def fault_scores(self) -> slice:
        """Which scores are those of the faults."""
        first = self.smooth_scores.stop
        return slice(first, first + self.faults.scores)

    def index_tilt(self, scores: FloatArray) -> FloatArray:
        """By how much (N,) the index of a place is off for each part by which its thickness is
        off the middle of the piece's.

        One end of a piece may be hotter or further from the source; it may differ from the middle
        by as much as a piece from another (a judgement).
        """
        if not self.faults.names:
            return np.zeros(len(scores))
        return np.asarray(self.doubts.index_spread * scores[:, -1])

    @property
    def step_nm(self) -> float:
        """Step of the scale [nm]."""
        return float(self.scale_nm[1] - self.scale_nm[0])

    def shared(self, scores: FloatArray) -> SharedUnknowns:
        """Scores (N, q) in their own units."""
        doubt, (low, high) = self.doubts, self.between_nm
        z = scores.T
        glare, angle, narrow, start, share = normal_cdf(np.stack([z[3], z[4], -z[6], z[7], z[8]]))
        # Both ends are anywhere, as long as they are in order: narrow spreads have more room.
        filled = 1.0 - np.sqrt(narrow)
        width = (high - low) * (LEAST_WIDTH + (1.0 - LEAST_WIDTH) * filled)
        low_nm = low + (high - low - width) * start
        half = doubt.white_balance_de / np.sqrt(2.0)
        return SharedUnknowns(
            log_gain=doubt.gain * z[0],
            wb_a=half * z[1],
            wb_b=half * z[2],
            glare=doubt.glare * glare,
            angle_deg=doubt.angle_low_deg + (doubt.angle_high_deg - doubt.angle_low_deg) * angle,
            index_error=doubt.index_spread * z[5],
            low_nm=low_nm,
            high_nm=low_nm + width,
            share=MOST_SHARED * share,
            uneven=UNEVEN * scores[:, 9 : 9 + UNEVEN.size],
        )

    def nodes(self, shared: SharedUnknowns) -> NodeWeights:
        """How much each node of the table counts, for N rows."""
        e, by_e = lagrange(_index_nodes(self.doubts), shared.index_error)
        sine_squared = np.sin(np.radians(shared.angle_deg)) ** 2
        s, by_s = lagrange(_sine_nodes(self.doubts), sine_squared)
        products = [(e, s), (by_e, s), (e, by_s)]
        return NodeWeights(*[(a[:, :, None] * b[:, None]).reshape(len(e), -1) for a, b in products])


def build_shared_model(
    pairs: Sequence[FilmModel],
    between_nm: tuple[float, float],
    *,
    doubts: Uncertainty,
    viewing: ViewingConditions,
    each: int = 1,
    finish: str = IDEAL,
) -> SharedModel:
    """Tabulate what :class:`SharedModel` holds, finely enough for means of ``each`` spots.

    ``finish`` is what the surface is, or may be; with an ideal one nothing has a fault.

    Raises
    ------
    OutOfRangeError
        If the range does not run upwards within 0 to 1000 nm, or is under 10 nm wide.
    """
    scale_nm = _scale(between_nm, doubts, each)
    knots_nm, between = _knots(scale_nm)
    grid = DEFAULT_WAVELENGTH_NM
    weights = tristimulus_weights(grid, viewing.light, viewing.observer)
    weights = weights / weights.sum(axis=0)
    errors = _index_nodes(doubts)
    angles = np.degrees(np.arcsin(np.sqrt(_sine_nodes(doubts))))
    ratio = np.empty((len(pairs), errors.size, angles.size, 3, knots_nm.size), dtype=np.float32)
    for members in group_by_film(pairs):
        bases = [base_of(pairs[j].base, grid) for j in members]
        xyz = scan_scales(
            pairs[members[0]].film, bases, knots_nm,
            index_error=errors, angle_deg=angles, weights=weights,
        )  # fmt: skip
        ratio[members] = np.moveaxis(xyz, (2, 4), (0, 3))
    index_550 = float(np.mean([pair.film.nk(550.0).real for pair in pairs]))
    return SharedModel(
        scale_nm,
        knots_nm,
        between,
        ratio.reshape(len(pairs), -1, 3, knots_nm.size),
        _smooth_components(scale_nm, knots_nm, CORRELATION_NM / index_550),
        between_nm,
        doubts,
        share_faults(pairs, knots_nm, finish=finish, doubts=doubts, viewing=viewing),
    )


def make_pair_jump(model: SharedModel, pairs: tuple[FilmModel, ...]) -> Jump:
    """Offers pairs of the same film, half the time keeping index times thickness as they were."""
    index = np.array([pair.film.nk(550.0).real for pair in pairs])
    spread = model.doubts.index_spread

    def jump(
        scores: FloatArray, pair: IndexArray, rng: np.random.Generator
    ) -> tuple[FloatArray, IndexArray, FloatArray]:
        offered = pair.copy()
        for members, chance in film_members(pairs):
            rows = np.flatnonzero(np.isin(pair, members))
            offered[rows] = rng.choice(members, size=rows.size, p=chance)
        keep = (rng.random(len(pair)) < 0.5) & (spread > 0.0)
        ratio = np.where(keep, index[pair] / index[offered], 1.0)
        moved = scores.copy()
        if spread > 0.0:
            moved[:, 5] = ((1.0 + spread * scores[:, 5]) * ratio - 1.0) / spread
        return moved, offered, np.log(ratio)

    return jump


def film_members(pairs: Sequence[FilmModel]) -> list[FilmMembers]:
    """Places of the pairs of each film hypothesis, and their chances within it."""
    weight = np.array([pair.weight for pair in pairs])
    names = dict.fromkeys(pair.film_name for pair in pairs)
    each = [np.flatnonzero([pair.film_name == name for pair in pairs]) for name in names]
    return [(members, weight[members] / weight[members].sum()) for members in each]


def _scale(between_nm: tuple[float, float], doubts: Uncertainty, each: int) -> FloatArray:
    low, high = between_nm
    if not (low >= 0.0 and low + 10.0 <= high <= MAX_THICKNESS_NM):
        raise OutOfRangeError(
            f"the range {low:g} to {high:g} nm must run upwards by 10 nm or more within 0 to "
            f"{MAX_THICKNESS_NM:g} nm"
        )
    # A plain sum over steps is good to 1 % where a step is up to twice the standard deviation of
    # what a spot says of its thickness. Colours move by 2 ΔE a nanometre or so, by 3 at most.
    least = (doubts.noise_de**2 + (1.0 - MOST_SHARED) * doubts.discrepancy_de**2) / (3.0 * each)
    step = float(np.clip(np.sqrt(least) / 1.2, *_STEP_NM))
    reach = _INDEX_REACH * doubts.index_spread
    first = max(0.0, low * (1.0 - reach) - 10.0 * step)
    count = int(np.ceil((high * (1.0 + reach) + 10.0 * step - first) / step)) + 1
    steps: FloatArray = step * np.arange(count, dtype=float)
    return first + steps


def _knots(scale_nm: FloatArray) -> tuple[FloatArray, SingleArray]:
    step = scale_nm[1] - scale_nm[0]
    every = max(1, int(_KNOTS_NM / step))
    weights = refine_even(scale_nm.size, every, around=_AROUND).T
    knots_nm: FloatArray = scale_nm[0] + every * step * np.arange(len(weights))
    return knots_nm, weights.astype(np.float32)


@lru_cache(maxsize=4)
def _index_nodes(doubts: Uncertainty) -> FloatArray:
    if doubts.index_spread == 0.0:
        return np.zeros(1)
    return doubts.index_spread * _INDEX_NODES


@lru_cache(maxsize=4)
def _sine_nodes(doubts: Uncertainty) -> FloatArray:
    """Squared sines of the angles tabulated; the path in the film is smooth in these."""
    low, high = np.sin(np.radians([doubts.angle_low_deg, doubts.angle_high_deg])) ** 2
    if high == low:
        return np.array([low])
    views = view_nodes(replace(doubts, glare=0.0))[0].size
    return np.linspace(low, high, min(views + 1, _MOST_ANGLES))


def _smooth_components(scale_nm: FloatArray, knots_nm: FloatArray, length_nm: float) -> SingleArray:
    """Principal parts of a Gaussian process of unit variance along the scale, at knots (K, C)."""
    places = np.linspace(scale_nm[0], scale_nm[-1], 2 + int(np.ptp(scale_nm) / (0.4 * length_nm)))
    values, vectors = np.linalg.eigh(_covariance(places, places, length_nm))
    values, vectors = values[::-1], vectors[:, ::-1]
    count = 1 + int(np.searchsorted(np.cumsum(values) / values.sum(), _SMOOTH_KEPT))
    shares = (vectors[:, :count] / np.sqrt(values[:count])).T
    ways: SingleArray = (shares @ _covariance(places, knots_nm, length_nm)).astype(np.float32)
    return ways


def _covariance(a: FloatArray, b: FloatArray, length_nm: float) -> FloatArray:
    likeness: FloatArray = np.exp(-0.5 * ((a[:, None] - b) / length_nm) ** 2)
    return likeness
