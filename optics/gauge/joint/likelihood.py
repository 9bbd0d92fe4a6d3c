"""How likely the colours of all spots are for given shared unknowns, thicknesses summed out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from ..._typing import FloatArray, IndexArray, SingleArray
from ...errors import InputError
from ...inference.colour_table import VEIL
from ...numerics.integrate import trapezoid
from ...numerics.normal_law import normal_density
from .model import MOST_SHARED, NodeWeights, SharedModel, SharedUnknowns
from .prior import EDGE_NM, ThicknessPrior, add_prior_slopes, thickness_prior
from .sums import sum_each, sum_rising

_BLOCK = 400_000  # numbers in the largest array at a time: few calls, yet in the cache
_BEYOND = 12.0  # edges past the end of the spread where nothing is left of it
_LAB_CUT = np.float32((6.0 / 29.0) ** 3)  # CIE 15, as in spaces.py
_TO_LAB = np.array([[0, 116, 0], [500, -500, 0], [0, 200, -200]], dtype=np.float32)


@dataclass(frozen=True, eq=False)
class Spots:
    """Readings (P, 3), whether thickness never falls from each to the next, and of how many
    spots of one thickness each reading is the mean, (P,) or one number for all."""

    lab: FloatArray
    rising: bool
    each: IndexArray | int = 1

    @cached_property
    def centre(self) -> FloatArray:
        """Mean reading; numbers less it are small enough for 32 bits."""
        return np.asarray(self.lab.mean(axis=0))

    @cached_property
    def features(self) -> SingleArray:
        """Readings less the centre, 1, both times ``each``, and 1 again, (P, 5)."""
        one = np.ones((len(self.lab), 1))
        each = one * np.reshape(self.each, (-1, 1))
        return np.hstack([each * (self.lab - self.centre), each, one]).astype(np.float32)

    @cached_property
    def square(self) -> float:
        """Sum of the squares of the readings less the centre, times ``each``."""
        return float((np.reshape(self.each, (-1, 1)) * (self.lab - self.centre) ** 2).sum())


class ScoreRows(NamedTuple):
    """Rows of scores (n, q) with their pairs of data sets (n,), and what the scores stand for."""

    scores: FloatArray
    pair: IndexArray
    shared: SharedUnknowns
    nodes: NodeWeights

    @classmethod
    def of(cls, model: SharedModel, scores: FloatArray, pair: IndexArray) -> ScoreRows:
        """Scores and pairs with their unknowns worked out."""
        shared = model.shared(scores)
        return cls(scores, pair, shared, model.nodes(shared))

    def blocks(self, size: int) -> Iterator[tuple[IndexArray, ScoreRows]]:
        """A few rows at a time with their places, those of one pair together."""
        order = np.argsort(self.pair, kind="stable")
        for start in range(0, order.size, size):
            rows = order[start : start + size]
            yield (
                rows,
                ScoreRows(
                    self.scores[rows],
                    self.pair[rows],
                    SharedUnknowns(*(each[rows] for each in self.shared)),
                    NodeWeights(*(each[rows] for each in self.nodes)),
                ),
            )


class SpotBlock(NamedTuple):
    """Likelihood of a few rows of scores, with what its slopes are made of.

    ``value`` (n,) of the rows ``asked``; ``weight`` (n, P, t) the posterior of each spot over the
    scale ``span``; ``lab`` (n, 3, t) mean colours less the spots' centre; ``light`` (n, 3, t)
    ratios to the white as seen, ``bare`` those of the film alone, ``roots`` the functions CIELAB
    is linear in.
    """

    value: FloatArray
    asked: ScoreRows
    weight: SingleArray
    span: slice
    variance: FloatArray
    lab: SingleArray
    light: SingleArray
    bare: SingleArray
    roots: SingleArray
    spread: ThicknessPrior


def log_likelihood(
    model: SharedModel, spots: Spots, scores: FloatArray, *, pair: IndexArray
) -> tuple[FloatArray, FloatArray]:
    """Log likelihood (N,) of all spots together and its slope (N, q) in the scores.

    ``scores`` has shape (N, q); ``pair`` (N,) numbers the pair of data sets of each row.
    """
    value, slope = np.empty(len(scores)), np.empty(scores.shape)
    for rows, asked in ScoreRows.of(model, scores, pair).blocks(_block_size(model, spots)):
        block = _block(model, spots, asked)
        value[rows] = block.value
        slope[rows] = _slopes(model, spots, block)
    return value, slope


def thickness_density(
    model: SharedModel,
    spots: Spots,
    *,
    scores: FloatArray,
    pair: IndexArray,
    weight: FloatArray,
    grid_nm: FloatArray,
) -> FloatArray:
    """Density of each spot over thickness [1/nm], weighed over rows of scores, (P, grid)."""
    total = np.zeros((len(spots.lab), grid_nm.size))
    for rows, asked in ScoreRows.of(model, scores, pair).blocks(_block_size(model, spots)):
        block = _block(model, spots, asked)
        scale = model.scale_nm[block.span]
        stretches = _stretches(model, asked, grid_nm)
        for each, stretch, share in zip(block.weight, stretches, weight[rows], strict=True):
            along = grid_nm * stretch
            at = (along - scale[0]) / model.step_nm
            below = np.clip(at.astype(np.intp), 0, scale.size - 2)
            part = (at - below).astype(np.float32)
            inside = ((at >= 0.0) & (at <= scale.size - 1)) * (np.gradient(along, grid_nm) * share)
            total += (each[:, below] * (1 - part) + each[:, below + 1] * part) * inside
    mass = trapezoid(total, grid_nm)
    if not np.all(mass > 0.0):
        raise InputError(
            "the readings of one piece fit no thicknesses together; gauge them one by one"
        )
    density: FloatArray = total / mass[:, None]
    return density


def _stretches(model: SharedModel, asked: ScoreRows, grid_nm: FloatArray) -> FloatArray:
    """One plus the index error at each thickness, (n, grid).

    The colours say nothing of how the index changes along the piece: it is summed over here alone.
    """
    shared = asked.shared
    middle = 0.5 * (shared.low_nm + shared.high_nm)[:, None]
    half = 0.5 * (shared.high_nm - shared.low_nm)[:, None]
    away = np.clip(grid_nm - middle, -half, half) / middle
    tilt = model.index_tilt(asked.scores)[:, None]
    return np.asarray(1.0 + shared.index_error[:, None] + tilt * away)


def _block_size(model: SharedModel, spots: Spots) -> int:
    return max(1, _BLOCK // (max(len(spots.lab), 4) * model.scale_nm.size))


def _block(model: SharedModel, spots: Spots, asked: ScoreRows) -> SpotBlock:
    shared = asked.shared
    span = _span(model, shared)
    spread = thickness_prior(model.scale_nm[span], shared)
    bare = _bare_ratios(model, asked, span)
    light, roots = _seen_ratios(shared, bare)
    lab = np.matmul(_TO_LAB, roots)
    offset = np.stack([-16.0 + 0.0 * shared.wb_a, shared.wb_a, shared.wb_b], axis=1) - spots.centre
    lab += offset[:, :, None].astype(np.float32)
    lab += _smooth_part(model, asked, span)
    if model.faults.names:
        lab += model.faults.shift(asked.scores[:, model.fault_scores], asked.pair, span)
    variance = _variance(model, shared)
    precision = (1.0 / variance).astype(np.float32)[:, None, None]
    table = np.empty((len(asked.pair), 5, lab.shape[-1]), dtype=np.float32)
    table[:, :3] = lab * precision
    table[:, 3] = -0.5 * (lab * table[:, :3]).sum(axis=1)
    table[:, 4] = spread.log
    sums = sum_rising if spots.rising else sum_each
    log_sum, weight = sums(np.matmul(spots.features, table))
    value = log_sum - 0.5 * spots.square / variance
    value -= 1.5 * len(spots.lab) * np.log(2.0 * np.pi * variance)
    value += 1.5 * np.log(spots.each * np.ones(len(spots.lab))).sum()
    return SpotBlock(value, asked, weight, span, variance, lab, light, bare, roots, spread)


def _bare_ratios(model: SharedModel, asked: ScoreRows, span: slice) -> SingleArray:
    """Ratios to the white of the film alone, (n, 3, t)."""
    bare = np.empty((len(asked.pair), 3, model.scale_nm[span].size), dtype=np.float32)
    weight = asked.nodes.weight.astype(np.float32)
    for j in np.unique(asked.pair):
        rows = np.flatnonzero(asked.pair == j)
        table = model.ratio[j][:, :, span].reshape(model.ratio.shape[1], -1)
        bare[rows] = (weight[rows] @ table).reshape(rows.size, 3, -1)
    return bare


def _seen_ratios(shared: SharedUnknowns, bare: SingleArray) -> tuple[SingleArray, SingleArray]:
    """Ratios to the white as seen and CIELAB's roots of them, each (n, 3, t)."""
    gain = np.exp(shared.log_gain)
    clear, veil = gain * (1.0 - shared.glare), gain * VEIL * shared.glare
    light = bare * clear.astype(np.float32)[:, None, None]
    light += veil.astype(np.float32)[:, None, None]
    roots = np.log(np.maximum(light, _LAB_CUT))  # a third of the time of numpy's cubic root
    roots *= np.float32(1.0 / 3.0)
    np.exp(roots, out=roots)
    if light.min() < _LAB_CUT:
        straight = light * np.float32((29.0 / 6.0) ** 2 / 3.0) + np.float32(4.0 / 29.0)
        roots = np.where(light > _LAB_CUT, roots, straight)
    return light, roots


