"""A rainbow calibrates itself: the thickness of many spots of one piece in one photo together.

The spots share exposure, white balance, glare, angle, data sets and index error; only thickness
and a scatter of their own tell them apart, so together they say much about what they share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from ..._typing import FloatArray
from ...colour.conditions import ViewingConditions
from ...errors import InputError, LimitError, OutOfRangeError
from ...inference.faults import IDEAL
from ...inference.hypotheses import FilmModel
from ...inference.uncertainty import Uncertainty
from .faults import NO_FAULTS, PRESENT
from .likelihood import Spots, log_likelihood
from .model import FilmMembers, SharedModel, build_shared_model, film_members, make_pair_jump
from .result import JointEstimate, summarise_draws
from .row import average_row
from .sampler import JointDraws, sample_joint

MOST_SPOTS, MOST_IN_A_ROW = 256, 10_000
PARTICLES, _FEWEST_PARTICLES = 240, 100
_ON_THE_WAY = 40  # of each film in each of two runs, or more where films are few
_NO_ORDER = (
    "the readings fit no thickness that never falls from row to row; list the spots from thin to "
    "thick, or do not say that they rise"
)
_ORDER_REFUSED = np.log(1e6)  # so much less likely in order than out of it, the order is wrong


def gauge_pairs(
    pairs: tuple[FilmModel, ...],
    spots_lab: ArrayLike,
    doubts: Uncertainty,
    *,
    between_nm: tuple[float, float],
    viewing: ViewingConditions | None = None,
    rising: bool = False,
    seed: int = 1,
    particles: int = PARTICLES,
    in_a_row: bool = False,
    finish: str = IDEAL,
) -> JointEstimate:
    """Thickness of several spots of one piece, seen in one photo.

    Parameters
    ----------
    pairs : tuple of FilmModel
        Data sets the film and what it lies on may have, the same on the whole piece.
    spots_lab : array_like, shape (P, 3)
        CIELAB of the spots, each over an area of its own: readings of overlapping areas are
        not independent, and taking them as such makes the intervals too narrow.
    doubts : Uncertainty
        ``noise_de`` is each spot's own. Of the variance ``discrepancy_de²`` an unknown part, up
        to nine tenths, is common to spots of like thickness; the rest is each spot's own.
    between_nm : tuple of float
        The thicknesses lie in here [nm], more or less evenly spread between two ends that may be
        anywhere.
    rising : bool
        Thickness is known never to fall from each spot to the next.
    in_a_row : bool
        The spots follow a line, evenly spaced, along which thickness changes gently, so that
        neighbours may be averaged to 24 places; the more spots, the less their scatter counts.
    particles : int
        Draws of the posterior. Fewer of each film find their way to it first, in two runs.
    finish : str
        What the surface is, or may be; the faults that this leaves possible, of surface, oxide,
        camera and lamp, are shared by all spots. With an ideal one there is none.

    Raises
    ------
    InputError
        If the spots are not P finite triples, or neighbours in a row scatter by more than their
        doubts.
    OutOfRangeError
        If the range or the number of particles is refused.
    LimitError
        For more than 256 spots, or 10,000 in a row.

    Notes
    -----
    Were the thickness of each spot uniform over the whole range, P spots would vote P times for
    the lower index: each would be allowed its share of a longer scale. The two unknown ends take
    that vote away, as a lower index then stretches the piece's own range with it. Nor do they vote
    for what makes them lie evenly: how unevenly they do is unknown too.
    """
    _check_run(seed, particles)
    lab = _check_spots(spots_lab, MOST_IN_A_ROW if in_a_row else MOST_SPOTS)
    row = average_row(lab, doubts) if in_a_row else None
    spots = Spots(row.lab, rising, row.each) if row else Spots(lab, rising)
    model = build_shared_model(
        pairs,
        between_nm,
        doubts=doubts,
        viewing=viewing or ViewingConditions(),
        each=int(np.max(spots.each)),
        finish=finish,
    )
    draws = _draw(model, pairs, spots, particles, np.random.default_rng(seed))
    if rising:
        _check_order(model, pairs, spots, draws, seed)
    found = summarise_draws(model, pairs=pairs, spots=spots, draws=draws, row=row)
    return JointEstimate(**found, seed=seed)


def _check_run(seed: int, particles: int) -> None:
    if particles < _FEWEST_PARTICLES:
        raise OutOfRangeError(
            f"{particles} particles are too few; take {_FEWEST_PARTICLES} or more"
        )
    if seed < 0:
        raise OutOfRangeError(f"the seed is {seed}; it must be 0 or more")


def _check_spots(spots_lab: ArrayLike, most: int) -> FloatArray:
    spots = np.asarray(spots_lab, dtype=float)
    if spots.ndim != 2 or spots.shape[1] != 3 or not len(spots) or not np.isfinite(spots).all():
        raise InputError(
            f"spots_lab must hold a finite L*, a*, b* for each spot, shape (P, 3); its shape is "
            f"{spots.shape}"
        )
    if len(spots) > most:
        raise LimitError(
            f"{len(spots)} spots are too many to read together; average them down to {most}"
        )
    return spots


def _check_order(
    model: SharedModel,
    pairs: tuple[FilmModel, ...],
    spots: Spots,
    draws: JointDraws,
    seed: int,
) -> None:
    """Refuse spots whose colours speak against their order, even where that is what is drawn for.

    Faults can bend colours far enough to turn an order round: films without any have to agree with
    it. Where some of the draws have none, they tell. Otherwise come draws of such films that know
    of no order, for they are cheaper, and of one film after another: where those of one agree with
    the order well enough, others that aim at it do so too.
    """
    if model.faults.names:
        scores = draws.scores
        plain = (model.faults.amounts(scores[:, model.fault_scores]) < PRESENT).all(axis=1)
        scores = scores[plain, : model.fault_scores.start]
        model, draws = (
            replace(model, faults=NO_FAULTS),
            replace(draws, scores=scores, pair=draws.pair[plain]),
        )
        if plain.any() and not _order_refused(model, spots, draws):
            return
        rng, free = np.random.default_rng(seed), replace(spots, rising=False)
        for film in film_members(pairs):
            draws = _draw(model, pairs, free, _ON_THE_WAY, rng, films=[film], runs=1)
            if not _order_refused(model, spots, draws):
                return
        draws = _draw(model, pairs, spots, PARTICLES, np.random.default_rng(seed))
    if _order_refused(model, spots, draws):
        raise InputError(_NO_ORDER)


def _order_refused(model: SharedModel, spots: Spots, draws: JointDraws) -> bool:
    """Whether colours speak against the order of their spots in every draw.

    The two likelihoods are as far apart as a rising order is likelier to the thicknesses that each
    spot has by itself than to thicknesses in no order.
    """
    rising, free = (
        log_likelihood(model, each, draws.scores, pair=draws.pair)[0]
        for each in (spots, replace(spots, rising=False))
    )
    return bool(np.max(rising - free) < -_ORDER_REFUSED)


def _draw(
    model: SharedModel,
    pairs: tuple[FilmModel, ...],
    spots: Spots,
    particles: int,
    rng: np.random.Generator,
    *,
    films: Sequence[FilmMembers] | None = None,
    runs: int = 2,
) -> JointDraws:
    """Draws of every film, or of some, twice over: two runs that only share their step lengths."""
    films = films or film_members(pairs)
    size = max(_ON_THE_WAY, particles // (runs * len(films)))
    group = np.repeat(np.arange(runs * len(films)), size)
    pair = np.concatenate([rng.choice(j, size=size, p=p) for _ in range(runs) for j, p in films])
    return sample_joint(
        lambda scores, pair: log_likelihood(model, spots, scores, pair=pair),
        make_pair_jump(model, pairs),
        rng.standard_normal((group.size, model.scores)),
        pair=pair,
        group=group,
        wanted=particles,
        rng=rng,
    )
