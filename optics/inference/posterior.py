"""From readings to a density over thickness, one curve for each film hypothesis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from itertools import groupby

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray, RealArray
from ..numerics.integrate import exp_in_place, trapezoid
from ..numerics.interpolate import lagrange
from .colour_table import INDEX_SPAN, STEP_NM, index_nodes, scale_grid
from .faults import NONE, fault_of
from .grown import UsualThickness
from .hypotheses import FilmModel
from .normal import multiply

_FINE_INDEX_STEPS = 41


@dataclass(frozen=True, eq=False)
class WeighedRows:
    """Likelihoods of all rows of the tables, added up by groups of pairs and by pair.

    Attributes
    ----------
    log_sums : ndarray, shape (groups, E, D)
        Logarithm of the weighted sum over the pairs of each group, over the best row of all.
    pair_share : ndarray, shape (J,)
        Posterior probability of each pair.
    log_peak : float
        Logarithm of the best row.
    """

    log_sums: RealArray
    pair_share: FloatArray
    log_peak: float


@dataclass(frozen=True, eq=False)
class RowWeights:
    """By what a prior's rows are summed, in the bits of their likelihoods: those of one look have
    32, and lose no more in sums of as many.

    Attributes
    ----------
    between_nodes : ndarray, shape (F, E)
        Values at the index nodes to those at the fine steps.
    at_places : ndarray, shape (2 F, T)
        Shares of the places where curves are read.
    pair : ndarray, shape (J,)
    row : ndarray, shape (E D,)
    """

    between_nodes: RealArray
    at_places: RealArray
    pair: RealArray
    row: RealArray


@dataclass(frozen=True, eq=False)
class Prior:
    """What is held before any reading: pairs of data sets, and a range of thickness.

    Attributes
    ----------
    pairs : tuple of FilmModel
    between_nm : tuple of float
    index_spread : float
    scale_nm, index_error : ndarray, shapes (D,) and (E,)
        The grid of the tables this prior is used with.
    usual : UsualThickness or None
        Which thicknesses are likelier; none where empty.
    """

    pairs: tuple[FilmModel, ...]
    between_nm: tuple[float, float]
    index_spread: float
    scale_nm: FloatArray
    index_error: FloatArray
    usual: UsualThickness | None = None

    @classmethod
    def of(
        cls,
        pairs: tuple[FilmModel, ...],
        between_nm: tuple[float, float],
        index_spread: float,
        *,
        usual: UsualThickness | None = None,
    ) -> Prior:
        """The prior on the grid of the tables for such a range and doubt of the index."""
        scale_nm = scale_grid(between_nm, index_spread)
        return cls(pairs, between_nm, index_spread, scale_nm, index_nodes(index_spread), usual)

    def weigh(self, thickness_nm: FloatArray) -> FloatArray:
        """Prior density of thicknesses over that of an even spread, whose mean over the range is
        1."""
        if self.usual is None:
            return np.ones_like(thickness_nm)
        low, high = self.between_nm
        mean = trapezoid(self.usual.weight(self.thickness_nm), self.thickness_nm) / (high - low)
        return np.asarray(self.usual.weight(thickness_nm) / mean)

    @cached_property
    def thickness_weight(self) -> FloatArray:
        """`weigh` on the grid of the density, shape (T,)."""
        return self.weigh(self.thickness_nm)

    @cached_property
    def film_names(self) -> tuple[str, ...]:
        """Hypotheses in the order first met."""
        return tuple(dict.fromkeys(pair.film_name for pair in self.pairs))

    @cached_property
    def thickness_nm(self) -> FloatArray:
        """Grid of the density [nm], shape (T,)."""
        low, high = self.between_nm
        return np.linspace(low, high, max(2, round((high - low) / STEP_NM) + 1))

    @cached_property
    def index_weight(self) -> FloatArray:
        """Weights of the coarse index nodes that integrate a quartic against the prior, (E,)."""
        fine, weight = self.fine_index
        return weight @ lagrange(self.index_error, fine)[0]

    @cached_property
    def optical_nm(self) -> tuple[FloatArray, IndexArray]:
        """Index at 550 nm times scale, of all pairs and scales (J D,) [nm]: sorted, and how."""
        index = np.array([pair.film.nk(550.0).real for pair in self.pairs])
        values = (index[:, None] * self.scale_nm).ravel()
        order = np.argsort(values)
        return values[order], order

    @cached_property
    def fine_index(self) -> tuple[FloatArray, FloatArray]:
        """Relative index errors at fine steps, and their prior weights."""
        if self.index_spread == 0.0:
            return np.zeros(1), np.ones(1)
        z = np.linspace(-INDEX_SPAN, INDEX_SPAN, _FINE_INDEX_STEPS)
        weight = np.exp(-0.5 * z * z)
        return self.index_spread * z, weight / weight.sum()

    @cached_property
    def pairs_of_films(self) -> tuple[slice, ...]:
        """Which pairs stand for each film; they lie side by side."""
        counts = [sum(1 for _ in own) for _, own in groupby(self.pairs, lambda p: p.film_name)]
        ends = np.cumsum(counts).tolist()
        return tuple(slice(end - count, end) for end, count in zip(ends, counts, strict=True))

    @cached_property
    def pair_weight(self) -> FloatArray:
        """Prior weights of the pairs, shape (J,)."""
        return np.array([pair.weight for pair in self.pairs])

    @cached_property
    def faults(self) -> tuple[tuple[str, ...], IndexArray]:
        """Faults in the order first met, and which of them each pair has, (J,)."""
        each = [fault_of(pair) for pair in self.pairs]
        names = tuple(dict.fromkeys(each))
        return names, np.array([names.index(name) for name in each])

    @cached_property
    def faultless(self) -> BoolArray:
        """Which pairs have no fault, (J,)."""
        names, own = self.faults
        return np.array([name == NONE for name in names])[own]

    @cached_property
    def _places(self) -> tuple[IndexArray, FloatArray]:
        """Where curves over fine index error and scale, laid end to end, are read for each
        thickness by straight lines, and the weights there, both (2 F, T): of the place below, then
        of that at the next scale."""
        fine, weight = self.fine_index
        where = self.thickness_nm * (1.0 + fine[:, None])
        place = np.clip((where - self.scale_nm[0]) / STEP_NM, 0.0, self.scale_nm.size - 1.000001)
        below = place.astype(np.intp)
        part = place - below
        below += self.scale_nm.size * np.arange(fine.size)[:, None]
        shares = [weight[:, None] * one for one in (1.0 - part, part)]
        return np.concatenate([below, below + 1]), np.concatenate(shares)

    @cached_property
    def _double(self) -> RowWeights:
        nodes = np.ascontiguousarray(lagrange(self.index_error, self.fine_index[0])[0])
        return RowWeights(nodes, self._places[1], self.pair_weight, self._row_share.ravel())

    @cached_property
    def _single(self) -> RowWeights:
        each = (getattr(self._double, one.name) for one in fields(RowWeights))
        return RowWeights(*(weights.astype(np.float32) for weights in each))

    def _weights_of(self, rows: RealArray) -> RowWeights:
        return self._single if rows.dtype == np.float32 else self._double

    def _over_index(self, log_groups: RealArray) -> FloatArray:
        """Mean over the index error (G, T) of likelihoods by their logarithm at the nodes
        (G, E, D), which is joined by a polynomial."""
        by = self._weights_of(log_groups)
        curves = exp_in_place(by.between_nodes @ log_groups).reshape(len(log_groups), -1)
        read = curves.take(self._places[0], axis=1)
        mean = np.einsum("gft,ft->gt", read, by.at_places)
        return np.asarray(mean, dtype=float)

    def film_density(self, log_likelihood: RealArray) -> tuple[FloatArray, FloatArray]:
        """Posterior over thickness of each film.

        Parameters
        ----------
        log_likelihood : ndarray, shape (N, J, E, D)

        Returns
        -------
        density : ndarray, shape (N, H, T)
            Per nanometre; sums over films and thickness to 1.
        log_evidence : ndarray, shape (N,)
        """
        each = [self.density_of(self.weigh_rows(one)) for one in log_likelihood]
        density, log_evidence = zip(*each, strict=True)
        return np.array(density), np.array(log_evidence)

    def weigh_rows(
        self,
        log_likelihood: RealArray,
        groups: Sequence[slice | IndexArray] | None = None,
    ) -> WeighedRows:
        """Likelihoods from their logarithms (J, E, D), the pairs of a film together, or those of
        each group."""
        groups = self.pairs_of_films if groups is None else groups
        rows = log_likelihood.reshape(len(self.pairs), -1)
        peak, share = rows.max(), np.zeros(len(self.pairs))
        log_sums = np.empty((len(groups), rows.shape[1]), dtype=rows.dtype)
        by = self._weights_of(rows)
        for sums, own in zip(log_sums, groups, strict=True):
            best = rows[own].max(axis=0)
            relative = exp_in_place(rows[own] - best)  # each over the best pair of the same row
            best -= peak
            np.add(np.log(multiply(by.pair[own][None], relative)[0]), best, out=sums)
            share[own] = relative @ (exp_in_place(best) * by.row)
        share *= self.pair_weight
        shape = len(groups), *log_likelihood.shape[1:]
        return WeighedRows(log_sums.reshape(shape), share / share.sum(), float(peak))

    def density_of(self, rows: WeighedRows) -> tuple[FloatArray, float]:
        """As `film_density` of one, (H, T) and its log evidence; of films, or of whatever groups
        the rows are in."""
        density = self._over_index(rows.log_sums)
        density *= self.thickness_weight
        total = float(self.mass(density))
        width = self.thickness_nm[-1] - self.thickness_nm[0]
        return density / total, float(np.log(total / width)) + rows.log_peak

    def mass(self, density: FloatArray) -> FloatArray:
        """Integral over thickness, and sum over films, of densities (..., H, T), shape (...)."""
        return trapezoid(density.sum(axis=-2), self.thickness_nm)

    @property
    def flat(self) -> FloatArray:
        """Log likelihood of every row where nothing was seen, (J, E, D)."""
        return np.zeros((len(self.pairs), self.index_error.size, self.scale_nm.size))

    @cached_property
    def in_range(self) -> BoolArray:
        """Which rows of the tables are thicknesses of the range, shape (E, D)."""
        low, high = self.between_nm
        d = self.scale_nm / (1.0 + self.index_error[:, None])
        return (d >= low) & (d <= high)

    def row_weights(self, log_likelihood: RealArray) -> FloatArray:
        """Posterior weight of each pair, index node and scale, shape (J, E, D), summing to 1.

        ``log_likelihood`` has shape (J, E, D); all zeros give the prior itself.
        """
        weight = exp_in_place(np.subtract(log_likelihood, log_likelihood.max(), dtype=float))
        weight *= self.pair_weight[:, None, None] * self._row_share
        weight /= weight.sum()
        return weight

    @cached_property
    def _row_share(self) -> FloatArray:
        """Prior of each row of one pair up to a factor, shape (E, D)."""
        # A step in the scale is a step / (1 + e) in thickness.
        stretch = 1.0 + self.index_error[:, None]
        inside = self.in_range / stretch * self.weigh(self.scale_nm / stretch)
        return np.asarray(np.maximum(self.index_weight, 0.0)[:, None] * inside)