def _smooth_part(model: SharedModel, asked: ScoreRows, span: slice) -> SingleArray:
    ways = _discrepancy_scores(model, asked.scores) * _amplitude(model, asked.shared)[:, None, None]
    part: SingleArray = np.matmul(ways.astype(np.float32), model.smooth[:, span])
    return part


def _discrepancy_scores(model: SharedModel, scores: FloatArray) -> FloatArray:
    """Scores of the smooth discrepancy, (n, 3, K)."""
    return scores[:, model.smooth_scores].reshape(len(scores), 3, -1)


def _amplitude(model: SharedModel, shared: SharedUnknowns) -> FloatArray:
    """Standard deviation in each axis of the discrepancy that spots share [ΔE]."""
    return model.doubts.discrepancy_de * np.sqrt(shared.share / 3.0)


def _variance(model: SharedModel, shared: SharedUnknowns) -> FloatArray:
    """Variance in each axis of what is a spot's own [ΔE²]."""
    own = (1.0 - shared.share) * model.doubts.discrepancy_de**2
    return (model.doubts.noise_de**2 + own) / 3.0


def _span(model: SharedModel, shared: SharedUnknowns) -> slice:
    """The part of the scale on which any of these rows has thicknesses."""
    stretch = 1.0 + shared.index_error
    low = ((shared.low_nm - _BEYOND * EDGE_NM) * stretch).min()
    high = ((shared.high_nm + _BEYOND * EDGE_NM) * stretch).max()
    first, last = np.searchsorted(model.scale_nm, [low, high])
    return slice(max(0, first - 1), max(last + 1, 2))


