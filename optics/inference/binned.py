"""Thickness for thousands of colours at once: the posterior with its doubts made linear.

A picture has some ten thousand distinct colours. Glare and angle, which `table.py` averages over
node by node, enter here as part of one normal distribution for each pair of data sets and scale;
the index error only stretches the scale, which is exact for the phase of the film.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray, SingleArray
from ..numerics.parallel import map_parallel
from .colour_table import INDEX_SPAN, ColourTable
from .normal import coefficients_of, features
from .order import order_centres_nm
from .posterior import Prior

FIT_LEVEL = 0.01
_STRIDE = 2  # every second row of the table, 1 nm apart: fine against a reading's own width
_COLOURS_AT_A_TIME = 256
_FEATURES_AT_A_TIME = 32
_CALIBRATION_DRAWS = 2000
_FLOOR = np.float32(1e-30)
_LOWEST = np.float32(-80.0)  # less ends in slow denormal numbers
_LEVELS = (0.05, 0.5, 0.95)


@dataclass(frozen=True, eq=False)
class BinnedPosterior:
    """What each of C colours says about the thickness, K candidates a colour.

    Attributes
    ----------
    thickness_nm : ndarray, shape (C, K, 3)
        5, 50 and 95 % points of each candidate [nm].
    probability : ndarray, shape (C, K)
        Sums to 1 over the candidates; 0 where there is none.
    fits : ndarray of bool, shape (C,)
        Whether a film in question shows such a colour.
    """

    thickness_nm: SingleArray
    probability: SingleArray
    fits: BoolArray


@dataclass(frozen=True, eq=False)
class BinnedTable:
    """One normal distribution of colour for each pair and scale.

    Attributes
    ----------
    coefficients : ndarray, shape (10, J D)
        As `ColourTable.coefficients`, the log of the prior weight added.
    spread : ndarray, shape (D, T)
        From density over the optical scale to density over thickness.
    cuts : ndarray of int, shape (K - 1, 2)
        Windows of the thickness grid in which neighbouring candidates are parted.
    thickness_nm : ndarray, shape (T,)
    simulated : ndarray, shape (draws,)
        Sorted log evidence of simulated readings: where a colour stands among them is its fit.
    faultless : ndarray of bool, shape (J,)
        Pairs without a fault.
    plain : ndarray, shape (draws,)
        As ``simulated``, of films without a fault: how much likelier those make a reading than
        films with one.
    """

    coefficients: SingleArray
    spread: SingleArray
    cuts: IndexArray
    thickness_nm: FloatArray
    simulated: FloatArray
    faultless: BoolArray
    plain: FloatArray

    @property
    def nbytes(self) -> int:
        """Memory this takes [bytes]."""
        return self.coefficients.nbytes + self.spread.nbytes


def build_binned_table(
    table: ColourTable, prior: Prior, seed: int = 1, *, plain: bool = True
) -> BinnedTable:
    """Reduce a colour table to one normal distribution a row, and calibrate its fit check; that of
    films without a fault where it is asked for (``plain``)."""
    middle = prior.index_error.size // 2
    lab = table.lab[:, middle, ::_STRIDE].astype(float)
    mean = np.tensordot(lab, table.view_weight, axes=([2], [0]))
    off = lab - mean[:, :, None, :]
    views = np.einsum("v,jdva,jdvb->jdab", table.view_weight, off, off)
    covariance = views + _covariances(table, middle)
    log_weight = np.log(prior.pair_weight)
    coefficients = coefficients_of(
        mean.reshape(-1, 3),
        covariance.reshape(-1, 3, 3),
        np.repeat(log_weight, mean.shape[1]),
    )
    cells = BinnedTable(
        coefficients,
        _spread(prior, prior.scale_nm[::_STRIDE]),
        _cut_windows(prior),
        prior.thickness_nm[::_STRIDE],
        np.empty(0),
        prior.faultless,
        np.empty(0),
    )
    rng = np.random.default_rng(seed)
    weight = prior.row_weights(np.zeros(table.lab.shape[:3]))
    every = _simulate(table, cells, weight, rng, by_pair=False)
    cells = replace(cells, simulated=np.sort(every[2]), plain=np.sort(every[2]))
    if cells.faultless.all() or not plain:
        return cells
    faultless = weight * cells.faultless[:, None, None]
    alone = _simulate(table, cells, faultless / faultless.sum(), rng, by_pair=True)
    return replace(cells, plain=np.sort(plain_odds(cells, *alone[1:])))


def _simulate(
    table: ColourTable,
    cells: BinnedTable,
    weight: FloatArray,
    rng: np.random.Generator,
    *,
    by_pair: bool,
) -> tuple[SingleArray, SingleArray, SingleArray]:
    """What readings of films drawn from rows (J, E, D) give, as `_densities`."""
    rows = rng.choice(weight.size, size=_CALIBRATION_DRAWS, p=weight.ravel())
    seen = rng.choice(table.view_weight.size, size=rows.size, p=table.view_weight)
    drawn = table.draw(rows * table.view_weight.size + seen, rng)
    each = (_densities(cells, part, by_pair=by_pair) for part in _pieces(drawn))
    density, of_pairs, evidence = (np.concatenate(part) for part in zip(*each, strict=True))
    return density, of_pairs, evidence


def plain_odds(table: BinnedTable, by_pair: SingleArray, evidence: SingleArray) -> SingleArray:
    """Log odds (n,) of the pairs without a fault; the log evidence where no pair has one."""
    if table.faultless.all():
        return evidence
    of_plain, of_all = by_pair[:, table.faultless].sum(axis=1), by_pair.sum(axis=1)
    of_faults = np.maximum(of_all - of_plain, _FLOOR * of_all)
    return np.asarray(np.log(np.maximum(of_plain, _FLOOR * of_all) / of_faults))


def _covariances(table: ColourTable, middle: int) -> FloatArray:
    """Covariance (J, D, 3, 3) of a reading of every second scale: the mean over the views, and
    what the index error does besides stretching the scale."""
    errors = table.lab.shape[1]
    at = np.arange(table.lab.size // 3).reshape(table.lab.shape[:4])[:, middle, ::_STRIDE]
    each = table.covariances(at.ravel()).reshape(*at.shape, 3, 3)
    whole: FloatArray = np.einsum("v,jdvab->jdab", table.view_weight, each)
    if errors > 1:
        ends = table.lab[:, [0, -1], ::_STRIDE].astype(float) @ np.eye(3)
        slope = np.tensordot(ends[:, 1] - ends[:, 0], table.view_weight, axes=([2], [0]))
        slope /= 2.0 * INDEX_SPAN
        whole += slope[..., :, None] * slope[..., None, :]
    return whole


def gauge_binned(table: BinnedTable, lab: FloatArray) -> BinnedPosterior:
    """Candidates of each colour.

    Parameters
    ----------
    table : BinnedTable
    lab : ndarray, shape (C, 3)
        CIELAB.
    """
    parts = map_parallel(partial(_gauge_some, table), _pieces(lab), kind="threads")
    nm, probability, fits = (np.concatenate(part) for part in zip(*parts, strict=True))
    return BinnedPosterior(nm, probability, fits)


def _gauge_some(table: BinnedTable, lab: FloatArray) -> tuple[SingleArray, SingleArray, BoolArray]:
    """Candidates of some colours, as the fields of `BinnedPosterior`."""
    density, _, evidence = _densities(table, lab, by_pair=False)
    nm, probability = split_densities(table, density)
    return nm, probability, fit_p_values(table.simulated, evidence) >= FIT_LEVEL


def binned_densities(
    table: BinnedTable, lab: FloatArray
) -> Iterator[tuple[SingleArray, SingleArray, FloatArray, FloatArray]]:
    """Density over thickness (n, T), weight of each pair (n, J), p-value of the fit (n,) and that
    of films without a fault, some colours at a time."""
    for piece in _pieces(lab):
        density, by_pair, evidence = _densities(table, piece, by_pair=True)
        plain = plain_odds(table, by_pair, evidence)
        yield (
            density,
            by_pair,
            fit_p_values(table.simulated, evidence),
            fit_p_values(table.plain, plain),
        )


def fit_p_values(simulated: FloatArray, evidence: SingleArray) -> FloatArray:
    """Share of simulated readings with no higher evidence, as in `FitCheck`."""
    rarer = np.searchsorted(simulated, evidence, side="right")
    return np.asarray((1 + rarer) / (simulated.size + 1))


def split_densities(table: BinnedTable, density: SingleArray) -> tuple[SingleArray, SingleArray]:
    """Part each density (n, T) at its valleys.

    Returns
    -------
    thickness_nm : ndarray, shape (n, K, 3)
        5, 50 and 95 % points of each part.
    probability : ndarray, shape (n, K)
    """
    rows = np.arange(len(density))
    cumulative = np.cumsum(density, axis=1)
    cumulative /= np.maximum(cumulative[:, -1:], _FLOOR)
    cuts = [np.zeros(len(rows), dtype=np.intp)]
    cuts += [a + np.argmin(density[:, a : b + 1], axis=1) for a, b in table.cuts]
    cuts.append(np.full(len(rows), density.shape[1] - 1))
    nm = np.empty((len(rows), len(cuts) - 1, 3), dtype=np.float32)
    probability = np.empty(nm.shape[:2], dtype=np.float32)
    for k in range(len(cuts) - 1):
        start = np.where(k == 0, np.float32(0.0), cumulative[rows, cuts[k]])
        probability[:, k] = np.maximum(cumulative[rows, cuts[k + 1]] - start, 0.0)
        for i, level in enumerate(_LEVELS):
            goal = start + np.float32(level) * probability[:, k]
            nm[:, k, i] = _interpolate(table.thickness_nm, cumulative, goal)
    return nm, probability


def _interpolate(
    thickness_nm: FloatArray, cumulative: SingleArray, goal: SingleArray
) -> FloatArray:
    """Thickness (n,) at which the cumulative density (n, T) reaches a goal (n,): each step's mass
    lies evenly around its thickness."""
    rows, last = np.arange(len(goal)), thickness_nm.size - 1
    place = np.minimum((cumulative < goal[:, None]).sum(axis=1), last)
    before = np.where(place > 0, cumulative[rows, np.maximum(place - 1, 0)], np.float32(0.0))
    mass = np.maximum(cumulative[rows, place] - before, _FLOOR)
    part = np.clip((goal - before) / mass, 0.0, 1.0) - 0.5
    step = thickness_nm[1] - thickness_nm[0]
    found = thickness_nm[place] + part * step
    return np.asarray(np.clip(found, thickness_nm[0], thickness_nm[-1]))


def _pieces(lab: FloatArray) -> list[FloatArray]:
    return np.array_split(lab, max(1, -(-len(lab) // _COLOURS_AT_A_TIME)))


def _densities(
    table: BinnedTable, lab: FloatArray, *, by_pair: bool
) -> tuple[SingleArray, SingleArray, SingleArray]:
    """Density over thickness (n, T) and weight of each pair (n, J), up to a factor, and log
    evidence (n,). The second is (n, 0) where it is not asked for."""
    asked = features(lab)
    starts = range(0, max(len(asked), 1), _FEATURES_AT_A_TIME)
    parts = [_densities_of(table, asked[k : k + _FEATURES_AT_A_TIME], by_pair) for k in starts]
    density, of_pairs, evidence = (np.concatenate(part) for part in zip(*parts, strict=True))
    return density, of_pairs, evidence


def _densities_of(
    table: BinnedTable, asked: SingleArray, by_pair: bool
) -> tuple[SingleArray, SingleArray, SingleArray]:
    """The same of so few features (n, 10) that their densities stay in cache."""
    log_density = asked @ table.coefficients
    peak = log_density.max(axis=1, keepdims=True)
    log_density -= peak
    np.maximum(log_density, _LOWEST, out=log_density)
    np.exp(log_density, out=log_density)
    rows = log_density.reshape(len(asked), -1, table.spread.shape[0])
    density = rows.sum(axis=1) @ table.spread
    evidence = np.log(np.maximum(density.sum(axis=1), _FLOOR)) + peak[:, 0]
    return density, rows[:, : rows.shape[1] if by_pair else 0].sum(axis=2), evidence


def _spread(prior: Prior, scale_nm: FloatArray) -> SingleArray:
    """How a unit of density at each optical scale lies over thickness, (D, T)."""
    nm = prior.thickness_nm[::_STRIDE]
    step = scale_nm[1] - scale_nm[0]
    matrix = np.zeros((scale_nm.size, nm.size))
    for error, weight in zip(*prior.fine_index, strict=True):
        place = (nm * (1.0 + error) - scale_nm[0]) / step
        below = np.clip(place.astype(np.intp), 0, scale_nm.size - 2)
        part = place - below
        columns = np.arange(nm.size)
        np.add.at(matrix, (below, columns), weight * (1.0 - part))
        np.add.at(matrix, (below + 1, columns), weight * part)
    return (matrix * prior.weigh(nm)).astype(np.float32)


def _cut_windows(prior: Prior) -> IndexArray:
    """Between the deepest colours of neighbouring orders lies one valley of every density."""
    nm = prior.thickness_nm[::_STRIDE]
    likeliest = max(prior.pairs, key=lambda pair: pair.weight)
    centres = [c for c in order_centres_nm(likeliest, float(nm[-1])) if c > nm[0]]
    places = np.searchsorted(nm, [*centres, nm[-1]]).clip(max=nm.size - 1)
    windows = [(a, b) for a, b in pairwise(places) if b - a > 2]
    return np.array(windows, dtype=np.intp).reshape(-1, 2)
