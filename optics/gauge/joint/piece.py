"""Readings that are spots of one piece in one photo, as estimates of each spot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from ...colour.conditions import ViewingConditions
from ...errors import InputError
from ...inference.faults import IDEAL
from ...inference.likelihood import fit_p_value, make_prior
from ...inference.question import DEFAULT_BETWEEN_NM, FilmQuestion
from ...result import Hidden, Result
from ..batch import as_rows, row_estimate
from ..candidates import find_candidates
from ..result import RowEstimate
from .gauge import gauge_pairs
from .result import JointEstimate, SharedValue

_SHARED = {
    "gain": "gain",
    "white_balance_a": "wb_a",
    "white_balance_b": "wb_b",
    "glare": "glare",
    "angle_deg": "angle_deg",
    "index_error": "index_error",
}
"""Names of the shared unknowns in the JSON, and in `JointEstimate`."""


@dataclass(frozen=True, eq=False, repr=False)
class PieceEstimate(Result):
    """What is held about the spots of one piece.

    Attributes
    ----------
    readings : list of RowEstimate
        In the order given.
    joint : JointEstimate
        What they share: exposure, white balance, glare, angle, index error, data sets.
    """

    verb: ClassVar[str] = "gauge"
    rows: ClassVar[str] = "readings"
    also: ClassVar[tuple[str, ...]] = (
        "shared", "films", "faults", "plain_p", "converged", "effective_draws", "seed",
    )  # fmt: skip

    readings: list[RowEstimate]
    joint: Hidden[JointEstimate]

    @property
    def shared(self) -> dict[str, SharedValue]:
        """What the spots share, each with its median and 90 % interval."""
        return {name: getattr(self.joint, key) for name, key in _SHARED.items()}

    @property
    def films(self) -> dict[str, float]:
        """Probability of each film hypothesis."""
        return self.joint.films

    @property
    def faults(self) -> dict[str, float]:
        """Probability of each fault of surface, oxide, camera or light that the spots may share;
        two may be there at once, and ``none`` is one of them."""
        return self.joint.faults

    @property
    def plain_p(self) -> float:
        """Share of pieces without a fault that have a spot as unlike one: that of the spot least
        like it, times the number of spots."""
        return min(1.0, len(self.readings) * min(row.plain_p for row in self.readings))

    @property
    def converged(self) -> bool:
        """Whether two independent runs came to the same answer; if not, do not trust it."""
        return self.joint.converged

    @property
    def effective_draws(self) -> float:
        """Draws of equal weight that those kept are worth."""
        return self.joint.effective_draws

    @property
    def seed(self) -> int:
        """Seed of the sampler."""
        return self.joint.seed


def gauge_one_piece(
    film: str | Sequence[str],
    on: str,
    readings: Any,
    *,
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    conditions: ViewingConditions | str | None = None,
    finish: str | None = None,
    rising: bool = False,
    in_a_row: bool = False,
    seed: int = 1,
) -> PieceEstimate:
    """Spots of one piece gauged together, see `gauge_pairs`.

    Raises
    ------
    InputError
        If the readings are words, or were not all made in one way.
    """
    asked = FilmQuestion.of(film, on, between_nm=between_nm, conditions=conditions, finish=finish)
    question = replace(asked, finish=IDEAL)
    named = as_rows(readings)
    first = named[0][1]
    if any(reading.doubts != first.doubts for _, reading in named):
        raise InputError("spots of one piece must be read in one way, at one angle")
    if any(len(reading.weight) != 1 for _, reading in named):
        raise InputError("spots of one piece are hex values or L,a,b; a word is too wide for it")
    joint = gauge_pairs(
        question.models,
        np.concatenate([reading.points_lab for _, reading in named]),
        first.doubts,
        between_nm=question.between_nm,
        viewing=question.conditions,
        rising=rising,
        seed=seed,
        in_a_row=in_a_row,
        finish=asked.finish,
    )
    prior = make_prior(question, first.doubts.index_spread)
    shares = np.array([joint.films[name] for name in prior.film_names])
    rows = []
    for (name, reading), density in zip(named, joint.density, strict=True):
        curve = np.interp(prior.thickness_nm, joint.grid_nm, density)
        row = row_estimate(
            name,
            reading.text,
            grid_nm=prior.thickness_nm,
            density=curve,
            candidates=find_candidates(prior, shares[:, None] * curve, question.conditions),
            fit_p=fit_p_value(asked, [reading], seed),
            plain_p=fit_p_value(asked, [reading], seed, faultless=True),
        )
        rows.append(row)
    return PieceEstimate(rows, joint)
