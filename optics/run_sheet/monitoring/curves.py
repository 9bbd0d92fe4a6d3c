"""How a reading runs while a layer grows: its turning points, where to stop, how sharply."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..._typing import BoolArray, FloatArray
from ...colour.conditions import ViewingConditions
from ...errors import OutOfRangeError
from ...films.materials.medium import Medium
from ...films.solve import solve
from ...films.stack import Layer, Stack
from ...result import Hidden
from ..witness import Witness, add_layer, watch
from .cues import DARK_SHARE, Cue

StopRule = Literal["turning point", "level", "colour", "ohms"]

_POINTS = 121
_SWING = 3.0  # doubts by which a reading goes either way of what counts as a turning point
_90_PERCENT = 1.645  # standard deviations from the middle to either end


@dataclass(frozen=True, eq=False)
class LayerCue:
    """How one reading runs through one layer.

    Attributes
    ----------
    watched : str
        Such as ``R at 532 nm``.
    rule : {"turning point", "level", "colour", "ohms"}
        How the end is known.
    start, stop : float or None
        Reading before and at the end of the layer: a share of the light [-], or ohm per square.
    turning_nm, turning : tuple of float
        Thicknesses [nm] before the end at which it turns, and the readings there.
    reference : {"start", "turning point"} or None
        Earlier reading that the last one is divided by, which makes lamp and detector drop out.
    ratio : float or None
        That quotient at the end.
    rises : bool or None
        Which way it runs at the end.
    sharp_nm : float or None
        Standard deviation with which the end is hit [nm]; None where the reading says nothing.
    srgb_hex : str or None
        The colour to stop at, for the eye.
    cue : Cue
    side : {"R", "T"}
    thickness_nm, reading : ndarray, shape (n,)
        The curve, past the end; of the eye the distance from the last colour [ΔE].
    """

    watched: str
    rule: StopRule
    start: float | None
    stop: float | None
    turning_nm: tuple[float, ...]
    turning: tuple[float, ...]
    reference: Literal["start", "turning point"] | None
    ratio: float | None
    rises: bool | None
    sharp_nm: float | None
    srgb_hex: str | None
    cue: Hidden[Cue]
    side: Hidden[Literal["R", "T"]]
    thickness_nm: Hidden[FloatArray]
    reading: Hidden[FloatArray]

    @property
    def is_light(self) -> bool:
        """Whether a detector reads it: light of one wavelength, or lux."""
        return self.cue.kind in ("light", "lux")


def list_layer_cues(
    laid: Stack,
    medium: Medium,
    nm: float,
    *,
    cues: Sequence[Cue],
    back: bool,
    viewing: ViewingConditions,
) -> list[LayerCue]:
    """Every reading through a layer of ``nm`` that grows on what is laid, the sharpest first."""
    grid = growth_grid_nm(nm, _POINTS)
    grid = np.union1d(grid, nm)
    seen = add_layer(laid, Layer(medium, grid, 0), back)
    coated = seen.reverse() if back else seen
    found: list[LayerCue] = []
    witness: Witness | None = None
    for cue in cues:
        if cue.kind in ("light", "lux"):
            found += _light_cues(coated, cue, grid, nm)
            continue
        if witness is None:
            witness = watch(laid, medium, np.maximum(grid, 1e-3), back=back, viewing=viewing)
        found += _eye_cues(witness, cue, grid, nm) if cue.kind == "eye" else _ohm_cue(
            witness, cue, grid, nm
        )  # fmt: skip
    return sorted(found, key=lambda one: np.inf if one.sharp_nm is None else one.sharp_nm)


def growth_grid_nm(nm: float, points: int) -> FloatArray:
    """Thicknesses [nm] of a layer that grows on to half as much again and 30 nm more, (points,)."""
    return np.linspace(0.0, 1.5 * nm + 30.0, points)


def _light_cues(coated: Stack, cue: Cue, grid: FloatArray, nm: float) -> list[LayerCue]:
    wavelength, weights = cue.light()
    try:
        powers = solve(coated, wavelength)
        clear = not coated.is_opaque(wavelength)
    except OutOfRangeError as error:
        raise OutOfRangeError(f"{cue.name} cannot be watched: {error}") from error
    sides: list[tuple[Literal["R", "T"], FloatArray]] = [("R", powers.R @ weights)]
    if clear:
        sides.append(("T", powers.T @ weights))
    return [_light_cue(cue, side, grid, reading, nm) for side, reading in sides]


def _light_cue(
    cue: Cue, side: Literal["R", "T"], grid: FloatArray, reading: FloatArray, nm: float
) -> LayerCue:
    end = int(np.searchsorted(grid, nm))
    stop, start = float(reading[end]), float(reading[0])
    turning = find_turning_nm(cue, grid, reading)
    turned = np.interp(turning, grid, reading)
    doubt = float(cue.doubt(reading[end], reading[end]))
    at_turn = np.flatnonzero(np.abs(turned - stop) <= doubt)
    near = [i for i in at_turn if _joined(grid, reading, stop, doubt, nm, float(turning[i]))]
    rule: StopRule = "turning point" if near else "level"
    before = turning[: near[0] + 1] if near else turning[turning < nm]
    reference = float(np.interp(before[-1], grid, reading)) if before.size else start
    sharp = _sharpness(grid, np.abs(reading - stop), float(cue.doubt(reading[end], reference)), nm)
    where = f"{side} at {cue.name}" if cue.kind == "light" else f"lux {_LUX_SIDE[side]}"
    slope = reading[min(end + 1, grid.size - 1)] - reading[end - 1]
    return LayerCue(
        where, rule, start, stop, tuple(before.tolist()),
        tuple(np.interp(before, grid, reading).tolist()),
        None if near else "turning point" if before.size else "start",
        None if near or reference < DARK_SHARE else stop / reference,
        bool(slope > 0.0), sharp, None, cue, side, grid, reading,
    )  # fmt: skip


_LUX_SIDE = {"R": "reflected", "T": "through"}


def _eye_cues(witness: Witness, cue: Cue, grid: FloatArray, nm: float) -> list[LayerCue]:
    end = int(np.searchsorted(grid, nm))
    looks = [("front", witness.reflected), ("back", witness.reflected_back),
             ("through", witness.transmitted)]  # fmt: skip
    found = []
    for name, look in looks:
        if look is None:
            continue
        distance = np.sqrt(((look.lab - look.lab[end]) ** 2).sum(axis=-1))
        sharp = _sharpness(grid, distance, cue.noise, nm)
        side: Literal["R", "T"] = "T" if name == "through" else "R"
        found.append(
            LayerCue(
                f"eye, {name}",
                "colour",
                None,
                None,
                (),
                (),
                None,
                None,
                None,
                sharp,
                str(np.asarray(look.srgb_hex)[end]),
                cue,
                side,
                grid,
                distance,
            )
        )
    return found


def _ohm_cue(witness: Witness, cue: Cue, grid: FloatArray, nm: float) -> list[LayerCue]:
    """Ohms of a metal: the doubt is that of the film's purity and joining, and the meter's."""
    if witness.ohms is None:
        return []
    end = int(np.searchsorted(grid, nm))
    low, middle, high = witness.ohms.T
    stop = float(middle[end])
    sharp = None
    if np.isfinite(stop):
        # a film at the limits of the doubt shows the same ohms at another thickness
        ends = [_first_below(grid, ohms, stop) for ohms in (low, high)]
        if all(np.isfinite(ends)):
            model = 0.5 * (ends[1] - ends[0]) / _90_PERCENT
            lower = _first_below(grid, middle, stop * (1.0 + 0.01 * cue.noise))
            sharp = float(np.hypot(model, nm - lower))
    return [
        LayerCue(
            "ohms", "ohms", None, stop if np.isfinite(stop) else None, (), (), None, None, False,
            sharp, None, cue, "R", grid, middle,
        )
    ]  # fmt: skip


def _first_below(grid: FloatArray, ohms: FloatArray, stop: float) -> float:
    """The thickness [nm] from which a film's ohms are no more than ``stop``."""
    below = np.flatnonzero(ohms <= stop)
    if not below.size:
        return np.inf
    i = int(below[0])
    if i == 0 or not np.isfinite(ohms[i - 1]):
        return float(grid[i])
    share = (ohms[i - 1] - stop) / (ohms[i - 1] - ohms[i])
    return float(grid[i - 1] + share * (grid[i] - grid[i - 1]))


