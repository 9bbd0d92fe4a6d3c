"""What test pieces say about a kiln: the law's parameters, from curves of likelihood.

Three levels: the law of the metal, shared by all; a pace for each kiln; a scatter of the pace from
heat to heat. Where the order of the heats is known, the pace may change between them, see
`kiln_history`. The prior is the shipped law. Draws are moved from prior to posterior by tempering,
so that a colour which may belong to several orders keeps them all until another piece decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .._typing import FloatArray, IndexArray
from ..numerics.integrate import trapezoid
from ..numerics.normal_law import normal_cdf
from ..numerics.smc import sample_posterior, square_root
from .growth import grow, grow_again, grow_each
from .kiln_history import KilnHistory, pace_per_K
from .metals import KilnSpread, Metal
from .schedule import HeatSchedule

SLIP = 0.02  # share of coupons that may have been mixed up or misread altogether
_STEP_LN = 0.01
_LEAST_NM = 0.5
_SMOOTHINGS = 0.005 * 2.0 ** np.arange(9)
_PACE_STEP = 0.05
_MOVES, _MOVES_IN_ORDER = 10, 20  # steps are found by few of the draws at first


@dataclass(frozen=True, eq=False)
class LawDraws:
    """Possible worlds, one in each row.

    Attributes
    ----------
    theta, native_nm
        Parameters of the law (N, 4 R), and the film before a heat (N,).
    pace : ndarray, shape (N, K)
        Logarithm of each kiln's pace.
    scatter : ndarray, shape (N,)
        Standard deviation of the logarithm of the pace from heat to heat.
    index_error, film
        Relative error of the film's index, which all colours share, and which hypothesis of the
        film holds, (N,).
    """

    theta: FloatArray
    native_nm: FloatArray
    pace: FloatArray
    scatter: FloatArray
    index_error: FloatArray
    film: IndexArray

    def take(self, rows: IndexArray) -> LawDraws:
        """The draws in the given rows."""
        return LawDraws(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))

    def for_kiln(self, kiln: int) -> LawDraws:
        """The draws of one of several kilns."""
        return replace(self, pace=self.pace[:, kiln : kiln + 1])

    def typical_nm(self, metal: Metal, heat: HeatSchedule) -> FloatArray:
        """Thickness (N,) after a heat of the first kiln that goes as such heats usually do."""
        return grow(
            metal.regimes, self.theta, heat, start_nm=self.native_nm, ln_pace=self.pace[:, 0]
        )

    def typical_all_nm(self, metal: Metal, heats: Sequence[HeatSchedule]) -> FloatArray:
        """Thickness (heats, N) after each of several heats, as `typical_nm`."""
        return grow_each(
            metal.regimes, self.theta, heats, start_nm=self.native_nm, ln_pace=self.pace[:, 0]
        )

    def typical_each_nm(self, metal: Metal, heat: HeatSchedule, times: int) -> FloatArray:
        """Thickness (times, N) after each of so many such heats, one after the other."""
        return grow_again(
            metal.regimes, self.theta, heat,
            times=times, start_nm=self.native_nm, ln_pace=self.pace[:, 0],
        )  # fmt: skip

    def thickness_nm(
        self, metal: Metal, heat: HeatSchedule, rng: np.random.Generator
    ) -> FloatArray:
        """Thickness (N,) after a heat of the first kiln, the scatter of a single heat included."""
        pace = self.pace[:, 0] + self.scatter * rng.standard_normal(self.scatter.size)
        return grow(metal.regimes, self.theta, heat, start_nm=self.native_nm, ln_pace=pace)


@dataclass(frozen=True, eq=False)
class Coupon:
    """One test piece: likelihood (H, D) of what came out, for each hypothesis of the film.

    ``scale_nm`` (D,) is the optical scale, thickness times one plus the index error, if the piece
    is ``optical``; a measured thickness is what it is. ``place`` is that of its heat among those of
    its kiln, in their order, from 0.
    """

    heat: HeatSchedule
    scale_nm: FloatArray
    likelihood: FloatArray
    kiln: int = 0
    optical: bool = True
    place: int = 0


@dataclass(frozen=True, eq=False)
class _LawPrior:
    """Prior of everything unknown, as a map from standard normal numbers."""

    metal: Metal
    spread: KilnSpread
    kilns: int
    film_share: FloatArray
    history: KilnHistory | None = None
    """Of the one kiln, heat by heat; None without an order."""

    @property
    def size(self) -> int:
        in_order = 0 if self.history is None else self.history.size
        return self.metal.mean.size + 5 + self.kilns + in_order

    def paths(self, z: FloatArray) -> FloatArray:
        """Logarithm of the pace at each heat and the next, over the first, shape (N, P)."""
        return np.zeros((len(z), 1)) if self.history is None else self.history.paths(self._told(z))

    def steps(self, z: FloatArray) -> FloatArray:
        """The part of the paths that are steps, shape (N, P)."""
        return np.zeros((len(z), 1)) if self.history is None else self.history.steps(self._told(z))

    def drift(self, z: FloatArray) -> FloatArray:
        """What the logarithm of the pace gains from each heat to the next, shape (N,)."""
        return np.zeros(len(z)) if self.history is None else self.history.drift(self._told(z))

    def misread(self, z: FloatArray) -> FloatArray:
        """Share of pieces that may be mixed up or misread altogether, shape (N,)."""
        if self.history is None:
            return np.full(len(z), SLIP)
        return self.history.misread(self._told(z))

    def _told(self, z: FloatArray) -> FloatArray:
        assert self.history is not None
        return z[:, -self.history.size :]

    def between(self, z: FloatArray) -> FloatArray:
        median, spread = self.spread.between_kilns
        return np.asarray(median * np.exp(spread * z[:, self.metal.mean.size + 4]))

    def draws(self, z: FloatArray) -> LawDraws:
        """Draws from standard normals (N, size)."""
        p = self.metal.mean.size
        root = square_root(self.metal.covariance)
        film = np.searchsorted(np.cumsum(self.film_share)[:-1], normal_cdf(z[:, p + 3]))
        doubt = np.array(self.spread.time_doubt or (0.0,) * self.kilns)
        scatter_median, scatter_spread = self.spread.per_heat
        return LawDraws(
            self.metal.mean + z[:, :p] @ root.T,
            self.metal.native_nm * np.exp(self.metal.native_ln_sd * z[:, p]),
            np.hypot(self.between(z)[:, None], doubt) * z[:, p + 5 : p + 5 + self.kilns],
            scatter_median * np.exp(scatter_spread * z[:, p + 1]),
            self.spread.index_spread * z[:, p + 2],
            film.astype(np.intp),
        )


def draw_prior(
    metal: Metal, film_share: FloatArray, *, count: int, rng: np.random.Generator
) -> LawDraws:
    """Draws from the shipped law for one untested kiln; ``film_share`` weighs the films (H,)."""
    world = _LawPrior(metal, metal.spread, 1, film_share)
    return world.draws(_draw_valid_start(world, count, rng))


@dataclass(frozen=True, eq=False)
class LawFit:
    """The outcome of a fit.

    ``between_kilns`` (N,) is the standard deviation of ln pace from kiln to kiln, ``log_evidence``
    the logarithm of the mean likelihood under the prior, ``misread`` (N, I) the probability that
    each piece was mixed up or misread. Where heats have an order, ``draws`` are as the next finds
    the kiln, ``pace_paths`` (N, P) is the logarithm of the pace at each heat and the next, over the
    first, ``steps`` (N, P) the part of it that sudden changes made, and ``drift`` (N,) that which
    each heat adds.
    """

    draws: LawDraws
    between_kilns: FloatArray
    log_evidence: float
    pace_paths: FloatArray
    steps: FloatArray
    drift: FloatArray
    misread: FloatArray

    def draws_at(self, place: int) -> LawDraws:
        """The draws as a heat found the kiln, by its place in their order."""
        back = self.pace_paths[:, place] - self.pace_paths[:, -1]
        return replace(self.draws, pace=self.draws.pace + back[:, None])


def fit_law(
    metal: Metal,
    evidence: Sequence[Coupon],
    film_share: FloatArray,
    *,
    count: int,
    rng: np.random.Generator,
    spread: KilnSpread | None = None,
    in_order: bool = False,
) -> LawFit:
    """Draws from the posterior of law, kilns and scatter.

    The shipped law is the prior; ``film_share`` (H,) weighs the hypotheses of the film, and
    ``spread`` replaces the metal's own. ``in_order`` says that all heats are of one kiln and that
    the places of the pieces are their order: then its pace may change from heat to heat.
    """
    kilns = 1 + max(one.kiln for one in evidence)
    history = None
    if in_order:
        heats = 1 + max(one.place for one in evidence)
        history = KilnHistory(heats, pace_per_K(metal, [one.heat for one in evidence]))
    world = _LawPrior(metal, spread or metal.spread, kilns, film_share, history)
    tables = [_SmoothedLikelihood.of(one) for one in evidence]
    z, log_evidence = sample_posterior(
        lambda new: _log_likelihood(world, tables, new), _draw_valid_start(world, count, rng), rng,
        moves=_MOVES_IN_ORDER if in_order else _MOVES,
    )  # fmt: skip
    draws, paths, misread = world.draws(z), world.paths(z), world.misread(z)[:, None]
    read = np.column_stack([_read(world.metal, draws, paths, table) for table in tables])
    return LawFit(
        replace(draws, pace=draws.pace + paths[:, -1:]), world.between(z), log_evidence,
        paths, world.steps(z), world.drift(z), misread / (misread + (1.0 - misread) * read),
    )  # fmt: skip


def log_predictive(metal: Metal, draws: LawDraws, one: Coupon) -> float:
    """Logarithm of the mean likelihood of a piece under draws that need not have seen it."""
    read = _piece(metal, draws, _SmoothedLikelihood.of(one))
    value = np.log((1.0 - SLIP) * read + SLIP)
    return float(np.log(np.exp(value - value.max()).mean()) + value.max())


@dataclass(frozen=True, eq=False)
class _SmoothedLikelihood:
    """Likelihood over ln thickness, averaged over the scatter of a heat at several widths.

    A film thicker than colours are followed to may have any colour: it counts as a piece misread.
    """

    one: Coupon
    start: float
    table: FloatArray  # (H, S, G)

    @staticmethod
    def of(one: Coupon) -> _SmoothedLikelihood:
        low, high = np.log(_LEAST_NM), np.log(one.scale_nm[-1]) + 3.0 * _SMOOTHINGS[-1]
        grid = np.arange(low, high + _STEP_LN, _STEP_LN)
        each = [np.interp(np.exp(grid), one.scale_nm, row) for row in one.likelihood]
        mean = np.array([trapezoid(row, one.scale_nm) for row in one.likelihood])
        width = one.scale_nm[-1] - one.scale_nm[0]
        curves = np.array(each) * width / max(float(mean.mean()), 1e-300)
        curves[:, grid > np.log(one.scale_nm[-1])] = 1.0 if one.optical else 0.0
        smooth = [[_blur(row, sd / _STEP_LN) for sd in _SMOOTHINGS] for row in curves]
        return _SmoothedLikelihood(one, float(low), np.array(smooth))

    def at(self, film: IndexArray, ln_scale: FloatArray, sd: FloatArray) -> FloatArray:
        """Likelihood (N,) over that of a piece misread."""
        row = np.clip(np.log2(np.maximum(sd, 1e-9) / _SMOOTHINGS[0]), 0.0, _SMOOTHINGS.size - 1.001)
        s = row.astype(np.intp)
        place = np.clip((ln_scale - self.start) / _STEP_LN, 0.0, self.table.shape[2] - 1.001)
        g = place.astype(np.intp)
        part, across = place - g, row - s
        lower = self.table[film, s, g] * (1.0 - part) + self.table[film, s, g + 1] * part
        upper = self.table[film, s + 1, g] * (1.0 - part) + self.table[film, s + 1, g + 1] * part
        return np.asarray(lower * (1.0 - across) + upper * across)


def _blur(row: FloatArray, steps: float) -> FloatArray:
    """A row averaged over a normal spread of so many grid steps; it goes on as it ends, and before
    it is nothing."""
    if steps < 0.3:
        return row
    reach = int(4.0 * steps + 0.5)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / steps) ** 2)
    whole = np.pad(row, (0, reach), constant_values=(0.0, row[-1]))
    return np.convolve(whole, kernel / kernel.sum())[reach : reach + row.size]


def _read(
    metal: Metal, draws: LawDraws, paths: FloatArray, table: _SmoothedLikelihood
) -> FloatArray:
    """As :func:`_piece`, of a kiln as the heat of the piece found it."""
    pace = draws.pace + paths[:, table.one.place, None]
    return _piece(metal, replace(draws, pace=pace), table)


def _piece(metal: Metal, draws: LawDraws, table: _SmoothedLikelihood) -> FloatArray:
    """Likelihood (N,) of a piece that is not misread."""
    one, own = table.one, draws.for_kiln(table.one.kiln)
    film = own.typical_nm(metal, one.heat)
    faster = replace(own, pace=own.pace + _PACE_STEP).typical_nm(metal, one.heat)
    slope = np.log(faster / film) / _PACE_STEP
    spread = slope * draws.scatter
    scale = film * (1.0 + draws.index_error) if one.optical else film
    return table.at(draws.film, np.log(scale), spread)


def _log_likelihood(
    world: _LawPrior, tables: Sequence[_SmoothedLikelihood], z: FloatArray
) -> FloatArray:
    """Log likelihood (N,); impossible parameters have none."""
    draws = world.draws(z)
    possible = world.metal.are_valid(draws.theta)
    total = np.full(len(z), -np.inf)
    kept = np.flatnonzero(possible)
    if kept.size:
        own = draws.take(kept)
        paths, misread = world.paths(z[kept]), world.misread(z[kept])
        total[kept] = sum(
            np.log((1.0 - misread) * _read(world.metal, own, paths, table) + misread)
            for table in tables
        )
    return total


def _draw_valid_start(world: _LawPrior, count: int, rng: np.random.Generator) -> FloatArray:
    kept: list[FloatArray] = []
    while sum(map(len, kept)) < count:
        z = rng.standard_normal((count, world.size))
        kept.append(z[world.metal.are_valid(world.draws(z).theta)])
    return np.concatenate(kept)[:count]
