"""Least squares of the misses of many designs at once, each from its own start."""

# The fit of spectra has a descent of its own (spectrum/search.py): its steps bend along a ridge,
# its curvature holds a prior, and it stops by a gain of log probability.

from __future__ import annotations

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from .merit import Merit

_FIRST, _LEAST, _MOST = 0.1, 1e-9, 1e9  # damping, in units of the diagonal
_EASED, _GOOD, _POOR = 0.15, 0.75, 0.25
_STILL_NM = 1e-7


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
    x: FloatArray = np.clip(thickness_nm, lower, upper)
    r, J = merit.with_slopes(which, x)
    cost = (r * r).sum(axis=-1)
    damping, scale = np.full(len(x), _FIRST), np.zeros_like(x)
    at = np.flatnonzero(cost > 0.0)
    r, J = r[at], J[at]
    for _ in range(steps - 1):
        if not at.size:
            break
        g, H = np.einsum("bnl,bn->bl", J, r), np.swapaxes(J, -1, -2) @ J
        scale[at] = np.maximum(scale[at], np.diagonal(H, axis1=-2, axis2=-1))
        pressed = ((x[at] <= lower[at]) & (g > 0.0)) | ((x[at] >= upper[at]) & (g < 0.0))
        step = _damped_step(g, H, damping[at, None] * scale[at], pressed)
        tried = np.clip(x[at] + step, lower[at], upper[at])
        step = tried - x[at]
        foreseen = -(2.0 * (g * step).sum(-1) + np.einsum("bi,bij,bj->b", step, H, step))
        r_new, J_new = merit.with_slopes(which[at], tried)
        fall = cost[at] - (r_new * r_new).sum(axis=-1)
        better = fall > 0.0
        ratio = fall / np.maximum(foreseen, 1e-300)
        settled = (better & (fall <= stop * cost[at])) | (np.abs(step).max(-1) < _STILL_NM)
        x[at[better]] = tried[better]
        cost[at] -= np.where(better, fall, 0.0)
        r, J = np.where(better[:, None], r_new, r), np.where(better[:, None, None], J_new, J)
        damping[at] *= np.where(ratio > _GOOD, _EASED, np.where(ratio < _POOR, 4.0, 1.0))
        damping[at] = np.maximum(damping[at], _LEAST)
        stay = ~settled & (damping[at] < _MOST) & (cost[at] > 1e-24)
        at, r, J = at[stay], r[stay], J[stay]
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
