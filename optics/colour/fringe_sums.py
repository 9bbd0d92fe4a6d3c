"""Tristimulus values of stacks, on grids of wavelength that follow their fringes.

A spectrum on a grid of 5 nm tells the colour of a film as thick as a wavelength or two. Fringes of
thicker ones fall between its points, and are summed on a grid as fine as they need.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cache, lru_cache
from math import prod
from typing import Literal

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from ..errors import LimitError
from ..films.fringes import SEEN_NM, fringe_spacing_nm, least_fringe_spacing_nm, take_rows
from ..films.solve import PreparedStack, prepare
from ..films.spectra import Spectra
from ..films.stack_arrays import count_films
from .illuminants import COLOUR_RANGE_NM, MAX_STEP_NM, tristimulus_weights, white_xyz
from .spaces import delta_e_76, lab_slope, xyz_to_lab

Wanted = Literal["R", "T"]

FINER_STEPS_NM = (1.0, 0.5, 0.25, 0.1, 0.05, 0.02, 0.01)
"""Steps of the grids that stand in for one too coarse. The last has two points a fringe for 4 mm
of optical path; the fringes beyond are so many that it draws enough of each."""

_PER_FRINGE = 7.0  # points of a plain sum: half of them would do, which the next check needs to see
_PER_FRINGE_OF_CUBIC = 6.4  # points where a cubic goes between them: within 0.03 ΔE
_SETTLED_CUBIC, _SETTLED_SUM = 0.5, 0.03
"""ΔE between a grid and every second point of it, up to which the grid is taken to be fine enough.
The error of a cubic grows with the fourth power of the step, so that of the grid is a sixteenth."""
_OF_F = np.array([500.0, np.sqrt(116.0**2 + 500.0**2 + 200.0**2), 200.0])
"""ΔE for a change of one in f(X/Xn), f(Y/Yn) or f(Z/Zn) alone, with f as in `spaces`."""
_CHUNK = 4_000 * 81  # stacks times wavelengths at a time, so that a long sweep needs little memory
_SCAN_CHUNK = 1_500_000  # the same for scans, which store less
_SUMS_CHUNK = 500_000  # stacks at a time of scans whose spectra are not wanted
_MOST_WORK = 500_000_000  # stacks times layers times wavelengths: up to a minute


def sum_light(
    spectra: Spectra, wanted: Sequence[Wanted], *, light: str, observer: int
) -> list[FloatArray]:
    """Tristimulus values (sweep..., 3) of reflectance, transmittance or both.

    The spectra's own wavelengths serve wherever they follow the fringes of a stack. Where they do
    not, and the spectra come of `solve`, the stack is solved on a finer grid.

    Raises
    ------
    InputError
        If the wavelengths do not carry a colour.
    LimitError
        If stacks are so thick and so many that finer grids would take minutes.
    """
    own = spectra.wavelength_nm
    weights = tristimulus_weights(own, light, observer)
    made = spectra.calculation
    if not isinstance(made, PreparedStack) or made.listed is None:
        return [spectra.sums(one, weights) for one in wanted]
    return _FineSums(spectra, made, wanted=wanted, light=light, observer=observer).run()


@dataclass(eq=False)
class _FineSums:
    """Sums of one stack, or of the stacks along the first axis of a sweep, each on its grid."""

    spectra: Spectra
    made: PreparedStack
    _: KW_ONLY
    wanted: Sequence[Wanted]
    light: str
    observer: int

    def __post_init__(self) -> None:
        assert self.made.listed is not None
        self.stack, self.angle = self.made.listed
        own = self.spectra.wavelength_nm
        self.steps, self.grids = _ladder(own.tobytes())
        level = _levels(self.made, self.steps, self.angle.shape)
        self.shape = level.shape
        self.apart = bool(self.stack.sweep_shape) and self.angle.ndim == 0
        self.each = prod(self.shape[1:] if self.apart else self.shape)
        rows = self.shape[0] if self.apart else 1
        self.level = level.reshape(rows, self.each).max(axis=1, initial=0)

    def run(self) -> list[FloatArray]:
        """The sums, shape (sweep..., 3)."""
        # The components apart in memory, as they come and as they are worked on.
        shape = 3, self.level.size, self.each
        found = [np.empty(shape).transpose(1, 2, 0) for _ in self.wanted]
        for step, grid in enumerate(self.grids):
            if step > self.level.max(initial=0):
                break
            self.check_work(step)
            for rows in self.chunks(step):
                sums, settled = self._sum(self.solve(rows, grid), step)
                for whole, part in zip(found, sums, strict=True):
                    whole[rows if rows.size < len(whole) else ...] = part.reshape(rows.size, -1, 3)
                if step + 1 < len(self.grids) and not settled.all():
                    self.level[rows] += ~settled.reshape(rows.size, -1).all(axis=1)
        return [xyz.reshape(*self.shape, 3) for xyz in found]

    def chunks(self, step: int) -> Iterator[IndexArray]:
        """The rows of a level, by so many that their spectra need little memory."""
        rows = np.flatnonzero(self.level == step)
        most = _CHUNK if self.made.scan is None else _SCAN_CHUNK
        size = max(1, most // max(1, self.each * self.grids[step].size))
        if self.made.scan is not None and self.wanted:  # which stores no spectra
            size = max(1, rows.size if step == 0 else _SUMS_CHUNK // self.each)
        for start in range(0, rows.size, size):
            yield rows[start : start + size]

    def solve(self, rows: IndexArray, grid: FloatArray) -> Spectra:
        """Spectra of some rows on a grid."""
        if grid is self.grids[0] and rows.size == self.level.size:
            return self.spectra
        return prepare(
            take_rows(self.stack, rows) if self.apart else self.stack,
            grid,
            angle_deg=self.angle,
            polarization=self.made.polarization,
            side="back" if self.made.turned else "front",
        ).solve()

    def _sum(self, seen: Spectra, step: int) -> tuple[list[FloatArray], BoolArray]:
        """Sums over a grid, and for which stacks every second point of it says the same."""
        both = _paired_weights(seen.wavelength_nm.tobytes(), self.light, self.observer)
        sums = [seen.sums(one, both) for one in self.wanted]
        settled = np.ones(sums[0].shape[:-1], dtype=bool)
        if both.shape[1] == 3:
            return sums, settled
        allowed = _SETTLED_CUBIC if self.steps[step] > FINER_STEPS_NM[0] else _SETTLED_SUM
        white = white_xyz(self.light, self.observer)
        for pairs in sums:
            fine, coarse = pairs[..., :3], pairs[..., 3:]
            doubtful = _most_apart(fine, coarse, white) >= allowed
            if doubtful.any():
                one, other = (xyz_to_lab(xyz[doubtful], white) for xyz in (fine, coarse))
                settled[doubtful] &= delta_e_76(one, other) < allowed
        return [pairs[..., :3] for pairs in sums], settled

    def check_work(self, step: int) -> None:
        """Refuse more stacks on a fine grid than a minute is enough for."""
        if step == 0:
            return
        stacks = np.count_nonzero(self.level == step) * self.each
        layers = max(1, count_films(self.stack.all_layers))
        work = float(stacks) * layers * self.grids[step].size
        if work > _MOST_WORK:
            raise LimitError(
                f"layers this thick have fringes so fine that {stacks:,} of the stacks of this "
                f"sweep need {self.grids[step].size:,} wavelengths each; widen its step"
            )


def _most_apart(one: FloatArray, other: FloatArray, white: FloatArray) -> FloatArray:
    """A ΔE (...) that two sets of tristimulus values (..., 3) are not above, at little cost: the
    sum of what each component makes, as if all stacks were as dark in it as the darkest."""
    axes = tuple(range(one.ndim - 1))
    darkest = np.minimum(one.min(axis=axes, initial=np.inf), other.min(axis=axes, initial=np.inf))
    return np.asarray(np.abs(one - other) @ (_OF_F * lab_slope(darkest / white) / white))


@lru_cache(maxsize=16)
def _paired_weights(grid_bytes: bytes, light: str, observer: int) -> FloatArray:
    """Weights (W, 6) of a grid and of every second point of it; (W, 3) where those are too few."""
    grid = np.frombuffer(grid_bytes)
    weights = tristimulus_weights(grid, light, observer)
    half = grid[::2]
    if half[-1] < COLOUR_RANGE_NM[1] or np.diff(half).max() > MAX_STEP_NM:
        return weights
    both = np.zeros((grid.size, 6))
    both[:, :3] = weights
    both[::2, 3:] = tristimulus_weights(half, light, observer)
    return both


@lru_cache(maxsize=16)
def _ladder(own_bytes: bytes) -> tuple[list[float], list[FloatArray]]:
    """Widest step [nm] of a grid and of those finer than it, and the grids themselves."""
    own = np.frombuffer(own_bytes)
    seen = (own[1:] > SEEN_NM[0]) & (own[:-1] < SEEN_NM[1])
    widest = float(np.diff(own)[seen].max())
    finer = [step for step in FINER_STEPS_NM if step < widest]
    return [widest, *finer], [own, *(_even_grid(step) for step in finer)]


@cache
def _even_grid(step: float) -> FloatArray:
    low, high = COLOUR_RANGE_NM
    return np.linspace(low, high, round((high - low) / step) + 1)


def _levels(made: PreparedStack, steps: Sequence[float], angles: tuple[int, ...]) -> IndexArray:
    """Which of the steps, each finer than the one before, follows the fringes of each stack at
    angles of that shape."""
    needed_nm = [
        (_PER_FRINGE_OF_CUBIC if step > FINER_STEPS_NM[0] else _PER_FRINGE) * step
        for step in steps[:-1]
    ]
    faces = [face for face in (made.front, made.back) if face is not None]
    shape = np.broadcast_shapes(angles, *(face.thickness_nm.shape[:-1] for face in faces))
    level: IndexArray = np.zeros(shape, dtype=np.intp)
    if needed_nm and least_fringe_spacing_nm(made) < needed_nm[0]:
        spacing = fringe_spacing_nm(made)
        for needed in needed_nm:
            level += spacing < needed
    return level


def wavelengths_to_show(spectra: Spectra) -> FloatArray:
    """The wavelengths [nm] of spectra; each nanometre where they are too few for the fringes."""
    sums = _sums_of(spectra)
    if sums is None or not sums.level.any():
        return spectra.wavelength_nm
    return _even_grid(FINER_STEPS_NM[0])


def spectra_to_show(spectra: Spectra) -> Spectra:
    """Spectra as they are; where their points are too few for the fringes, by 1 nm instead.

    Fringes finer than that are told as means over a nanometre. Sharp lines between two mirrors do
    not count: they show as far as the grid meets them.
    """
    sums = _sums_of(spectra)
    if sums is None or not sums.level.any():
        return spectra
    step = int(sums.level.max())
    sums.level[:] = step
    sums.check_work(step)
    shown_nm = _even_grid(FINER_STEPS_NM[0])
    R, T = [], []
    for rows in sums.chunks(step):
        seen = sums.solve(rows, sums.grids[step])
        R.append(_means(seen.R, seen.wavelength_nm, shown_nm))
        T.append(_means(seen.T, seen.wavelength_nm, shown_nm))
    shape = *sums.shape, shown_nm.size
    return Spectra.from_arrays(
        shown_nm, np.concatenate(R).reshape(shape), np.concatenate(T).reshape(shape)
    )


def _sums_of(spectra: Spectra) -> _FineSums | None:
    made = spectra.calculation
    if not isinstance(made, PreparedStack) or made.listed is None:
        return None
    return _FineSums(spectra, made, wanted=(), light="D65", observer=2)


def _means(values: FloatArray, grid: FloatArray, at_nm: FloatArray) -> FloatArray:
    """Means of values (..., W) over the nanometre around each of some wavelengths."""
    if grid.size == at_nm.size:
        return values
    half = 0.5 * (values[..., 1:] + values[..., :-1]) * np.diff(grid)
    area = np.concatenate([np.zeros((*half.shape[:-1], 1)), half.cumsum(axis=-1)], axis=-1)
    edges = np.clip([at_nm - 0.5, at_nm + 0.5], grid[0], grid[-1])
    low, high = np.searchsorted(grid, edges - 1e-6)
    mean: FloatArray = (area[..., high] - area[..., low]) / (grid[high] - grid[low])
    return mean
