"""Readings that are spots of one piece in one photo, as estimates of each spot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...colour.conditions import ViewingConditions
from ...display import Displayed
from ...errors import InputError
from ...inference.likelihood import make_fit_check, table_for
from ...inference.posterior import prior_for
from ...inference.reading import Reading
from ..batch import RowEstimate, row_estimate
from ..gauge import DEFAULT_BETWEEN_NM, find_candidates
from .gauge import joint_gauge
from .result import JointEstimate


@dataclass(frozen=True, eq=False)
class PieceEstimate(Displayed):
    """What is held about the spots of one piece.

    Attributes
    ----------
    rows : list of RowEstimate
        In the order given.
    joint : JointEstimate
        What they share: exposure, white balance, glare, angle, index error, data sets.
    """

    rows: list[RowEstimate]
    joint: JointEstimate


def gauge_one_piece(
    films: Sequence[str],
    on: str,
    readings: Sequence[tuple[str, Reading]],
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    viewing: ViewingConditions | None = None,
    rising: bool = False,
    in_a_row: bool = False,
    seed: int = 1,
) -> PieceEstimate:
    """Spots of one piece gauged together, see `joint_gauge`.

    Raises
    ------
    InputError
        If the readings are words, or were not all made in one way.
    """
    first = readings[0][1]
    if any(reading.doubts != first.doubts for _, reading in readings):
        raise InputError("spots of one piece must be read in one way, at one angle")
    if any(len(reading.weight) != 1 for _, reading in readings):
        raise InputError("spots of one piece are hex values or L,a,b; a word is too wide for it")
    viewing = viewing or ViewingConditions()
    lab = np.concatenate([reading.points_lab for _, reading in readings])
    joint = joint_gauge(
        films, on, lab, first.doubts, between_nm, viewing, rising, seed, in_a_row=in_a_row
    )
    table = table_for(tuple(films), on, between_nm, first.doubts, viewing)
    prior = prior_for(joint.pairs, between_nm, table)
    looks = ((first.doubts, first.view),)
    check = make_fit_check(tuple(films), on, looks, between_nm, viewing, seed)
    shares = np.array([joint.films[name] for name in prior.film_names])
    rows = []
    for (name, reading), density in zip(readings, joint.density, strict=True):
        curve = np.interp(prior.thickness_nm, joint.grid_nm, density)
        candidates = find_candidates(prior, shares[:, None] * curve, viewing)
        fit_p = check.p_value([(reading.points_lab, reading.weight)])
        rows.append(row_estimate(name, reading.text, prior.thickness_nm, curve, candidates, fit_p))
    return PieceEstimate(rows, joint)
