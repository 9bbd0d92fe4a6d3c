"""How far designs miss their goals, with the slope of every miss to every thickness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .._typing import FloatArray, IndexArray
from ..errors import InputError, LimitError, OutOfRangeError
from ..films.materials.medium import Medium
from ..films.spectra import Asked
from ..films.stack import Layer, Stack
from ..result import Hidden
from .bundle import Bundle, bundle_sights, look_at_all
from .data_reach import warm_base
from .goal_terms import Term, angles_of, grid_of, make_term
from .goals import READ_WHOLE, Goal
from .observation import GoalObservation, Powers
from .phase_observation import observe_goal

MAX_GOALS = 40
_MAX_POINTS = 40_000  # wavelengths × angles of all goals
_TOTAL_SCALE_NM = 1.0  # a nanometre over the total thickness counts as a miss of one percent point


@dataclass(frozen=True)
class GoalResult:
    """What one design does about one goal.

    Attributes
    ----------
    goal : str
    met : bool
    miss : float
        The worst miss over band and angles [percent points, ΔE for a colour, ° or fs].
    spare : float
        How far it is from being missed, in the same unit; below 0 if it is.
    used : float, not in the JSON
        The largest share of what it allows that is used up [-].
    least, mean, most : float
        Of what the goal is about [%, ° or fs], or distances from the target colour [ΔE].
    unit : str
    """

    goal: str
    met: bool
    miss: float
    spare: float
    used: Hidden[float]
    least: float
    mean: float
    most: float
    unit: str


@dataclass(frozen=True, eq=False)
class Merit:
    """Goals for designs on a base out of a palette of media.

    Attributes
    ----------
    base : Stack
    palette : tuple of Medium
    goals : tuple of Goal
    sights : tuple of GoalObservation
        The ways of looking the goals need, each once.
    terms : tuple of (int, Term)
        Each goal with the observation it needs.
    density : int
        How many times finer than the least the grids are.
    total_nm : float or None
        The most all films of the design may measure together.
    layers : int
        The most films, by which the grids are spaced.
    extra_nm : tuple of tuple of float
        Wavelengths added to the grid of each goal, or nothing.
    cover : tuple of Layer
        Films above those of every design.
    is_rough : bool
        Whether colours are on the grids of a search.
    is_single : bool
        Whether light is computed in single precision, which does where designs are compared, but
        leaves a design that nearly meets its goals stuck.

    Notes
    -----
    The merit is the root mean square miss in percent points: ``√(Σ w_g mean(miss²) / Σ w_g)``. A
    difference of colour of 1 ΔE (CIELAB), a degree of phase and a femtosecond count as one point.
    It is 0 when all bounds are met.
    """

    base: Stack
    palette: tuple[Medium, ...]
    goals: tuple[Goal, ...]
    sights: tuple[GoalObservation, ...]
    terms: tuple[tuple[int, Term], ...]
    density: int
    total_nm: float | None = None
    layers: int = 1
    extra_nm: tuple[tuple[float, ...], ...] = ()
    cover: tuple[Layer, ...] = ()
    is_rough: bool = False
    is_single: bool = False

    @property
    def can_be_zero(self) -> bool:
        """Whether a design can meet all goals: a target without a stated ``within`` is only neared.

        One at a single wavelength can be hit, but hardly ever is one of 0 % over a band.
        """
        return all(
            goal.relation != "=" or goal.within is not None or goal.span_nm[0] == goal.span_nm[1]
            for goal in self.goals
        )

    def value(self, which: IndexArray, thickness_nm: FloatArray) -> float:
        """Root mean square miss of one design [percent points]."""
        return float(np.sqrt((self.residuals(which, thickness_nm) ** 2).sum()))

    def values(self, which: IndexArray, thickness_nm: FloatArray) -> FloatArray:
        """The same of designs of one order of media, thickness (..., L), to shape (...)."""
        merit: FloatArray = np.sqrt((self.residuals(which, thickness_nm) ** 2).sum(axis=-1))
        return merit

    def residuals(
        self, which: IndexArray, thickness_nm: FloatArray, index_error: FloatArray | None = None
    ) -> FloatArray:
        """Scaled misses, shape (..., n), whose squares add up to the merit's."""
        seen = (
            look_at_all(self._bundles, which, thickness_nm)
            if index_error is None
            else [s.powers(s.index(which, index_error), thickness_nm) for s in self.sights]
        )
        parts = [scale * term.misses(seen[i]) for (i, term), scale in self._scaled]
        if self.total_nm is not None:
            parts.append(self._excess(thickness_nm)[..., None])
        return np.concatenate(parts, axis=-1)

    def with_slopes(
        self, which: IndexArray, thickness_nm: FloatArray, index_error: FloatArray | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Residuals (..., n) and their derivatives to the thicknesses (..., n, L)."""
        seen = self._gradients(which, thickness_nm, index_error)
        scaled = self._scaled
        parts = [scale * term.misses(seen[i]) for (i, term), scale in scaled]
        slopes = [term.slopes(seen[i], scale) for (i, term), scale in scaled]
        if self.total_nm is not None:
            excess = self._excess(thickness_nm)
            parts.append(excess[..., None])
            slope = (excess > 0.0)[..., None, None] / _TOTAL_SCALE_NM
            slopes.append(slope * np.ones((1, thickness_nm.shape[-1])))
        if len(parts) == 1:
            return parts[0], slopes[0]
        return np.concatenate(parts, axis=-1), np.concatenate(slopes, axis=-2)

    def worst(
        self,
        which: IndexArray,
        thickness_nm: FloatArray,
        *,
        index_error: FloatArray | None = None,
        tilt_deg: FloatArray | None = None,
    ) -> FloatArray:
        """Worst miss of every goal [percent points or ΔE], shape (..., goals)."""
        seen = [s.powers(s.index(which, index_error), thickness_nm, tilt_deg) for s in self.sights]
        return np.stack([term.worst(seen[i]) for i, term in self.terms], axis=-1)

    def margins(self, which: IndexArray, thickness_nm: FloatArray) -> FloatArray:
        """How far every goal is from being missed, shape (..., goals)."""
        seen = [s.powers(s.index(which), thickness_nm) for s in self.sights]
        return np.stack([term.margin(seen[i]) for i, term in self.terms], axis=-1)

    @property
    def allowed(self) -> FloatArray:
        """The worst miss with which each goal still counts as met, shape (goals,)."""
        return np.array([term.goal.allowed_miss for _, term in self.terms]) + 1e-9

    def results(self, which: IndexArray, thickness_nm: FloatArray) -> tuple[GoalResult, ...]:
        """What one design does about every goal."""
        seen = [s.powers(s.index(which), thickness_nm) for s in self.sights]
        found = []
        for i, term in self.terms:
            read, miss = term.readings(seen[i]), float(term.worst(seen[i]))
            met = miss <= term.goal.allowed_miss + 1e-9
            found.append(
                GoalResult(
                    str(term.goal), met, miss, float(term.margin(seen[i])),
                    float(term.used_share(seen[i]).max()),
                    float(read.min()), float(read.mean()), float(read.max()), term.goal.unit,
                )
            )  # fmt: skip
        return tuple(found)

    def with_denser_grids(self, times: int) -> Merit:
        """The same goals on grids that many times finer."""
        return make_merit(
            self.base, self.palette, self.goals, density=self.density * times,
            total_nm=self.total_nm, layers=self.layers, extra_nm=self.extra_nm, cover=self.cover,
        )  # fmt: skip

    def for_layers(self, layers: int, *, is_rough: bool = False) -> Merit:
        """The same goals on the grids that designs of up to so many layers need.

        Rough ones do for a search, which looks at colours on fewer wavelengths.
        """
        if (layers, is_rough) == (self.layers, self.is_rough):
            return self
        return make_merit(
            self.base, self.palette, self.goals, density=self.density,
            total_nm=self.total_nm, layers=layers, extra_nm=self.extra_nm, cover=self.cover,
            is_rough=is_rough,
        )  # fmt: skip

    @cached_property
    def in_single(self) -> Merit:
        """The same in single precision."""
        return replace(self, is_single=True)

    def with_more_points(self, extra_nm: Sequence[FloatArray]) -> Merit:
        """The same goals, each at some more wavelengths."""
        before = self.extra_nm or ((),) * len(self.goals)
        added = tuple((*old, *new.tolist()) for old, new in zip(before, extra_nm, strict=True))
        return make_merit(
            self.base, self.palette, self.goals, density=self.density,
            total_nm=self.total_nm, layers=self.layers, extra_nm=added, cover=self.cover,
        )  # fmt: skip

    def used_with_slopes(
        self, which: IndexArray, thickness_nm: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Shares of what is allowed that are used up (n,), slopes (n, L), and weights (n,).

        The weights add up to 1. The total thickness is not among them.
        """
        seen = self._gradients(which, thickness_nm)
        used, slopes, weights = [], [], []
        whole = sum(goal.weight for goal in self.goals)
        for i, term in self.terms:
            used.append(term.used_share(seen[i]))
            slopes.append(term.used_share_slopes(seen[i]))
            count = used[-1].size
            weights.append(np.full(count, term.goal.weight / whole / count))
        return np.concatenate(used), np.concatenate(slopes), np.concatenate(weights)

    def _gradients(
        self, which: IndexArray, thickness_nm: FloatArray, index_error: FloatArray | None = None
    ) -> list[Powers]:
        """What every sight sees, with the derivatives that its goals speak of."""
        if index_error is None:
            return look_at_all(self._bundles, which, thickness_nm, asked=self._powers_asked)
        return [
            sight.gradient(sight.index(which, index_error), thickness_nm, of)
            for sight, of in zip(self.sights, self._powers_asked, strict=True)
        ]

    @cached_property
    def _powers_asked(self) -> tuple[Asked, ...]:
        """The powers that the goals of every sight speak of."""
        spoken = [
            {term.about for at, term in self.terms if at == i} for i in range(len(self.sights))
        ]
        return tuple(one.pop() if len(one) == 1 else "RT" for one in spoken)

    @cached_property
    def _bundles(self) -> tuple[Bundle, ...]:
        """The sights, those of the same directions looked at together."""
        return bundle_sights(self.sights, self._powers_asked, is_single=self.is_single)

    @cached_property
    def _scaled(self) -> Sequence[tuple[tuple[int, Term], float]]:
        whole = sum(goal.weight for goal in self.goals)
        found = []
        for i, term in self.terms:
            sight = self.sights[i]
            points = sight.angle_deg.size * (1 if term.is_summed else sight.wavelength_nm.size)
            found.append(((i, term), float(np.sqrt(term.goal.weight / whole / points))))
        return found

    def _excess(self, thickness_nm: FloatArray) -> FloatArray:
        assert self.total_nm is not None
        over = np.maximum(thickness_nm.sum(axis=-1) - self.total_nm, 0.0) / _TOTAL_SCALE_NM
        return np.asarray(over, dtype=float)


def make_merit(
    base: Stack,
    palette: Sequence[Medium],
    goals: Sequence[Goal],
    *,
    density: int = 1,
    total_nm: float | None = None,
    layers: int = 1,
    extra_nm: Sequence[Sequence[float]] = (),
    cover: tuple[Layer, ...] = (),
    is_rough: bool = False,
) -> Merit:
    """Make goals ready to be computed.

    Parameters
    ----------
    base : Stack
        What the films are deposited on: a substrate, perhaps a slab with a far face, perhaps with
        films on it already.
    palette : sequence of Medium
        What the films may be made of.
    density : int
        1 for grids of 8 nm in the visible, or less for many layers; more for finer ones.
    layers : int
        The most films a design may have.
    extra_nm : sequence of sequence of float
        For each goal, wavelengths [nm] to be looked at as well.
    cover : tuple of Layer
        Films above those of every design, from the light inward: a protective layer.
    is_rough : bool
        Whether colours are looked at on fewer wavelengths, as a search does.

    Raises
    ------
    InputError, LimitError, OutOfRangeError
        If there is no goal or no material, the goals are too many or too fine, a goal
        cannot be seen on this base, or optical data do not reach.
    """
    if not goals or not palette:
        raise InputError("a design needs at least one goal and one material")
    if len(goals) > MAX_GOALS:
        raise LimitError(f"{len(goals)} goals are too many; at most {MAX_GOALS} are taken")
    there = (*cover, *base.all_layers)
    films = (*palette, *(layer.medium for layer in there))
    sights: dict[object, tuple[int, GoalObservation]] = {}
    terms = []
    for at, goal in enumerate(goals):
        seen_base = warm_base(base)[0] if goal.quantity == "emittance" else base
        media = (*films, seen_base.substrate)
        grid = grid_of(goal, media, density, layers=layers, is_rough=is_rough)
        angles = angles_of(goal, density)
        if extra_nm and len(extra_nm[at]):
            grid = np.union1d(grid, extra_nm[at])
        way = (goal.quantity, goal.view) if goal.quantity in READ_WHOLE else goal.view == "back"
        key = (grid.tobytes(), angles.tobytes(), goal.polarization, way)
        if key not in sights:
            seen_at = _make_observation(goal, seen_base, tuple(palette), grid, angles, cover)
            sights[key] = len(sights), seen_at
        i, sight = sights[key]
        if sight.opaque and (goal.quantity in ("T", "Ts-Tp") or goal.view == "through"):
            name = base.substrate.label
            cure = "" if base.substrate.kind == "metal" else f"; give its thickness, '{name} 0.1mm'"
            raise InputError(
                f"goal '{goal}' cannot be met: no light leaves {name}, it is opaque{cure}"
            )
        terms.append((i, make_term(goal, grid, sight.opaque)))
    seen = tuple(sight for _, sight in sights.values())
    points = sum(sight.rows.shape[1] * sight.angle_deg.size for sight in seen)
    if points > _MAX_POINTS:
        raise LimitError(
            f"the goals need {points:,} wavelengths times angles; at most {_MAX_POINTS:,} are "
            f"taken, so narrow a band or a range of angles"
        )
    added = tuple(tuple(float(nm) for nm in one) for one in extra_nm)
    return Merit(
        base, tuple(palette), tuple(goals), seen, tuple(terms), density, total_nm, layers, added,
        cover, is_rough,
    )  # fmt: skip


def _make_observation(
    goal: Goal,
    base: Stack,
    palette: tuple[Medium, ...],
    grid: FloatArray,
    angles: FloatArray,
    cover: tuple[Layer, ...],
) -> GoalObservation:
    try:
        return observe_goal(goal, base, palette, wavelength_nm=grid, angle_deg=angles, cover=cover)
    except OutOfRangeError as error:
        raise OutOfRangeError(
            f"goal '{goal}' looks at {grid[0]:g} to {grid[-1]:g} nm, where data are missing: "
            f"{error}; another data set may reach there"
        ) from error
