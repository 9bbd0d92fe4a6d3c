"""How likely the colours of all spots are for given shared unknowns, thicknesses summed out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..._typing import FloatArray, IndexArray, SingleArray
from ...errors import InputError
from ...inference.colour_table import VEIL
from ...numerics.integrate import trapezoid
from ...numerics.normal_law import normal_density
from .faults import rows_of_pairs
from .model import MOST_SHARED, NodeWeights, SharedModel, SharedUnknowns
from .prior import (
    EDGE_NM,
    ThicknessPrior,
    add_prior_slopes,
    exp_of,
    log_ends,
    thickness_prior,
)
from .sums import sum_each, sum_rising

_BLOCK = 4_000_000  # numbers in the largest array at a time
_AT_ONCE = 2_000  # rows whose colours are worked out at a time
_HOPELESS = np.float32(-16.0)  # log weight, to the best, of steps where no spot can lie
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
    """Rows of scores (n, q) with their pairs of data sets (n,), and what the scores stand for.

    Where colours are worked out, those of one pair stand together.
    """

    scores: FloatArray
    pair: IndexArray
    shared: SharedUnknowns
    nodes: NodeWeights

    @classmethod
    def of(cls, model: SharedModel, scores: FloatArray, pair: IndexArray) -> ScoreRows:
        """Scores and pairs with their unknowns worked out."""
        shared = model.shared(scores)
        return cls(scores, pair, shared, model.nodes(shared))

    def take(self, rows: IndexArray | slice) -> ScoreRows:
        """Some of the rows."""
        return ScoreRows(
            self.scores[rows],
            self.pair[rows],
            SharedUnknowns(*(each[rows] for each in self.shared)),
            NodeWeights(*(each[rows] for each in self.nodes)),
        )


class Seen(NamedTuple):
    """Colours of some rows at the knots of the scale, (3, C, n) each, and of a spot's own (n,).

    ``lab`` is less the spots' centre; ``light`` are ratios to the white as seen, ``bare`` those of
    the film alone, ``roots`` the functions CIELAB is linear in. ``variance`` [ΔE²] is that of each
    axis.
    """

    lab: SingleArray
    light: SingleArray
    bare: SingleArray
    roots: SingleArray
    variance: FloatArray


class SpotBlock(NamedTuple):
    """Where the spots of a few rows lie: of the rows ``asked``, ``log_sum`` (n,) over all.

    ``weight`` (P, t, n) is the posterior of each spot over the part ``near`` of the scale, with
    colours ``lab`` (3, t, n) there; ``spread`` the prior over the part ``span`` that has it in it.
    """

    asked: ScoreRows
    log_sum: FloatArray
    weight: SingleArray
    lab: SingleArray
    near: slice
    span: slice
    spread: ThicknessPrior


def log_likelihood(
    model: SharedModel, spots: Spots, scores: FloatArray, *, pair: IndexArray
) -> tuple[FloatArray, FloatArray]:
    """Log likelihood (N,) of all spots together and its slope (N, q) in the scores.

    ``scores`` has shape (N, q); ``pair`` (N,) numbers the pair of data sets of each row.
    """
    value, slope = np.empty(len(scores)), np.empty(scores.shape)
    order = np.argsort(pair, kind="stable")
    for start in range(0, len(scores), _AT_ONCE):
        part = order[start : start + _AT_ONCE]
        asked = ScoreRows.of(model, scores[part], pair[part])
        seen = _colours(model, spots, asked)
        value[part] = _constant(spots, seen.variance)
        pull, misfit = np.empty(seen.lab.shape, dtype=np.float32), np.empty(len(asked.pair))
        for rows, block in _blocks(model, spots, asked, seen):
            value[part[rows]] += block.log_sum
            precision = 1.0 / seen.variance[rows]
            pull[:, :, rows], misfit[rows] = _pulls(model, spots, block, precision)
            slope[part[rows]] = _prior_slopes(model, spots, block)
        slope[part] += _slopes(model, spots, asked, seen=seen, pull=pull, misfit=misfit)
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
    order = np.argsort(pair, kind="stable")
    asked, weight = ScoreRows.of(model, scores[order], pair[order]), weight[order]
    for rows, block in _blocks(model, spots, asked, _colours(model, spots, asked)):
        scale = model.scale_nm[block.near]
        stretches = _stretches(model, block.asked, grid_nm)
        each_row = np.moveaxis(block.weight, 2, 0)
        for each, stretch, share in zip(each_row, stretches, weight[rows], strict=True):
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


def _blocks(
    model: SharedModel, spots: Spots, asked: ScoreRows, seen: Seen
) -> Iterator[tuple[slice, SpotBlock]]:
    """As many rows at a time as fit, with their places. Arrays have rows last, and of each spot
    only a window of the scale, as wide as these rows have it together."""
    first, beyond = _near(model, spots, asked, seen)
    count = first.shape[1]
    largest = len(first) * count * int(beyond.max() - first.min())
    edges = np.linspace(0, count, min(-(-largest // _BLOCK), count) + 1).astype(int)
    for start, stop in pairwise(edges.tolist()):
        rows = slice(start, stop)
        ends = first[:, rows].min(axis=1).tolist(), beyond[:, rows].max(axis=1).tolist()
        windows = [slice(*both) for both in zip(*ends, strict=True)]
        yield rows, _block(model, spots, asked.take(rows), seen=seen, rows=rows, windows=windows)


def _near(
    model: SharedModel, spots: Spots, asked: ScoreRows, seen: Seen
) -> tuple[IndexArray, IndexArray]:
    """First step, and step after the last, (P, n) each, of the scale that a spot may lie at.

    About a knot, half the way to the next, the colour is nearer to a spot's by no more than it
    runs on that way, r: so where it is u off, both in standard deviations, the square of what is
    left is more than ``u²/2 - r²``.
    """
    knots_nm = model.knots_nm
    table = np.empty((5, knots_nm.size, len(asked.pair)), dtype=np.float32)
    _set_features(table, seen.lab, seen.variance)
    table[4] = log_ends(knots_nm, asked.shared)
    log_weight = (spots.features @ table.reshape(5, -1)).reshape(-1, *table.shape[1:])
    best = log_weight.max(axis=1)
    own = 0.5 * (np.reshape(spots.each, (-1, 1)) * (spots.lab - spots.centre) ** 2).sum(axis=1)
    constant = (own[:, None] / seen.variance).astype(np.float32)
    run = np.square(np.diff(seen.lab, axis=1)).sum(axis=0)
    reach = np.empty(table.shape[1:], dtype=np.float32)
    reach[0], reach[1:] = run[0], run
    np.maximum(reach[:-1], run, out=reach[:-1])
    reach *= (0.25 * np.max(spots.each) / seen.variance).astype(np.float32)
    # Half of log_weight - constant, and what the prior and the reach add to it.
    reach += table[4]
    log_weight += reach
    near = log_weight > (2.0 * (best + _HOPELESS) - constant)[:, None]
    every = round((knots_nm[1] - knots_nm[0]) / model.step_nm)
    half, whole = -(-every // 2), model.scale_nm.size
    up = np.arange(1, knots_nm.size + 1, dtype=np.int16)[:, None]
    last = (near * up).max(axis=1).astype(np.intp)
    first = knots_nm.size - (near * up[::-1]).max(axis=1).astype(np.intp)
    first, beyond = first * every - half, (last - 1) * every + half + 1
    return np.clip(first, 0, whole - 2), np.clip(beyond, 2, whole)


def _block(
    model: SharedModel,
    spots: Spots,
    asked: ScoreRows,
    *,
    seen: Seen,
    rows: slice,
    windows: Sequence[slice],
) -> SpotBlock:
    near = slice(min(one.start for one in windows), max(one.stop for one in windows))
    span = _span(model, asked.shared)
    span = slice(min(span.start, near.start), max(span.stop, near.stop))
    spread = thickness_prior(model.scale_nm[span], asked.shared)
    lab = model.between[:, near].T @ seen.lab[:, :, rows]
    table = np.empty((5, *lab.shape[1:]), dtype=np.float32)
    _set_features(table, lab, seen.variance[rows])
    table[4] = spread.log[near.start - span.start : near.stop - span.start]
    own = [slice(one.start - near.start, one.stop - near.start) for one in windows]
    logs = [
        (feature @ table[:, one].reshape(5, -1)).reshape(-1, lab.shape[2])
        for feature, one in zip(spots.features, own, strict=True)
    ]
    sums = sum_rising if spots.rising else sum_each
    log_sum, weight = sums(logs, own, lab.shape[1])
    return SpotBlock(asked, log_sum, weight, lab, near, span, spread)


def _set_features(table: SingleArray, lab: SingleArray, variance: FloatArray) -> None:
    """What the first four features of a spot are multiplied by for its log weight, (4, t, n)."""
    np.multiply(lab, (1.0 / variance).astype(np.float32), out=table[:3])
    np.einsum("atn,atn->tn", lab, table[:3], out=table[3])
    table[3] *= np.float32(-0.5)


def _constant(spots: Spots, variance: FloatArray) -> FloatArray:
    """What the log likelihood has besides its sums over thickness, (n,)."""
    each: FloatArray = -0.5 * spots.square / variance
    each -= 1.5 * len(spots.lab) * np.log(2.0 * np.pi * variance)
    each += 1.5 * np.log(spots.each * np.ones(len(spots.lab))).sum()
    return each


def _colours(model: SharedModel, spots: Spots, asked: ScoreRows) -> Seen:
    """Colours of each row at the knots."""
    shared = asked.shared
    bare = _bare_ratios(model, asked)
    light, roots = _seen_ratios(shared, bare)
    lab = (_TO_LAB @ roots.reshape(3, -1)).reshape(roots.shape)
    offset = np.stack([-16.0 + 0.0 * shared.wb_a, shared.wb_a, shared.wb_b])
    lab += (offset - spots.centre[:, None]).astype(np.float32)[:, None]
    ways = _discrepancy_scores(model, asked.scores) * _amplitude(model, shared)
    lab += model.smooth.T @ ways.astype(np.float32)
    if model.faults.names:
        lab += model.faults.shift(asked.scores[:, model.fault_scores], asked.pair)
    return Seen(lab, light, bare, roots, _variance(model, shared))


def _bare_ratios(model: SharedModel, asked: ScoreRows) -> SingleArray:
    """Ratios to the white of the film alone, (3, C, n)."""
    weight = np.ascontiguousarray(asked.nodes.weight.T, dtype=np.float32)
    bare = np.empty((*model.ratio.shape[2:], len(asked.pair)), dtype=np.float32)
    for j, rows in rows_of_pairs(asked.pair):
        table = model.ratio[j].reshape(model.ratio.shape[1], -1)
        np.matmul(table.T, weight[:, rows], out=bare.reshape(-1, len(asked.pair))[:, rows])
    return bare


def _seen_ratios(shared: SharedUnknowns, bare: SingleArray) -> tuple[SingleArray, SingleArray]:
    """Ratios to the white as seen and CIELAB's roots of them, each (3, C, n)."""
    gain = np.exp(shared.log_gain)
    clear, veil = gain * (1.0 - shared.glare), gain * VEIL * shared.glare
    light = bare * clear.astype(np.float32)
    light += veil.astype(np.float32)
    roots = np.log(np.maximum(light, _LAB_CUT))  # a third of the time of numpy's cubic root
    roots *= np.float32(1.0 / 3.0)
    np.exp(roots, out=roots)
    if light.min() < _LAB_CUT:
        straight = light * np.float32((29.0 / 6.0) ** 2 / 3.0) + np.float32(4.0 / 29.0)
        roots = np.where(light > _LAB_CUT, roots, straight)
    return light, roots