def mark_turnings(reading: FloatArray, doubt: FloatArray) -> BoolArray:
    """Points of curves (N, D) at which they turn, and both ways by three doubts (N, D) or more.

    A wiggle below its doubt is no turning point: nobody who follows the chart would count it.
    """
    marks = np.zeros(reading.shape, dtype=bool)
    runs = np.arange(len(reading))
    way = np.zeros(len(reading))  # 1 rising, -1 falling, 0 not known yet
    top, bottom = reading[:, 0].copy(), reading[:, 0].copy()
    top_at, bottom_at = np.zeros((2, len(reading)), dtype=np.intp)
    for i in range(1, reading.shape[1]):
        now, swing = reading[:, i], _SWING * doubt[:, i]
        higher, lower = (way >= 0) & (now > top), (way <= 0) & (now < bottom)
        top, top_at = np.where(higher, now, top), np.where(higher, i, top_at)
        bottom, bottom_at = np.where(lower, now, bottom), np.where(lower, i, bottom_at)
        down, up = (way >= 0) & (top - now > swing), (way <= 0) & (now - bottom > swing)
        turned = down & ((way > 0) | (top - reading[:, 0] > swing))
        marks[runs[turned], top_at[turned]] = True
        turned = up & ((way < 0) | (reading[:, 0] - bottom > swing))
        marks[runs[turned], bottom_at[turned]] = True
        way = np.where(down, -1.0, np.where(up, 1.0, way))
        bottom, bottom_at = np.where(down, now, bottom), np.where(down, i, bottom_at)
        top, top_at = np.where(up, now, top), np.where(up, i, top_at)
    return marks


