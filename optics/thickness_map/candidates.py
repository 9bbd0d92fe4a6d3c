"""Candidates of every colour of a picture, from the posterior at the nodes it lies between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._typing import SingleArray
from ..inference.binned import BinnedPosterior
from .cells import APART, COLOURS, COLOURS_AT_ONCE, Corners, Index

_LEAST_PROBABILITY = 0.01
_PER_NM = 128  # steps: finer digits say nothing, and would make the files half as large again


@dataclass(frozen=True, eq=False)
class Candidates:
    """Candidates by colour, K each; colours that do not fit share the first row, without any.

    Attributes
    ----------
    place : ndarray of int32, shape (colours there can be,)
        From colour to row.
    middle : ndarray of float32, shape (K, rows)
        [nm], infinite where there is none.
    points : ndarray of float32, shape (rows, K, 4)
        Middle, lower and upper end [nm], NaN where there is none, and the negative log probability.
    """

    place: Index
    middle: SingleArray
    points: SingleArray

    @classmethod
    def of(cls, colours: Index, corners: Corners, posterior: BinnedPosterior) -> Candidates:
        """Candidates of colours (C,) from the posterior of the nodes they lie between."""
        count = posterior.probability.shape[1]
        none = np.zeros((1, count, 3), dtype=np.float32)
        kept, held = [], [_points(none, none[:, :, 0])]
        for start in range(0, colours.size, COLOURS_AT_ONCE):
            some = slice(start, start + COLOURS_AT_ONCE)
            share = corners.share[some] * np.float32(1.0 / APART)
            each = _run_between(posterior, corners.near[some], share)
            fitting = np.flatnonzero(each.fits)
            kept.append(colours[some][fitting])
            held.append(_points(each.thickness_nm[fitting], each.probability[fitting]))
        points = np.concatenate(held)
        place = np.zeros(COLOURS, dtype=np.int32)  # memory that no colour reaches costs nothing
        place[np.concatenate(kept)] = np.arange(1, len(points), dtype=np.int32)
        middle = np.ascontiguousarray(points[:, :, 0].T)
        middle[np.isnan(middle)] = np.inf
        return cls(place, middle, points)

    def nearest(self, colours: Index, wanted_nm: SingleArray) -> SingleArray:
        """Points (..., 4) of the candidate of each colour that lies nearest to what is wanted."""
        row = self.place.take(colours)
        chosen = np.zeros(row.shape, dtype=np.int32)
        away = np.abs(self.middle[0].take(row) - wanted_nm)
        for k in range(1, len(self.middle)):
            other = self.middle[k].take(row)
            other -= wanted_nm
            np.abs(other, out=other)
            np.copyto(chosen, k, where=other < away)
            np.minimum(away, other, out=away)
        row *= len(self.middle)
        row += chosen
        # The four are one item of 16 bytes to numpy, which reaches for each once.
        found = self.points.reshape(-1).view(np.complex128).take(row)
        return found.view(np.float32).reshape(*row.shape, 4)


def _points(thickness_nm: SingleArray, probability: SingleArray) -> SingleArray:
    """Points (C, K, 4) of 5, 50 and 95 % points (C, K, 3); what is improbable is none."""
    points = np.full((*probability.shape, 4), np.nan, dtype=np.float32)
    points[..., 3] = np.inf
    some = probability > _LEAST_PROBABILITY
    points[some, :3] = np.round(thickness_nm[some][:, [1, 0, 2]] * _PER_NM) / _PER_NM
    points[some, 3] = -np.log(probability[some])
    return points


def _run_between(posterior: BinnedPosterior, near: Index, share: SingleArray) -> BinnedPosterior:
    """The posterior of colours by their shares (C, 4) in those of their nodes, the nearest first.

    A candidate runs on to a node where its middle lies within the interval it has at the nearest;
    a middle elsewhere is another hump's, and the candidate keeps what it has at the nearest.
    """
    nearest = posterior.thickness_nm[near[:, 0]]
    nm = nearest.copy()
    low, _, high = np.moveaxis(nearest, 2, 0)
    for node, part in zip(near.T[1:], share.T[1:], strict=True):
        other = posterior.thickness_nm[node]
        same = (low <= other[:, :, 1]) & (other[:, :, 1] <= high)
        nm += np.where(same[:, :, None], part[:, None, None] * (other - nearest), np.float32(0.0))
    probability = np.einsum("cn,cnk->ck", share, posterior.probability[near])
    fits = np.einsum("cn,cn->c", share, posterior.fits[near].astype(np.float32)) > 0.5
    return BinnedPosterior(nm, probability, fits)