def _slopes(model: SharedModel, spots: Spots, block: SpotBlock) -> FloatArray:
    """Slope of the log likelihood in every score, (n, q)."""
    scores, shared = block.asked.scores, block.asked.shared
    sums = np.matmul(spots.features.T, block.weight)
    count = sums[:, 3]
    crossed = count[:, None] * block.lab
    pull = sums[:, :3] - crossed
    pull *= (1.0 / block.variance).astype(np.float32)[:, None, None]
    crossed -= 2.0 * sums[:, :3]
    crossed *= block.lab
    misfit = spots.square + crossed.sum(axis=(1, 2), dtype=float)
    by_variance = 0.5 * misfit / block.variance**2 - 1.5 * len(spots.lab) / block.variance
    along = np.matmul(pull, model.smooth[:, block.span].T).astype(float)
    slope = np.zeros(scores.shape)
    each = along * _amplitude(model, shared)[:, None, None]
    slope[:, model.smooth_scores] = each.reshape(len(scores), -1)
    if model.faults.names:
        slope[:, model.fault_scores] = model.faults.slopes(
            scores[:, model.fault_scores], block.asked.pair, pull=pull, span=block.span
        )
    by_amplitude = (along * _discrepancy_scores(model, scores)).sum(axis=(1, 2))
    _share_slope(model, block.asked, by_variance, by_amplitude, slope)
    _light_slopes(model, block, pull, slope)
    half = model.doubts.white_balance_de / np.sqrt(2.0)
    slope[:, 1:3] = half * pull[:, 1:].sum(axis=2)
    excess = sums[:, 4] - len(spots.lab) * np.exp(block.spread.log)
    scale_nm = model.scale_nm[block.span]
    add_prior_slopes(
        model,
        scores=scores,
        shared=shared,
        spread=block.spread,
        excess=excess,
        scale_nm=scale_nm,
        slope=slope,
    )
    return slope