def _discrepancy_scores(model: SharedModel, scores: FloatArray) -> FloatArray:
    """Scores of the smooth discrepancy, (3, K, n)."""
    return scores[:, model.smooth_scores].T.reshape(3, -1, len(scores))


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


def _pulls(
    model: SharedModel, spots: Spots, block: SpotBlock, precision: FloatArray
) -> tuple[SingleArray, FloatArray]:
    """Slopes in CIELAB at the knots (3, C, n), and the mean square misfit of all spots (n,)."""
    weight, lab = block.weight, block.lab
    sums = spots.features[:, :4].T @ weight.reshape(len(weight), -1)
    sums = sums.reshape(-1, *weight.shape[1:])
    crossed = sums[3] * lab
    pull = sums[:3] - crossed
    pull *= precision.astype(np.float32)
    crossed -= 2.0 * sums[:3]
    misfit = spots.square + np.einsum("atn,atn->n", crossed, lab, dtype=float)
    return model.between[:, block.near] @ pull, misfit


def _prior_slopes(model: SharedModel, spots: Spots, block: SpotBlock) -> FloatArray:
    """Slope in the scores of the prior of thickness, (n, q)."""
    shared, span = block.asked.shared, block.span
    excess = exp_of(block.spread.log)
    excess *= np.float32(-len(spots.lab))
    near = slice(block.near.start - span.start, block.near.stop - span.start)
    excess[near] += block.weight.sum(axis=0)
    slope = np.zeros(block.asked.scores.shape)
    add_prior_slopes(
        model,
        scores=block.asked.scores,
        shared=shared,
        spread=block.spread,
        excess=excess,
        scale_nm=model.scale_nm[span],
        slope=slope,
    )
    return slope