def find_turning_nm(cue: Cue, grid: FloatArray, reading: FloatArray) -> FloatArray:
    """Thicknesses [nm] inside a curve at which it turns, each the vertex of a parabola."""
    marks = mark_turnings(reading[None], cue.doubt(reading, reading)[None])[0]
    found = []
    for i in np.flatnonzero(marks[:-1]).tolist():
        x, y = grid[i - 1 : i + 2], reading[i - 1 : i + 2]
        bend = (y[2] - y[1]) / (x[2] - x[1]) - (y[1] - y[0]) / (x[1] - x[0])
        slope = (y[2] - y[0]) / (x[2] - x[0])
        found.append(float(np.clip(x[1] - slope * 0.5 * (x[2] - x[0]) / bend, x[0], x[2])))
    return np.array(found)


def _joined(
    grid: FloatArray, reading: FloatArray, stop: float, doubt: float, nm: float, other_nm: float
) -> bool:
    """Whether the reading stays within its doubt of the last one from one thickness to another."""
    between = (grid >= min(nm, other_nm)) & (grid <= max(nm, other_nm))
    return bool((np.abs(reading[between] - stop) <= doubt).all())


def _sharpness(grid: FloatArray, gap: FloatArray, doubt: float, nm: float) -> float | None:
    """Half the stretch [nm] round the end in which the reading differs less than its doubt.

    None where that stretch reaches the beginning of the layer or the end of the curve.
    """
    end = int(np.searchsorted(grid, nm))
    over = gap > doubt
    left, right = np.flatnonzero(over[:end]), np.flatnonzero(over[end + 1 :])
    if not left.size or not right.size:
        return None
    i, j = int(left[-1]), end + 1 + int(right[0])
    low = _cross(grid[i : i + 2], gap[i : i + 2], doubt)
    high = _cross(grid[j - 1 : j + 1], gap[j - 1 : j + 1], doubt)
    return 0.5 * (high - low)


def _cross(x: FloatArray, y: FloatArray, level: float) -> float:
    return float(x[0] + (level - y[0]) / (y[1] - y[0]) * (x[1] - x[0]))