def _share_slope(
    model: SharedModel,
    asked: ScoreRows,
    by_variance: FloatArray,
    by_amplitude: FloatArray,
    slope: FloatArray,
) -> None:
    square = model.doubts.discrepancy_de**2 / 3.0
    amplitude = np.maximum(_amplitude(model, asked.shared), 1e-9)
    by_share = -square * by_variance + 0.5 * square / amplitude * by_amplitude
    slope[:, 8] = MOST_SHARED * normal_density(asked.scores[:, 8]) * by_share


def _light_slopes(
    model: SharedModel, block: SpotBlock, pull: SingleArray, slope: FloatArray
) -> None:
    """Gain, glare, angle and index: through the light, and CIELAB's roots of it."""
    scores, pair, shared, nodes = block.asked
    doubts = model.doubts
    steep = np.square(block.roots)
    np.divide(np.float32(1.0 / 3.0), steep, out=steep)
    if block.light.min() <= _LAB_CUT:
        steep[block.light <= _LAB_CUT] = (29.0 / 6.0) ** 2 / 3.0
    by_light = np.matmul(_TO_LAB.T, pull)
    by_light *= steep
    gain = np.exp(shared.log_gain)
    spare = np.multiply(by_light, block.light, out=steep)
    slope[:, 0] = doubts.gain * spare.sum(axis=(1, 2))
    np.subtract(np.float32(VEIL), block.bare, out=spare)
    spare *= by_light
    by_glare = gain * spare.sum(axis=(1, 2))
    slope[:, 3] = doubts.glare * normal_density(scores[:, 3]) * by_glare
    by_node = _by_node(model, by_light, pair, block.span)
    by_node *= (gain * (1.0 - shared.glare))[:, None]
    angle = np.radians(shared.angle_deg)
    fan = np.radians(doubts.angle_high_deg - doubts.angle_low_deg)
    by_angle = (by_node * nodes.by_sine).sum(axis=1) * np.sin(2.0 * angle)
    slope[:, 4] = fan * normal_density(scores[:, 4]) * by_angle
    slope[:, 5] = doubts.index_spread * (by_node * nodes.by_index).sum(axis=1)


def _by_node(
    model: SharedModel, by_light: SingleArray, pair: IndexArray, span: slice
) -> FloatArray:
    """Slope in the ratio at each node of the table, (n, nodes)."""
    slope = np.empty((len(pair), model.ratio.shape[1]))
    for j in np.unique(pair):
        rows = np.flatnonzero(pair == j)
        table = model.ratio[j][:, :, span].reshape(model.ratio.shape[1], -1)
        slope[rows] = by_light[rows].reshape(rows.size, -1) @ table.T
    return slope
