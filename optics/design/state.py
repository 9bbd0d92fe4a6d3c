"""One design at a time made better: refined, thin layers dealt with, useless ones left out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from .least_squares import descend
from .merit import Merit
from .practice import MaterialLimit

Array = TypeVar("Array", FloatArray, IndexArray)

SOLVED = 1e-6
"""A merit below it has met all goals [percent points]."""
WORTH = 0.995
"""A layer more must bring the merit down to this share of what it was."""
SHORT, LONG = 12, 60
"""Steps of a refinement that only compares, and of one that settles."""
_LOOSE, _TIGHT = 1e-4, 1e-8  # relative change of the squared merit at which it stops
_USUAL, _SMALLEST = 900.0, 0.3  # layers times points of a usual design; the least it counts
# The same of many together in single precision: counted, a step of 456 layers times points takes an
# eighth of the time.
_POOLED, _LEAST_POOLED, _MOST_POOLED = 3_600.0, 0.06, 1.2
_KEPT = 60  # designs that go over to other grids
_TRACE_NM = 1e-6  # thinner than this is nothing
_OPAQUE_SHARE = 0.9  # of the thickness beyond which more of a metal changes nothing
_TRACE_POINTS = 0.01  # percent points that what lies under such a metal may be worth


@dataclass(frozen=True)
class Limits:
    """What can be made.

    Attributes
    ----------
    most_layers : int
    thinnest_nm, thickest_nm : float
        Of any layer [nm].
    by_material : tuple of MaterialLimit
        Of each medium of the palette, in its order; empty for none.
    """

    most_layers: int = 8
    thinnest_nm: float = 5.0
    thickest_nm: float = 500.0
    by_material: tuple[MaterialLimit, ...] = ()

    def least_nm(self, media: int) -> FloatArray:
        """The thinnest a film of each medium may be [nm], shape (M,)."""
        own = [one.thinnest_nm or 0.0 for one in self.by_material] or [0.0] * media
        return np.asarray(np.maximum(np.array(own), self.thinnest_nm))

    def most_nm(self, media: int) -> FloatArray:
        """The thickest likewise."""
        own = [one.thickest_nm or np.inf for one in self.by_material] or [np.inf] * media
        return np.asarray(np.minimum(np.array(own), self.thickest_nm))


@dataclass(frozen=True, eq=False)
class Trial:
    """A design with its merit.

    Attributes
    ----------
    family : str
        What it started from.
    which : ndarray of int, shape (L,)
        Medium of each film, from the light inward.
    thickness_nm : ndarray, shape (L,)
    merit : float
    """

    family: str
    which: IndexArray
    thickness_nm: FloatArray
    merit: float

    @property
    def rank(self) -> tuple[float, int, float]:
        """What is better sorts first: merit, then fewer layers, then less of them."""
        settled = 0.0 if self.merit < SOLVED else self.merit
        return settled, self.which.size, float(self.thickness_nm.sum())


@dataclass(eq=False)
class SearchState:
    """Where a search works: goals, limits, the best design of every order of media so far.

    Attributes
    ----------
    merit : Merit
    limits : Limits
    caps_nm : ndarray, shape (M,)
        Thickness [nm] of each medium beyond which more of it changes nothing.
    effort : int
        How many refinements the search may spend; short ones, and those of few layers, count less.
    spent : float
    share : float
        How much of the effort may be spent for now.
    rich : bool
        Whether designs with more layers than it takes are wanted too, which may bear errors better.
    """

    merit: Merit
    limits: Limits
    caps_nm: FloatArray
    effort: int
    spent: float = 0.0
    share: float = 1.0
    rich: bool = False
    best: dict[tuple[int, ...], Trial] = field(default_factory=dict)

    @property
    def out_of_budget(self) -> bool:
        """Whether the effort is spent, or the share of it set aside for now."""
        return self.spent >= self.share * self.effort

    @property
    def freedom(self) -> int:
        """How much there is to choose: other media for every layer."""
        return max(self.caps_nm.size - 1, 1) * self.limits.most_layers

    def add(self, candidate: Trial) -> Trial:
        """Keep a design if it is the best of its order of media; it is given back."""
        key = tuple(candidate.which.tolist())
        if key and (key not in self.best or candidate.rank < self.best[key].rank):
            self.best[key] = candidate
        return candidate

    def put(self, candidate: Trial) -> None:
        """Keep a design in place of any other of its order of media: one that holds everywhere."""
        self.best[tuple(candidate.which.tolist())] = candidate

    def move_to(self, merit: Merit) -> None:
        """Judge by other grids from now on, the best designs kept as well; the rest go."""
        if merit is self.merit:
            return
        self.merit, some = merit, self.rank_all()[:_KEPT]
        self.best = {
            tuple(one.which.tolist()): replace(one, merit=merit.value(one.which, one.thickness_nm))
            for one in some
        }

    def rank_all(self) -> list[Trial]:
        """All designs kept, the best first."""
        return sorted(self.best.values(), key=lambda c: c.rank)

    def upper_nm(self, which: IndexArray) -> FloatArray:
        """The thickest each film may be [nm]."""
        most = np.minimum(self.caps_nm, self.limits.most_nm(self.caps_nm.size))
        return np.maximum(most[which], self.lower_nm(which) + 1e-3)

    def lower_nm(self, which: IndexArray) -> FloatArray:
        """The thinnest each film may be [nm]."""
        return self.limits.least_nm(self.caps_nm.size)[which]

    def refine(self, candidate: Trial, makeable: bool = False, steps: int = LONG) -> Trial:
        """Count and do one refinement; ``makeable`` keeps films from getting too thin."""
        self._count([candidate], steps)
        lower_nm = self.lower_nm(candidate.which) if makeable else 0.0
        return refine(
            self.merit,
            candidate,
            lower_nm=lower_nm,
            upper_nm=self.upper_nm(candidate.which),
            steps=steps,
        )

    def refine_all(
        self, candidates: Sequence[Trial], makeable: bool = False, steps: int = LONG
    ) -> list[Trial]:
        """Count and do many refinements together."""
        self._count(candidates, steps)
        some = [one for one in candidates if one.which.size]
        lower = [self.lower_nm(one.which) * makeable for one in some]
        upper = [self.upper_nm(one.which) for one in some]
        done = iter(_refine_together(self.merit, some, lower, upper, steps))
        return [next(done) if one.which.size else replace(one, merit=np.inf) for one in candidates]

    def _count(self, candidates: Sequence[Trial], steps: int) -> None:
        for one in candidates:
            self.count_steps(one.which.size, steps)

    def count_steps(self, layers: int, steps: int) -> None:
        """`LONG` steps of a usual design count as one refinement, of a small one as less."""
        share = float(np.clip(layers * self._points / _USUAL, _SMALLEST, 1.0))
        self.spent += share * steps / LONG

    def count_pooled(self, layers: int, count: int) -> None:
        """A step of many designs together, of which each takes less, in proportion to its size."""
        share = float(np.clip(layers * self._points / _POOLED, _LEAST_POOLED, _MOST_POOLED))
        self.spent += share * count / LONG

    @property
    def _points(self) -> int:
        return sum(sight.angle_deg.size * sight.rows.shape[1] for sight in self.merit.sights)

    def make_trial(self, family: str, which: Iterable[int], thickness: Iterable[float]) -> Trial:
        """A design of these films with its merit."""
        order = np.array(list(which), dtype=np.intp)
        nm = np.array(list(thickness), dtype=float)
        return Trial(family, order, nm, self.merit.value(order, nm) if order.size else np.inf)


def refine(
    merit: Merit,
    candidate: Trial,
    *,
    lower_nm: float | FloatArray = 0.0,
    upper_nm: float | FloatArray = 500.0,
    steps: int = LONG,
) -> Trial:
    """Thicknesses of least squares from those given, by the analytic Jacobian.

    Parameters
    ----------
    lower_nm, upper_nm : float, or ndarray of shape (L,)
        Bounds of every thickness [nm].
    steps : int
        The most evaluations of the misses.
    """
    if not candidate.which.size:
        return replace(candidate, merit=np.inf)
    shape = candidate.which.shape
    lower, upper = (np.broadcast_to(np.asarray(nm), shape) for nm in (lower_nm, upper_nm))
    return _refine_together(merit, [candidate], [lower], [upper], steps)[0]


def _refine_together(
    merit: Merit,
    candidates: Sequence[Trial],
    lower_nm: Sequence[FloatArray],
    upper_nm: Sequence[FloatArray],
    steps: int,
) -> list[Trial]:
    """Designs refined together, those of fewer layers made up with empty ones."""
    if not candidates:
        return []
    stop = _TIGHT if steps >= LONG else _LOOSE
    nm, merits = descend(
        merit, _fill_up([one.which for one in candidates]),
        _fill_up([one.thickness_nm for one in candidates]),
        lower_nm=_fill_up(lower_nm), upper_nm=_fill_up(upper_nm), steps=steps, stop=stop,
    )  # fmt: skip
    return [
        replace(one, thickness_nm=d[: one.which.size], merit=float(value))
        for one, d, value in zip(candidates, nm, merits, strict=True)
    ]


def _fill_up(rows: Sequence[Array]) -> Array:
    """Rows of different lengths as one array, made up with zeros."""
    filled = np.zeros((len(rows), max(row.size for row in rows)), rows[0].dtype)
    for i, row in enumerate(rows):
        filled[i, : row.size] = row
    return filled


def join_layers(which: IndexArray, thickness_nm: FloatArray) -> tuple[IndexArray, FloatArray]:
    """Media and thicknesses with empty layers left out and equal neighbours joined."""
    media: list[int] = []
    nm: list[float] = []
    for medium, d in zip(which.tolist(), thickness_nm.tolist(), strict=True):
        if d <= _TRACE_NM:
            continue
        if media and media[-1] == medium:
            nm[-1] += d
        else:
            media.append(medium)
            nm.append(d)
    return np.array(media, dtype=np.intp), np.array(nm)


def tidy(bench: SearchState, candidate: Trial) -> Trial:
    """The same design with empty layers left out and equal neighbours joined."""
    which, thickness = join_layers(candidate.which, candidate.thickness_nm)
    if which.size == candidate.which.size:
        return candidate
    return bench.make_trial(candidate.family, which, thickness)


def remove_layer(bench: SearchState, candidate: Trial, layer: int) -> Trial:
    """A design less one layer, its neighbours joined if they are alike."""
    keep = np.arange(candidate.which.size) != layer
    return tidy(
        bench, replace(
            candidate, which=candidate.which[keep], thickness_nm=candidate.thickness_nm[keep],
            merit=bench.merit.value(candidate.which[keep], candidate.thickness_nm[keep])
            if keep.sum() else np.inf,
        ),
    )  # fmt: skip


def enforce_limits(bench: SearchState, candidate: Trial, steps: int = LONG) -> Trial:
    """A design whose layers all keep to the limits: thin ones go, or grow, whichever costs less."""
    return enforce_limits_all(bench, [candidate], steps)[0]


def enforce_limits_all(
    bench: SearchState, candidates: Sequence[Trial], steps: int = LONG
) -> list[Trial]:
    """The same of many designs together."""
    done = [tidy(bench, one) for one in candidates]
    thin = [i for i, one in enumerate(done) if _is_thin(bench, one).any()]
    while thin:
        thicker = bench.refine_all([done[i] for i in thin], True, SHORT)
        less = [remove_layer(bench, done[i], _thinnest_layer(bench, done[i])) for i in thin]
        gone = bench.refine_all(less, False, SHORT)
        for i, kept, left in zip(thin, thicker, gone, strict=True):
            grows = left.which.size == 0 or kept.merit < WORTH * left.merit - SOLVED
            done[i] = kept if grows else tidy(bench, left)
        thin = [i for i in thin if _is_thin(bench, done[i]).any()]
    return bench.refine_all(done, True, steps)


def _is_thin(bench: SearchState, candidate: Trial) -> BoolArray:
    """Which layers are too thin to be made, shape (L,)."""
    return candidate.thickness_nm < bench.lower_nm(candidate.which) * (1.0 - 1e-9)


def _thinnest_layer(bench: SearchState, candidate: Trial) -> int:
    """The layer that is thinnest as measured by what can be made of it."""
    return int(np.argmin(candidate.thickness_nm / bench.lower_nm(candidate.which)))


def prune(bench: SearchState, candidate: Trial) -> Trial:
    """A design less the layers whose absence changes nothing for the worse.

    What lies under a metal as thick as any is of use is hidden, and goes though a trace of light
    gets there, as long as goals that were met still are.
    """
    layer = candidate.which.size - 1
    while layer >= 0 and candidate.which.size > 1:
        fewer = remove_layer(bench, candidate, layer)
        above = candidate.which[:layer]
        opaque = candidate.thickness_nm[:layer] >= _OPAQUE_SHARE * bench.caps_nm[above]
        free = _TRACE_POINTS if opaque.any() and candidate.merit > SOLVED else SOLVED
        if opaque.any() and fewer.merit > candidate.merit:
            fewer = bench.refine(fewer, True)
        if fewer.merit <= candidate.merit + free:
            candidate = fewer
            layer = candidate.which.size
        layer -= 1
    return candidate
