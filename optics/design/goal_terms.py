"""One goal made ready to be computed: its grid, its weights, and how far a spectrum misses it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray
from ..colour.illuminants import tristimulus_weights, white_xyz
from ..colour.spaces import xyz_to_lab
from ..errors import OutOfRangeError
from ..films.materials.medium import Medium
from ..films.spectra import Asked
from ..inference.reading import parse_reading
from .goal_weights import (
    EMITTANCE_BAND_NM,
    NEEDED_EMITTANCE_NM,
    emittance_weights,
    luminous_weights,
    solar_weights,
)
from .goals import READ_WHOLE, Goal
from .observation import Powers

_STEP_SHARE = 0.015  # of the middle wavelength: 8 nm at 550
# L quarter waves repeat in wavelength after 2 λ / L; nine points or more lie in one repeat.
_POINTS_PER_REPEAT = 9.0
_FEWEST_STEPS = 8
_COLOUR_STEP_NM, _SOLAR_STEP_NM, _EMITTANCE_STEP_NM = 5.0, 10.0, 250.0
# A search compares colours that are interpolated between fewer points: at 15 nm those of thin films
# are within 0.2 ΔE of those at 1 nm, 0.04 in the mean (counted on 200 fringes).
_ROUGH_COLOUR_STEP_NM = 15.0
_LATEST_SOLAR_NM = 400.0  # start of the data of plastics; 5 % of sunlight lies before it
_ANGLE_STEP_DEG = 15.0
_MOST_DENSE_ANGLES = 3
_LEAST_ROOM = 1e-3  # percent points a bound at 0 or 100 % is taken to allow
# CIE 15: where the cube root of CIELAB gives way to a straight line.
_LAB_CUT, _LAB_SLOPE = (6.0 / 29.0) ** 3, (29.0 / 6.0) ** 2 / 3.0


@dataclass(frozen=True, eq=False)
class Term:
    """A goal on a grid.

    Attributes
    ----------
    goal : Goal
    opaque : bool
        Whether what enters the substrate counts as absorbed.
    weights : ndarray
        Shares of the wavelengths (W,) for a mean, (W, 3) for X, Y, Z; empty to count each.
    target_lab : ndarray, shape (3,)
    slack : float
        Distance from the target colour [ΔE] that costs nothing: the reach of a word.
    """

    goal: Goal
    opaque: bool
    weights: FloatArray
    target_lab: FloatArray
    slack: float = 0.0

    @property
    def is_summed(self) -> bool:
        """Whether the wavelengths make one figure, or one colour, together."""
        return self.weights.size > 0

    @property
    def about(self) -> Asked:
        """The powers the goal is about."""
        if self.goal.quantity == "T" or self.goal.view == "through":
            return "T"
        return "R" if self.goal.quantity in ("R", "colour") or self.opaque else "RT"

    def misses(self, powers: Powers) -> FloatArray:
        """Signed misses [percent points, or ΔE along L*, a*, b*], shape (..., n); 0 where met."""
        reading = self._reading(self._fraction(powers.R, powers.T))
        return self._misses_beyond(reading, self.free)

    def slopes(self, powers: Powers, scale: float = 1.0) -> FloatArray:
        """Derivatives of ``scale`` times the ``misses`` to the thicknesses, shape (..., n, L)."""
        assert powers.dR is not None
        assert powers.dT is not None
        fraction = self._fraction(powers.R, powers.T)
        turn = self._fraction(powers.dR, powers.dT, change=True)  # (..., K, L, W)
        if self.goal.quantity == "colour":
            slope = self._colour_slopes(fraction, turn)
            return scale * slope.reshape((*slope.shape[:-3], -1, slope.shape[-1]))
        if self.is_summed:
            slope = 100.0 * scale * _dot(turn, self.weights)
            gap = 100.0 * _dot(fraction, self.weights) - self.goal.percent
            live = self._clip(gap, self.free) != 0.0
            return np.where(live[..., None], slope, 0.0)
        live = self._clip(100.0 * fraction - self.goal.percent, self.free) != 0.0
        share = np.where(live, 100.0 * scale, 0.0).astype(turn.dtype)[..., None]
        slope = np.swapaxes(turn, -1, -2) * share  # (..., K, W, L)
        return slope.reshape((*slope.shape[:-3], -1, slope.shape[-1]))

    def used_share(self, powers: Powers) -> FloatArray:
        """Shares of what the goal allows that are used up, shape (..., n); met up to 1.

        A bound allows the way from it to 100 or 0 %, a target its ``within``.
        """
        gap, _, allowed = self._gap(powers)
        if self.goal.quantity == "colour":
            return np.asarray(np.sqrt((gap**2).sum(axis=-1)) / allowed)
        share = gap / allowed
        return share if self.is_summed else share.reshape((*share.shape[:-2], -1))

    def used_share_slopes(self, powers: Powers) -> FloatArray:
        """Derivatives of ``used`` to the thicknesses, shape (..., n, L)."""
        assert powers.dR is not None
        assert powers.dT is not None
        gap, sign, allowed = self._gap(powers)
        turn = self._fraction(powers.dR, powers.dT, change=True)  # (..., K, L, W)
        if self.goal.quantity == "colour":
            lab = self._lab_slopes(self._fraction(powers.R, powers.T), turn)
            size = np.maximum(np.sqrt((gap**2).sum(axis=-1)), 1e-12)
            return np.asarray((gap[..., None] * lab).sum(axis=-2) / (size * allowed)[..., None])
        if self.is_summed:
            return np.asarray(sign[..., None] * 100.0 * _dot(turn, self.weights) / allowed)
        slope = sign[..., None] * 100.0 * np.swapaxes(turn, -1, -2) / allowed  # (..., K, W, L)
        return np.asarray(slope.reshape((*slope.shape[:-3], -1, slope.shape[-1])))

    def worst(self, powers: Powers) -> FloatArray:
        """The largest miss of any point [percent points or ΔE], shape (...)."""
        miss = self._misses_beyond(self._reading(self._fraction(powers.R, powers.T)), 0.0)
        if self.goal.quantity == "colour":
            miss = np.sqrt((miss.reshape((*miss.shape[:-1], -1, 3)) ** 2).sum(axis=-1))
        worst: FloatArray = np.abs(miss).max(axis=-1)
        return worst

    def margin(self, powers: Powers) -> FloatArray:
        """How far the goal is from being missed [percent points or ΔE], below 0 if it is, (...)."""
        read = self.readings(powers)
        if self.goal.relation == "=":
            return self.goal.allowed_miss - self.worst(powers)
        gap = read - self.goal.wanted
        least: FloatArray = (gap if self.goal.relation == ">" else -gap).min(axis=-1)
        return least

    def readings(self, powers: Powers) -> FloatArray:
        """What is compared with the bound [%], or the distance from the target [ΔE], (..., n)."""
        reading = self._reading(self._fraction(powers.R, powers.T))
        if self.goal.quantity == "colour":
            distance: FloatArray = np.sqrt(((reading - self.target_lab) ** 2).sum(axis=-1))
            return distance
        percent = 100.0 * reading
        return percent if self.is_summed else percent.reshape((*percent.shape[:-2], -1))

    def _gap(self, powers: Powers) -> tuple[FloatArray, FloatArray, float]:
        """Distance from the ideal, its sign on the reading, and how much of it is allowed."""
        reading = self._reading(self._fraction(powers.R, powers.T))
        goal = self.goal
        if goal.quantity == "colour":
            gap = reading - self.target_lab
            return gap, np.ones_like(gap), self.slack + goal.allowed_miss
        ideal = {">": 100.0, "<": 0.0, "=": goal.percent}[goal.relation]
        gap = 100.0 * reading - ideal
        sign: FloatArray = np.where(gap < 0.0, -1.0, 1.0)
        room = abs(ideal - goal.percent) if goal.relation != "=" else goal.allowed_miss
        return np.abs(gap), sign, max(room, _LEAST_ROOM)

    def _fraction(self, R: FloatArray, T: FloatArray, change: bool = False) -> FloatArray:
        if self.about == "T":
            return T
        if self.goal.quantity in ("R", "colour"):
            return R
        whole = 0.0 if change else 1.0
        return np.asarray(whole - R if self.opaque else whole - R - T)

    def _reading(self, fraction: FloatArray) -> FloatArray:
        if self.goal.quantity == "colour":
            return xyz_to_lab(_dot(fraction, self.weights), white_xyz())
        return _dot(fraction, self.weights) if self.is_summed else fraction

    @property
    def free(self) -> float:
        """How far a target may be missed at no cost: its ``within``, where that is stated."""
        stated = self.goal.relation == "=" and self.goal.within is not None
        return self.goal.allowed_miss if stated else 0.0

    def _misses_beyond(self, reading: FloatArray, free: float) -> FloatArray:
        if self.goal.quantity == "colour":
            gap = reading - self.target_lab
            miss = gap * self._reach(gap, free)
            return miss.reshape((*miss.shape[:-2], -1))
        miss = self._clip(100.0 * reading - self.goal.percent, free)
        return miss if self.is_summed else miss.reshape((*miss.shape[:-2], -1))

    def _clip(self, gap: FloatArray, free: float) -> FloatArray:
        if self.goal.relation == "=":
            return np.asarray(gap - np.clip(gap, -free, free))
        return np.minimum(gap, 0.0) if self.goal.relation == ">" else np.maximum(gap, 0.0)

    def _reach(self, gap: FloatArray, free: float) -> FloatArray:
        """Share of a gap (..., 3) that lies beyond the slack and what is free, shape (..., 1)."""
        size = np.sqrt((gap**2).sum(axis=-1, keepdims=True))
        return np.asarray(np.maximum(0.0, 1.0 - (self.slack + free) / np.maximum(size, 1e-12)))

    def _lab_slopes(self, fraction: FloatArray, turn: FloatArray) -> FloatArray:
        """Derivatives of L*, a*, b* to the thicknesses, shape (..., K, 3, L)."""
        ratio = _dot(fraction, self.weights) / white_xyz()
        safe = np.maximum(ratio, _LAB_CUT)
        bend = np.where(ratio > _LAB_CUT, safe ** (-2.0 / 3.0) / 3.0, _LAB_SLOPE)
        f = bend[..., None, :] * _dot(turn, self.weights) / white_xyz()  # (..., K, L, 3)
        x, y, z = f[..., 0], f[..., 1], f[..., 2]
        return np.stack([116.0 * y, 500.0 * (x - y), 200.0 * (y - z)], axis=-2)

    def _colour_slopes(self, fraction: FloatArray, turn: FloatArray) -> FloatArray:
        """Derivatives of the distance beyond the slack, shape (..., K, 3, L)."""
        lab = self._lab_slopes(fraction, turn)
        costless = self.slack + self.free
        if not costless:
            return lab
        gap = xyz_to_lab(_dot(fraction, self.weights), white_xyz()) - self.target_lab
        size = np.maximum(np.sqrt((gap**2).sum(axis=-1, keepdims=True)), 1e-12)[..., None]
        along = (gap[..., None] * lab).sum(axis=-2, keepdims=True) / size
        reach = self._reach(gap, self.free)[..., None]
        pull = np.where(reach > 0.0, costless / size**2, 0.0)
        return np.asarray(reach * lab + pull * gap[..., None] * along)


def _dot(spectra: FloatArray, weights: FloatArray) -> FloatArray:
    return np.asarray(spectra @ weights, dtype=float)


def grid_of(
    goal: Goal,
    media: Sequence[Medium],
    density: int = 1,
    *,
    layers: int = 1,
    is_rough: bool = False,
) -> FloatArray:
    """Wavelengths [nm] on which a goal is computed, ``density`` times as many as the least.

    The more layers a design may have, the more wavelengths; fewer for a colour that is ``rough``.

    Raises
    ------
    OutOfRangeError
        If an emittance is asked of a medium without data from 8 to 13 um.
    """
    if goal.quantity == "emittance":
        return _even_grid(_emittance_span(media), _EMITTANCE_STEP_NM / density)
    if goal.quantity == "colour" or goal.count == "luminous":
        middle = 0.5 * sum(goal.span_nm)
        repeat_nm = 2.0 * middle / layers
        rough = min(_ROUGH_COLOUR_STEP_NM, repeat_nm / _POINTS_PER_REPEAT)
        step = max(rough, _COLOUR_STEP_NM) if is_rough else _COLOUR_STEP_NM
        return _even_grid(goal.span_nm, step / density)
    if goal.count == "solar":
        return _even_grid(_solar_span(goal, media), _SOLAR_STEP_NM / density)
    low, high = goal.span_nm
    if low == high:
        return np.array([low])
    share = min(_STEP_SHARE, 2.0 / (_POINTS_PER_REPEAT * layers))
    step = min(share * 0.5 * (low + high), (high - low) / _FEWEST_STEPS)
    return _even_grid(goal.span_nm, step / density)


def angles_of(goal: Goal, density: int = 1) -> FloatArray:
    """Angles of incidence [°] on which a goal is computed."""
    low, high = goal.angles_deg
    if low == high:
        return np.array([low])
    steps = max(2, math.ceil((high - low) / _ANGLE_STEP_DEG))
    return np.linspace(low, high, steps * min(density, _MOST_DENSE_ANGLES) + 1)


@dataclass(frozen=True, eq=False)
class WholeTerm(Term):
    """A goal on a phase, a delay or how far s and p part: what is looked at is what it is about."""

    def misses(self, powers: Powers) -> FloatArray:
        """Signed misses [°, fs or percent points], shape (..., n); 0 where met."""
        return self._clip(self.readings(powers) - self.goal.wanted, self.free)

    def slopes(self, powers: Powers, scale: float = 1.0) -> FloatArray:
        """Derivatives of ``scale`` times the ``misses`` to the thicknesses, shape (..., n, L)."""
        live = self.misses(powers) != 0.0
        return np.where(live[..., None], scale * self._reading_slopes(powers), 0.0)

    def used_share(self, powers: Powers) -> FloatArray:
        """Shares of what the goal allows that are used up; a bound allows the way to 0, or to
        twice itself."""
        return np.abs(self.readings(powers) - self._ideal) / self._room

    def used_share_slopes(self, powers: Powers) -> FloatArray:
        """Derivatives of ``used`` to the thicknesses, shape (..., n, L)."""
        sign = np.where(self.readings(powers) < self._ideal, -1.0, 1.0)[..., None]
        return np.asarray(sign * self._reading_slopes(powers) / self._room)

    def worst(self, powers: Powers) -> FloatArray:
        """The largest miss of any point [°, fs or percent points], shape (...)."""
        gap = self._clip(self.readings(powers) - self.goal.wanted, 0.0)
        return np.asarray(np.abs(gap).max(axis=-1))

    def readings(self, powers: Powers) -> FloatArray:
        """Phases [°] within half a turn of the one wanted, delays [fs] or differences, (..., n)."""
        assert powers.turn is not None
        read, wanted = powers.turn, self.goal.wanted
        if self.goal.unit == "°":
            read = read - 360.0 * np.rint((read - wanted) / 360.0)
        return read.reshape((*read.shape[:-2], -1))

    @property
    def _ideal(self) -> float:
        wanted = self.goal.wanted
        return {"=": wanted, "<": min(wanted, 0.0), ">": max(2.0 * wanted, 0.0)}[self.goal.relation]

    @property
    def _room(self) -> float:
        goal = self.goal
        room = goal.allowed_miss if goal.relation == "=" else abs(self._ideal - goal.wanted)
        return max(room, _LEAST_ROOM)

    def _reading_slopes(self, powers: Powers) -> FloatArray:
        assert powers.dturn is not None
        slope = np.swapaxes(powers.dturn, -1, -2)  # (..., K, W, L)
        return slope.reshape((*slope.shape[:-3], -1, slope.shape[-1]))


def make_term(goal: Goal, wavelength_nm: FloatArray, opaque: bool) -> Term:
    """A goal on a grid of wavelengths."""
    if goal.quantity in READ_WHOLE:
        return WholeTerm(goal, opaque, np.empty(0), np.zeros(3))
    target, slack = np.zeros(3), 0.0
    if goal.quantity == "colour":
        target, slack = colour_target(goal.colour)
    shut = opaque or goal.quantity == "emittance"
    return Term(goal, shut, _weights(goal, wavelength_nm), target, slack)


def colour_target(text: str) -> tuple[FloatArray, float]:
    """CIELAB aimed at, and how far [ΔE] from it the colour still counts as the one written.

    A word stands for a region: its middle is aimed at, and its inner half costs nothing.
    """
    reading = parse_reading(text)
    middle: FloatArray = reading.weight @ reading.points_lab
    if reading.weight.size == 1:
        return middle, 0.0
    distance = np.sqrt(((reading.points_lab - middle) ** 2).sum(axis=-1))
    order = np.argsort(distance)
    half = int(np.searchsorted(np.cumsum(reading.weight[order]), 0.5))
    return middle, float(distance[order][half])


def _weights(goal: Goal, grid: FloatArray) -> FloatArray:
    if goal.quantity == "colour":
        return tristimulus_weights(grid)
    if goal.quantity == "emittance":
        return emittance_weights(grid)
    if goal.count == "luminous":
        return luminous_weights(grid)
    if goal.count == "solar":
        return solar_weights(grid)
    if goal.count == "each":
        return np.empty(0)
    if grid.size == 1:
        return np.ones(1)
    half = np.diff(grid) / (2.0 * (grid[-1] - grid[0]))
    shares: FloatArray = np.append(half, 0.0) + np.insert(half, 0, 0.0)
    return shares


def _even_grid(span_nm: tuple[float, float], step_nm: float) -> FloatArray:
    low, high = span_nm
    return np.linspace(low, high, math.ceil((high - low) / step_nm - 1e-9) + 1)


def _solar_span(goal: Goal, media: Sequence[Medium]) -> tuple[float, float]:
    """Where sunlight is counted [nm]: from the first data on, at the latest from 400 nm."""
    low, high = goal.span_nm
    known = (nm for nm in np.arange(low, _LATEST_SOLAR_NM + 1.0, 10.0) if _mask_known(media, nm))
    return float(next(known, low)), high


def _emittance_span(media: Sequence[Medium]) -> tuple[float, float]:
    low, high = NEEDED_EMITTANCE_NM
    for medium in media:
        try:
            medium.nk(np.array([low, high]))
        except OutOfRangeError as error:
            raise OutOfRangeError(
                f"an emittance needs optical data from 8 to 13 um: {error}; name a data set that "
                f"reaches there"
            ) from error
    return (
        next(
            nm for nm in np.arange(EMITTANCE_BAND_NM[0], low + 1.0, 250.0) if _mask_known(media, nm)
        ),
        next(
            nm
            for nm in np.arange(EMITTANCE_BAND_NM[1], high - 1.0, -250.0)
            if _mask_known(media, nm)
        ),
    )


def _mask_known(media: Sequence[Medium], nm: float) -> bool:
    try:
        for medium in media:
            medium.nk(np.array([nm]))
    except OutOfRangeError:
        return False
    return True
