"""The least of a smooth function of some tens of numbers between bounds, from its slopes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .._typing import BoolArray, FloatArray

Function = Callable[[FloatArray], tuple[float, FloatArray]]

_ENOUGH, _HALVINGS = 1e-4, 30  # share of the fall foreseen that a step must bring; shorter steps
_BENT = 1e-10  # least curvature along a step, of what steps and slopes could have, to be learnt


@dataclass(frozen=True, eq=False)
class _Place:
    """Numbers (N,), the function there, and its slopes (N,)."""

    x: FloatArray
    value: float
    slope: FloatArray


def minimise_between(
    function: Function,
    start: FloatArray,
    *,
    lower: FloatArray,
    upper: FloatArray,
    steps: int,
    stride: float,
    still: float,
) -> FloatArray:
    """Where a function is least, near a start.

    Parameters
    ----------
    function : callable
        Of numbers (N,): the value, and its slopes (N,).
    start, lower, upper : ndarray, shape (N,)
    steps : int
        The most steps.
    stride : float
        How far a step may move any number, so that it stays in the valley it starts in.
    still : float
        It ends where a step promises, or two after each other bring, less than this of the value,
        or of 1.

    Notes
    -----
    Quasi-Newton with the curvature learnt from the slopes (Broyden, Fletcher, Goldfarb and Shanno)
    in the numbers that do not press against a bound, steps cut off at the bounds (D. P. Bertsekas,
    SIAM J. Control Optim. 20, 221 (1982), doi:10.1137/0320018). Own, since importing the library
    that has such a search takes longer than the search.
    """
    x = np.clip(start, lower, upper)
    value, slope = function(x)
    curvature, quiet = np.diag(np.full(x.size, max(float(np.abs(slope).max()), 1e-300))), 0
    known = False
    for _ in range(steps):
        free = ~(((x <= lower) & (slope >= 0.0)) | ((x >= upper) & (slope <= 0.0)))
        if not free.any():
            break
        step = _newton_step(slope, curvature, free)
        if not slope @ step < 0.0:
            curvature, known = np.diag(np.full(x.size, float(np.abs(slope).max()))), False
            step = np.where(free, -slope / float(np.abs(slope[free]).max() or 1.0), 0.0)
        if -float(slope @ step) <= still * max(abs(value), 1.0):
            break
        step *= min(1.0, stride / float(np.abs(step).max()))
        found = _shorten(function, _Place(x, value, slope), step, lower=lower, upper=upper)
        if found is None:
            break
        curvature, known = _learn(curvature, found.x - x, found.slope - slope, known=known)
        little = still * max(abs(value), abs(found.value), 1.0)
        quiet = quiet + 1 if value - found.value <= little else 0
        x, value, slope = found.x, found.value, found.slope
        if quiet == 2:
            break
    return x


def _newton_step(slope: FloatArray, curvature: FloatArray, free: BoolArray) -> FloatArray:
    """Towards the least of the parabola in the numbers that are free."""
    step = np.zeros_like(slope)
    step[free] = -np.linalg.solve(curvature[np.ix_(free, free)], slope[free])
    return step


def _shorten(
    function: Function, at: _Place, step: FloatArray, *, lower: FloatArray, upper: FloatArray
) -> _Place | None:
    """Where the longest of the step, its half, its quarter ... leads that brings enough; None if
    none does."""
    for halving in range(_HALVINGS):
        x = np.clip(at.x + step * 0.5**halving, lower, upper)
        value, slope = function(x)
        if value < at.value and value <= at.value + _ENOUGH * float(at.slope @ (x - at.x)):
            return _Place(x, value, slope)
    return None


def _learn(
    curvature: FloatArray, moved: FloatArray, turned: FloatArray, *, known: bool
) -> tuple[FloatArray, bool]:
    """The curvature with what one step told of it; the first sets the scale."""
    bent = float(moved @ turned)
    if not bent > _BENT * float(np.linalg.norm(moved) * np.linalg.norm(turned)):
        return curvature, known
    if not known:
        curvature = np.eye(moved.size) * float(turned @ turned) / bent
    along = curvature @ moved
    curvature = curvature - np.outer(along, along) / float(moved @ along)
    return curvature + np.outer(turned, turned) / bent, True
