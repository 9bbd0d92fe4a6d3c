"""How thick a layer came out, from what the witness shows after it: light, a colour, a spectrum."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..._typing import FloatArray
from ...design.goal_reader import parse_goal
from ...design.goal_terms import make_term
from ...design.goals import READ_WHOLE, Goal
from ...design.observation import Powers
from ...errors import InputError, NotationError
from ...files.spectrum import Spectrum, read_spectrum
from ...films.materials.medium import Medium
from ...films.solve import Side, solve
from ...films.stack import Layer, Stack
from ..witness import add_layer

SPECTRUM_FILES = (".csv", ".txt")
_PRIOR = 0.2  # standard deviation of a layer about its plan, in shares of it: common practice
_POINTS = 1201
_REACH = 0.75  # of the planned thickness, looked at either way
_SECOND = 0.05  # probability from which another thickness must be ruled out
_WORST = 16.0  # squared misses in doubts beyond which nothing fits: four standard deviations
_SPECTRUM_READINGS = 5.0  # independent ones that a spectrum counts as: it errs as a whole
_SPECTRUM_SD = 0.01  # of R or T, where a spectrum states no doubt: common practice


@dataclass(frozen=True, eq=False)
class WitnessReading:
    """What the witness showed after a layer.

    Attributes
    ----------
    text : str
    goals : tuple of Goal
        Readings, written as targets.
    spectrum : Spectrum or None
    """

    text: str
    goals: tuple[Goal, ...] = ()
    spectrum: Spectrum | None = None


def parse_witness_reading(text: str) -> WitnessReading:
    """Read ``R=41% 532nm within 2%``, ``colour purple``, several with ';' between, or a spectrum.

    A text that ends in ``.csv`` or ``.txt`` is the file of a spectrum.

    Raises
    ------
    InputError
        If a part is no target.
    """
    if text.lower().endswith(SPECTRUM_FILES):
        return WitnessReading(text, spectrum=read_spectrum(text))
    goals = []
    for part in text.split(";"):
        try:
            goal = parse_goal(part.strip())
        except NotationError as error:
            raise InputError(f"in the reading {text!r:.80}: {error}") from error
        if goal.relation != "=" or goal.quantity in ("emittance", *READ_WHOLE):
            raise InputError(
                f"the reading {part.strip()!r:.60} must say what was read, such as "
                f"'R=41% 532nm within 2%' or 'colour purple'"
            )
        goals.append(goal)
    return WitnessReading(text, tuple(goals))


def estimate_thickness(
    laid: Stack, medium: Medium, planned_nm: float, *, reading: WitnessReading, back: bool = False
) -> tuple[float, tuple[float, float]]:
    """Thickness [nm] of the outermost layer, and the interval that holds it with 90 %.

    Parameters
    ----------
    laid : Stack
        The witness with all layers before.
    planned_nm : float
        A layer is taken to come out within 20 % of it, as a standard deviation.

    Raises
    ------
    InputError
        If nothing near the plan fits the reading, or several thicknesses do.
    """
    grid = planned_nm * np.linspace(1.0 - _REACH, 1.0 + _REACH, _POINTS)
    seen = add_layer(laid, Layer(medium, grid, 0), back)
    misfit = _misfit(seen.reverse() if back else seen, reading)
    if not misfit.min() < _WORST:
        raise InputError(
            f"no thickness near {planned_nm:.0f} nm of {medium.label} shows {reading.text!r:.60}: "
            f"it misses by {np.sqrt(misfit.min()):.1f} times the doubt of the reading; check the "
            f"layers below and the witness"
        )
    # log probability: -½ Σ (misses / doubts)² - ½ ((d - planned) / (0.2 planned))²
    log_p = -0.5 * misfit - 0.5 * ((grid / planned_nm - 1.0) / _PRIOR) ** 2
    p = np.exp(log_p - log_p.max())
    p /= p.sum()
    _check_single(grid, p, reading.text)
    cumulated = np.cumsum(p)
    low, high = (float(np.interp(q, cumulated, grid)) for q in (0.05, 0.95))
    return float(grid @ p), (low, high)


def _misfit(stack: Stack, reading: WitnessReading) -> FloatArray:
    """Sum of squared misses over their doubts for each thickness of the sweep, shape (n,)."""
    whole = np.zeros(stack.sweep_shape)
    for goal in reading.goals:
        whole = whole + _goal_misfit(stack, goal)
    if reading.spectrum is not None:
        whole = whole + _spectrum_misfit(stack, reading.spectrum)
    return whole


def _goal_misfit(stack: Stack, goal: Goal) -> FloatArray:
    low, high = goal.span_nm
    grid = np.array([low]) if low == high else np.linspace(low, high, 81)
    angle = float(np.mean(goal.angles_deg))
    side: Side = "back" if goal.view == "back" else "front"
    if goal.polarization == "mean":
        powers = solve(stack, grid, angle, side=side)
    else:
        powers = solve(stack, grid, angle, side=side, polarization=goal.polarization)
    term = make_term(goal, grid, stack.is_opaque(grid))
    # one angle: R and T of shape (n, 1, W)
    read = term.readings(Powers(powers.R[:, None], powers.T[:, None]))
    off = np.maximum(read - term.slack, 0.0)
    gap = off if goal.quantity == "colour" else read - goal.percent
    return np.asarray(((gap / goal.allowed_miss) ** 2).mean(axis=-1))


def _spectrum_misfit(stack: Stack, spectrum: Spectrum) -> FloatArray:
    powers = solve(stack, spectrum.wavelength_nm)
    seen = powers.T if spectrum.kind == "transmittance" else powers.R
    gap = (seen - spectrum.value) / _SPECTRUM_SD
    return np.asarray(_SPECTRUM_READINGS * (gap**2).mean(axis=-1))


def _check_single(grid: FloatArray, p: FloatArray, text: str) -> None:
    """Refuse a posterior of several separate thicknesses."""
    floor = 0.02 * p.max()
    inside = np.concatenate([[False], p > floor, [False]])
    starts, ends = (np.flatnonzero(np.diff(inside.astype(int)) == way) for way in (1, -1))
    likely = [
        float(grid[a:b] @ p[a:b] / p[a:b].sum())
        for a, b in zip(starts, ends, strict=True)
        if p[a:b].sum() >= _SECOND
    ]
    if len(likely) > 1:
        several = ", ".join(f"{one:.0f} nm" for one in likely)
        raise InputError(
            f"the reading {text!r:.60} fits several thicknesses ({several}); read at another "
            f"wavelength as well, or write the one it is"
        )