def _slopes(
    model: SharedModel,
    spots: Spots,
    asked: ScoreRows,
    *,
    seen: Seen,
    pull: SingleArray,
    misfit: FloatArray,
) -> FloatArray:
    """Slope in every score of what is not the prior of thickness, (n, q)."""
    scores, shared = asked.scores, asked.shared
    by_variance = 0.5 * misfit / seen.variance**2 - 1.5 * len(spots.lab) / seen.variance
    along = (model.smooth @ pull).astype(float)
    slope = np.zeros(scores.shape)
    each = along * _amplitude(model, shared)
    slope[:, model.smooth_scores] = each.reshape(-1, len(scores)).T
    if model.faults.names:
        slope[:, model.fault_scores] = model.faults.slopes(
            scores[:, model.fault_scores], asked.pair, pull
        )
    by_amplitude = (along * _discrepancy_scores(model, scores)).sum(axis=(0, 1))
    _share_slope(model, asked, by_variance, by_amplitude, slope)
    _light_slopes(model, asked, seen, pull, slope)
    half = model.doubts.white_balance_de / np.sqrt(2.0)
    slope[:, 1:3] = half * pull[1:].sum(axis=1).T
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
    model: SharedModel, asked: ScoreRows, seen: Seen, pull: SingleArray, slope: FloatArray
) -> None:
    """Gain, glare, angle and index: through the light, and CIELAB's roots of it."""
    scores, pair, shared, nodes = asked
    doubts = model.doubts
    steep = np.square(seen.roots)
    np.divide(np.float32(1.0 / 3.0), steep, out=steep)
    if seen.light.min() <= _LAB_CUT:
        steep[seen.light <= _LAB_CUT] = (29.0 / 6.0) ** 2 / 3.0
    by_light = (_TO_LAB.T @ pull.reshape(3, -1)).reshape(pull.shape)
    by_light *= steep
    gain = np.exp(shared.log_gain)
    spare = np.multiply(by_light, seen.light, out=steep)
    slope[:, 0] = doubts.gain * spare.sum(axis=(0, 1))
    np.subtract(np.float32(VEIL), seen.bare, out=spare)
    spare *= by_light
    by_glare = gain * spare.sum(axis=(0, 1))
    slope[:, 3] = doubts.glare * normal_density(scores[:, 3]) * by_glare
    by_node = _by_node(model, by_light, pair)
    by_node *= (gain * (1.0 - shared.glare))[:, None]
    angle = np.radians(shared.angle_deg)
    fan = np.radians(doubts.angle_high_deg - doubts.angle_low_deg)
    by_angle = (by_node * nodes.by_sine).sum(axis=1) * np.sin(2.0 * angle)
    slope[:, 4] = fan * normal_density(scores[:, 4]) * by_angle
    slope[:, 5] = doubts.index_spread * (by_node * nodes.by_index).sum(axis=1)


def _by_node(model: SharedModel, by_light: SingleArray, pair: IndexArray) -> FloatArray:
    """Slope in the ratio at each node of the table, (n, nodes)."""
    slope = np.empty((len(pair), model.ratio.shape[1]))
    flat = by_light.reshape(-1, len(pair))
    for j, rows in rows_of_pairs(pair):
        table = model.ratio[j].reshape(model.ratio.shape[1], -1)
        slope[rows] = (table @ flat[:, rows]).T
    return slope
