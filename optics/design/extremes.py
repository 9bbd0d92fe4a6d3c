"""Where a finished design is at its worst between all grids: narrow resonances are followed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .._typing import FloatArray, IndexArray
from ..numerics.integrate import trapezoid
from .goal_terms import Term, make_term
from .goals import Goal
from .merit import GoalResult, Merit
from .observation import GoalObservation
from .phase_observation import observe_goal

_POINTS_PER_FRINGE = 600  # fringes of the whole design, λ² / 2Σnd apart
_FEWEST, _MOST = 201, 20_001
_FOLLOWED = 300  # turning points followed at one angle, the worst first
_ZOOM = 11  # points laid into the bracket of a turning point at a time
_SURE, _ROUNDS = 3, 9  # rounds of closing in, at least and at most
_SETTLED = 1e-4  # percent points


@dataclass(frozen=True, eq=False)
class Extremes:
    """What a goal on every wavelength of a band reads at the turning points of the spectrum.

    Attributes
    ----------
    wavelength_nm, percent : ndarray, shape (n,)
        Turning points and ends of the band, at all angles.
    mean : float
        Over the band and the angles [%].
    """

    wavelength_nm: FloatArray
    percent: FloatArray
    mean: float

    def failing_nm(self, goal: Goal) -> FloatArray:
        """Wavelengths [nm] at which a goal is missed."""
        return self.wavelength_nm[miss_of(goal, self.percent) > goal.allowed_miss]


def miss_of(goal: Goal, percent: FloatArray) -> FloatArray:
    """How far readings are from what a goal asks [percent points, ° or fs]."""
    gap = percent - goal.wanted
    if goal.relation == "=":
        return np.abs(gap)
    return np.asarray(np.maximum(-gap if goal.relation == ">" else gap, 0.0))


def check_goals(
    merit: Merit, which: IndexArray, thickness_nm: FloatArray
) -> tuple[GoalResult, ...]:
    """What one design does about every goal, the worst point found to 0.01 percent points.

    Notes
    -----
    A goal on every wavelength of a band is computed on a grid by the optical path of the design,
    and every turning point is followed into its bracket until it stands still. A resonance shows
    far outside its width, since its flanks fall with the square of the distance, so that one much
    narrower than the grid is found too. Means and colours are as smooth as their weights, and are
    taken on the grid of ``merit``.
    """
    found = list(merit.results(which, thickness_nm))
    for g, seen in enumerate(find_extremes(merit, which, thickness_nm)):
        if seen is None:
            continue
        goal, old = merit.goals[g], found[g]
        least, most = float(seen.percent.min()), float(seen.percent.max())
        miss = float(miss_of(goal, seen.percent).max())
        spare = {
            ">": least - goal.wanted,
            "<": goal.wanted - most,
            "=": goal.allowed_miss - miss,
        }[goal.relation]
        met = miss <= goal.allowed_miss + 1e-9
        found[g] = replace(
            old, met=met, miss=miss, spare=spare, least=least, most=most, mean=seen.mean
        )
    return tuple(found)


def find_extremes(
    merit: Merit, which: IndexArray, thickness_nm: FloatArray
) -> list[Extremes | None]:
    """The turning points for each goal; None for one figure, one wavelength or a colour."""
    found: list[Extremes | None] = []
    for i, term in merit.terms:
        low, high = term.goal.span_nm
        if term.is_summed or low == high:
            found.append(None)
        else:
            found.append(_follow(merit, merit.sights[i], term, which, thickness_nm))
    return found


def _follow(
    merit: Merit, sight: GoalObservation, term: Term, which: IndexArray, nm: FloatArray
) -> Extremes:
    grid = _grid(sight, term.goal, which, nm)
    places, readings, means = [], [], []
    for angle in sight.angle_deg:
        reader = _Reader(merit, sight, term, which, nm, float(angle))
        read = reader.read(grid)
        means.append(float(trapezoid(read, grid) / (grid[-1] - grid[0])))
        for sign in (1.0, -1.0):
            at, value = _zoom(reader, grid, sign * read, sign)
            places.append(at)
            readings.append(sign * value)
    return Extremes(np.concatenate(places), np.concatenate(readings), float(np.mean(means)))


@dataclass(frozen=True, eq=False)
class _Reader:
    """One design at one angle, read at any wavelengths."""

    merit: Merit
    sight: GoalObservation
    term: Term
    which: IndexArray
    thickness_nm: FloatArray
    angle_deg: float

    def read(self, wavelength_nm: FloatArray) -> FloatArray:
        """Percent at each wavelength, shape (W,)."""
        merit, goal = self.merit, self.term.goal
        at = observe_goal(
            goal, merit.base, merit.palette, wavelength_nm=wavelength_nm,
            angle_deg=self.angle_deg, cover=merit.cover,
        )  # fmt: skip
        term = make_term(goal, wavelength_nm, self.term.opaque)
        return term.readings(at.powers(at.index(self.which), self.thickness_nm))


def _grid(sight: GoalObservation, goal: Goal, which: IndexArray, nm: FloatArray) -> FloatArray:
    """Wavelengths even in wavenumber, so many to each fringe of the whole design."""
    low, high = goal.span_nm
    path_nm = float((sight.rows[which].real.max(axis=-1) * nm).sum())
    fringes = 2.0 * path_nm * (1.0 / low - 1.0 / high)  # m = 2 Σnd / λ at one end less the other
    count = int(np.clip(_POINTS_PER_FRINGE * fringes, _FEWEST, _MOST))
    grid: FloatArray = 1.0 / np.linspace(1.0 / low, 1.0 / high, count)
    grid[[0, -1]] = low, high
    return grid


def _zoom(
    reader: _Reader, grid: FloatArray, read: FloatArray, sign: float
) -> tuple[FloatArray, FloatArray]:
    """Places and values of the minima of ``sign`` times the reading, ends of the band included."""
    inner = np.flatnonzero((read[1:-1] <= read[:-2]) & (read[1:-1] < read[2:])) + 1
    inner = inner[np.argsort(read[inner], kind="stable")][:_FOLLOWED]
    at, value = grid[inner], read[inner]
    left, right = grid[inner - 1], grid[inner + 1]
    for turn in range(_ROUNDS if inner.size else 0):
        share = np.linspace(0.0, 1.0, _ZOOM)
        places = left[:, None] + share * (right - left)[:, None]  # (B, Z)
        values = sign * reader.read(places.ravel()).reshape(places.shape)
        best = np.argmin(values, axis=1)
        rows = np.arange(best.size)
        fall = float((value - values[rows, best]).max())
        at, value = places[rows, best], np.minimum(values[rows, best], value)
        left = places[rows, np.maximum(best - 1, 0)]
        right = places[rows, np.minimum(best + 1, _ZOOM - 1)]
        if turn >= _SURE and fall < _SETTLED:
            break
    ends = [0, -1]
    return np.append(at, grid[ends]), np.append(value, read[ends])
