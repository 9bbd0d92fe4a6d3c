"""Least squares of the misses of many designs at once, each from its own start."""

# The fit of spectra has a descent of its own (spectrum/search.py): its steps bend along a ridge,
# its curvature holds a prior, and it stops by a gain of log probability.

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from .merit import Merit

_FIRST, _LEAST, _MOST = 0.1, 1e-9, 1e9  # damping, in units of the diagonal
_EASED, _GOOD, _POOR = 0.15, 0.75, 0.25
_STILL_NM = 1e-7
_NOTHING = 1e-24  # of the squared merit


@dataclass(eq=False)
class Descents:
    """Designs of L layers on their way down, a row each.

    Attributes
    ----------
    which : ndarray of int, shape (B, L)
    thickness_nm, lower_nm, upper_nm : ndarray, shape (B, L)
        The best thicknesses so far, and their bounds.
    cost : ndarray, shape (B,)
        Squared merit; infinite until it is worked out.
    damping : ndarray, shape (B,)
    scale : ndarray, shape (B, L)
        Largest curvature seen in each layer.
    misses, slopes : ndarray, shape (B, n) and (B, n, L)
        Of the thicknesses, or of no misses before any are worked out.
    """

    which: IndexArray
    thickness_nm: FloatArray
    lower_nm: FloatArray
    upper_nm: FloatArray
    cost: FloatArray
    damping: FloatArray
    scale: FloatArray
    misses: FloatArray
    slopes: FloatArray

    @classmethod
    def begin(
        cls, which: IndexArray, thickness_nm: FloatArray, *, lower: FloatArray, upper: FloatArray
    ) -> Descents:
        """Designs of which nothing is worked out yet."""
        (count, layers), x = thickness_nm.shape, np.clip(thickness_nm, lower, upper)
        return cls(
            np.array(np.broadcast_to(which, x.shape)), x, lower, upper, np.full(count, np.inf),
            np.full(count, _FIRST), np.zeros_like(x), np.zeros((count, 0)),
            np.zeros((count, 0, layers)),
        )  # fmt: skip

    def keep(self, rows: BoolArray) -> Descents:
        """Some of the designs."""
        return Descents(*(getattr(self, one.name)[rows] for one in fields(self)))

    def renew(
        self, row: int, which: IndexArray, *, thickness_nm: FloatArray, lower: FloatArray,
        upper: FloatArray,
    ) -> None:  # fmt: skip
        """Another design in the place of one, made up with empty layers."""
        own, count = which.size, self.which.shape[1]
        for rows, values in (
            (self.which, which), (self.lower_nm, lower), (self.upper_nm, upper),
            (self.thickness_nm, np.minimum(np.maximum(thickness_nm, lower), upper)),
        ):  # fmt: skip
            rows[row, :own] = values
            if own < count:
                rows[row, own:] = 0
        self.cost[row], self.damping[row], self.scale[row] = np.inf, _FIRST, 0.0
        self.misses[row], self.slopes[row] = 0.0, 0.0

    def advance(self, merit: Merit, stop: float) -> BoolArray:
        """One step of every design; those that have settled, shape (B,).

        A step is kept where it lowers the merit; the first one of a design only works it out.
        """
        r, J, x, lower, upper = (
            self.misses, self.slopes, self.thickness_nm, self.lower_nm, self.upper_nm,
        )  # fmt: skip
        fresh = np.isinf(self.cost)
        full = J.astype(float, copy=False)  # of curvatures, single precision leaves too little
        g, H = (r[:, None] @ full)[:, 0], np.swapaxes(full, -1, -2) @ full
        self.scale = np.maximum(self.scale, np.diagonal(H, axis1=-2, axis2=-1))
        pressed = ((x <= lower) & (g > 0.0)) | ((x >= upper) & (g < 0.0))
        tried = np.clip(
            x + _damped_step(g, H, self.damping[:, None] * self.scale, pressed), lower, upper
        )
        step = tried - x
        foreseen = -(step * (2.0 * g + (H @ step[..., None])[..., 0])).sum(-1)
        r_new, J_new = merit.with_slopes(self.which, tried)
        cost = (r_new * r_new).sum(axis=-1)
        fall = self.cost - cost
        better = fall > 0.0
        ratio = np.where(fresh, 0.5, fall / np.maximum(foreseen, 1e-300))
        settled = (better & (fall <= stop * self.cost)) | (np.abs(step).max(-1) < _STILL_NM)
        self.thickness_nm = np.where(better[:, None], tried, x)
        self.cost = np.where(better, cost, self.cost)
        if better.all() or r.shape != r_new.shape:
            self.misses, self.slopes = r_new, J_new
        else:
            self.misses = np.where(better[:, None], r_new, r)
            self.slopes = np.where(better[:, None, None], J_new, J)
        self.damping *= np.where(ratio > _GOOD, _EASED, np.where(ratio < _POOR, 4.0, 1.0))
        self.damping = np.maximum(self.damping, _LEAST)
        stuck = (self.damping >= _MOST) | (self.cost <= _NOTHING)
        return np.asarray((settled & ~fresh) | stuck)


def descend(
    merit: Merit,
    which: IndexArray,
    thickness_nm: FloatArray,
    *,
    lower_nm: float | FloatArray,
    upper_nm: float | FloatArray,
    steps: int,
    stop: float,
) -> tuple[FloatArray, FloatArray]:
    """Thicknesses of least squares near those given, kept between bounds.

    Parameters
    ----------
    which : ndarray of int, shape (B, L)
        Media of the films of B designs.
    thickness_nm : ndarray, shape (B, L)
    lower_nm, upper_nm : float, or ndarray of shape (B, L)
    steps : int
        The most evaluations of misses and slopes.
    stop : float
        Relative fall of the squared merit below which a design has settled.

    Returns
    -------
    tuple of ndarray
        Thicknesses (B, L) and merits (B,).

    Notes
    -----
    Gauss and Newton's step damped after Levenberg and Marquardt in the layers that do not press
    against a bound, cut off at the bounds. All designs advance together; those that have settled
    drop out. Measured against one at a time: a third to an eighth of the time each.
    """
    lower, upper = (np.broadcast_to(b, thickness_nm.shape) for b in (lower_nm, upper_nm))
    x, cost = np.array(thickness_nm, dtype=float), np.full(len(thickness_nm), np.inf)
    at, going = np.arange(len(x)), Descents.begin(which, thickness_nm, lower=lower, upper=upper)
    for _ in range(steps):
        if not at.size:
            break
        settled = going.advance(merit, stop)
        x[at], cost[at] = going.thickness_nm, going.cost
        if settled.any():
            at, going = at[~settled], going.keep(~settled)
    return x, np.sqrt(cost)


def _damped_step(
    g: FloatArray, H: FloatArray, damping: FloatArray, pressed: BoolArray
) -> FloatArray:
    """``-(H + damping)⁻¹ g`` in the layers that are free, 0 in the others, shape (B, L)."""
    free = ~pressed
    A = np.where(free[:, :, None] & free[:, None, :], H, 0.0)
    i = np.arange(g.shape[-1])
    A[:, i, i] = np.where(free, A[:, i, i] + damping + 1e-300, 1.0)
    step: FloatArray = -np.linalg.solve(A, np.where(free, g, 0.0)[..., None])[..., 0]
    return step
