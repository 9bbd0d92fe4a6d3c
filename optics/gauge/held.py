"""What is held after all readings of one spot; more follows from it only when it is asked for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._typing import FloatArray, RealArray
from ..inference.colour_table import STEP_NM
from ..inference.likelihood import earlier_likelihood, make_prior, reading_likelihood
from ..inference.measured import Measurement, hue_seen_log_chance
from ..inference.next_look import NextLook, rank_next_looks
from ..inference.posterior import Prior, WeighedRows
from ..inference.question import FilmQuestion
from ..inference.reading import Reading
from ..inference.simulate import SampledFilms
from .doubts import WideningDoubt, fault_shares, find_widening

UNASKED = (
    "; a clear layer over or under it that nobody stated, such as lacquer, wax or an oxide, is "
    "weighed only where it is asked about"
)
_CHECK_FILMS = 400
_MOST_OFFERED = 3
_INDEX_SPREAD = 0.025  # where nothing was looked at, as of any look


@dataclass(frozen=True, eq=False)
class HeldRows:
    """The tables' rows after all that was seen and measured.

    Attributes
    ----------
    question : FilmQuestion
    readings, earlier : tuple of Reading
        Looks at the spot, and colours it had when it was thinner.
    prior : Prior
    log_likelihood : ndarray, shape (J, E, D)
    agreement : float
        How well the order of the colours agrees.
    shared_fit : float
        How well what was measured fits the rest.
    seed : int
        Of the simulated further looks.
    have : tuple of str
        Instruments that further looks may need.
    """

    question: FilmQuestion
    readings: tuple[Reading, ...]
    earlier: tuple[Reading, ...]
    prior: Prior
    log_likelihood: RealArray
    agreement: float
    shared_fit: float
    seed: int
    have: tuple[str, ...] = ()

    @classmethod
    def of(
        cls,
        question: FilmQuestion,
        *,
        readings: tuple[Reading, ...],
        earlier: tuple[Reading, ...],
        measured: Sequence[Measurement],
        seed: int,
    ) -> HeldRows:
        """All of it together: looks are independent given the film."""
        looks = (*readings, *earlier)
        prior = make_prior(question, looks[0].doubts.index_spread if looks else _INDEX_SPREAD)
        each = reading_likelihood(question, looks)
        spot = sum(each[1 : len(readings)], each[0]) if readings else prior.flat
        if any(reading.shows_hue for reading in readings):
            spot = spot + hue_seen_log_chance(question, prior)
        fit = 1.0
        for one in measured:
            fit = min(fit, _shared_fit(prior, spot, one.misfit(question, prior)))
            spot = spot + one.log_likelihood(question, prior)
        log_likelihood, agreement = _chain(prior, each[len(readings) :], spot)
        return cls(question, readings, earlier, prior, log_likelihood, agreement, fit, seed)

    @cached_property
    def rows(self) -> WeighedRows:
        """The likelihoods, added up."""
        return self.prior.weigh_rows(self.log_likelihood)

    @cached_property
    def row_weight(self) -> FloatArray:
        """Posterior weight of every row, shape (J, E, D); they sum to 1."""
        return self.prior.row_weights(self.log_likelihood)

    @cached_property
    def faults(self) -> dict[str, float]:
        """Probability of each fault of surface, oxide, camera or light, the likeliest first."""
        return fault_shares(self.prior, self.rows.pair_share)

    @cached_property
    def widened_by(self) -> WideningDoubt | None:
        """The fault whose possibility widens the answer most."""
        return find_widening(self.prior, self.log_likelihood, self.faults)

    @cached_property
    def optical_nm(self) -> tuple[float, float, float]:
        """5, 50 and 95 % points of index times thickness [nm], index at 550 nm."""
        values, order = self.prior.optical_nm
        cumulative = np.cumsum(self.row_weight.sum(axis=1).ravel()[order])
        low, middle, high = np.interp([0.05, 0.5, 0.95], cumulative, values)
        return float(low), float(middle), float(high)

    @cached_property
    def next_looks(self) -> tuple[NextLook, ...]:
        """Further looks, the most telling first; none where nothing was looked at yet."""
        if not self.readings:
            return ()
        rng = np.random.default_rng(self.seed)
        looks = [(reading.how, reading.view, reading.doubts) for reading in self.readings]
        viewing = self.question.conditions
        films = self._draw_films(rng)
        pairs, have = self.prior.pairs, self.have
        return tuple(rank_next_looks(films, pairs, viewing=viewing, now=looks, rng=rng, have=have))

    def _draw_films(self, rng: np.random.Generator) -> SampledFilms:
        """Films drawn from the rows, spread evenly over each row's own width."""
        weight, prior = self.row_weight, self.prior
        rows = rng.choice(weight.size, size=_CHECK_FILMS, p=weight.ravel())
        j, e, d = np.unravel_index(rows, weight.shape)
        error = prior.index_error[e]
        scale = prior.scale_nm[d] + STEP_NM * (rng.random(rows.size) - 0.5)
        return SampledFilms(j, np.maximum(scale / (1.0 + error), 0.0), error)


def _shared_fit(prior: Prior, log_likelihood: RealArray, misfit: FloatArray) -> float:
    """p-value of one thickness for what was held so far and for one measurement more.

    ``χ² = min(χ²_held + χ²_new) - min χ²_held``, one degree of freedom: what it costs to share the
    thickness (M. Maltoni and T. Schwetz, Phys. Rev. D 68, 033020 (2003)).
    """
    off = np.subtract(log_likelihood, log_likelihood.max(), dtype=float)
    held = np.where(prior.in_range, -2.0 * off, np.inf)
    apart = float((held - held.min() + misfit).min())
    return math.erfc(math.sqrt(max(apart, 0.0) / 2.0))


def _chain(prior: Prior, earlier: list[RealArray], spot: RealArray) -> tuple[RealArray, float]:
    """The spot's likelihood after the colours before it, and how well their order agrees."""
    if not earlier:
        return spot, 1.0
    before, worst = earlier[0], 1.0
    for later in (*earlier[1:], spot):
        before, agreement = earlier_likelihood(prior, later, before)
        worst = min(worst, agreement)
    return before, worst


def phrase_check(looks: Sequence[NextLook], interval_nm: tuple[float, float], fits: bool) -> str:
    """What to do next, in words."""
    width_nm = interval_nm[1] - interval_nm[0]
    if not fits:
        return (
            "first make sure of the reading and of what film and metal it is: none of those in "
            f"question shows this colour{UNASKED}"
        )
    if math.isinf(width_nm):
        return (
            "the film is opaque, so its colour tells no more; measure its sheet resistance or "
            "weigh the piece"
        )
    worth = [look for look in looks if look.expected_width_nm <= 0.9 * width_nm][:_MOST_OFFERED]
    if not worth:
        return "no further look at the colour would tell much; measure the thickness another way"
    best, *others = worth
    said = (
        f"{best.look}: the 90 % interval, {width_nm:.0f} nm wide now, would on average shrink to "
        f"{best.expected_width_nm:.0f} nm"
    )
    return said + "".join(f"; or {one.look} ({one.expected_width_nm:.0f} nm)" for one in others)
