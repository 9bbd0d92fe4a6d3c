"""Looking at what a design does to phase: s or p alone, p against s, and along frequency."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from .._typing import ComplexArray, FloatArray
from ..errors import InputError
from ..films.engine.amplitude_gradient import amplitude_slopes
from ..films.engine.amplitudes import amplitudes
from ..films.materials.medium import Medium
from ..films.spectra import LIGHT_NM_FS, Asked
from ..films.stack import Layer, Stack
from .goals import PHASES, SPLITS, Goal
from .observation import GoalObservation, Powers, make_observation
from .split_observation import part_ways

_APART = 1e-5
"""Relative step of frequency to either side, over which a delay is taken. It errs by some 1e-4 of
itself at a delay of 1 ps, and by 1e-9 fs through rounding."""
_NO_LIGHT = 1e-150  # stands for an amplitude of 0, which has no phase


@dataclass(frozen=True, eq=False)
class PhaseObservation(GoalObservation):
    """A sight of phases. What the palette and the base are made of is known on ``inner_nm``.

    Attributes
    ----------
    quantity : {"phase", "delta", "delay"}
    through : bool
        Whether the light that enters the substrate is meant.
    inner_nm : ndarray, shape (W,) or (2W,)
        The wavelengths themselves, or all a little shorter, then all a little longer.
    """

    quantity: str
    through: bool
    inner_nm: FloatArray

    @property
    def needs_general(self) -> bool:
        """Always: the way for a palette has no phases."""
        return True

    def powers(
        self, films: ComplexArray, thickness_nm: FloatArray, tilt_deg: FloatArray | None = None
    ) -> Powers:
        """Phases of designs, as ``turn``: index (..., L, W), thickness (..., L)."""
        index, thickness = self._ordered(films, thickness_nm)
        lit = self._incidence(tilt_deg)
        angles = [
            np.angle(
                amplitudes(index, thickness, self.inner_nm, incidence=lit, one=one)[self.through]
            )
            for one in self._ways
        ]
        return _as_powers(self._reading(angles))

    def gradient(self, films: ComplexArray, thickness_nm: FloatArray, _of: Asked = "RT") -> Powers:
        """As ``powers``, with the derivatives to the thicknesses, as ``dturn`` (..., K, L, W)."""
        index, thickness = self._ordered(films, thickness_nm)
        lit, angles, slopes = self._incidence(None), [], []
        own, step = self._own(films.shape[-2]), -1 if self.back else 1
        for one in self._ways:
            seen = amplitude_slopes(index, thickness, self.inner_nm, incidence=lit, one=one)
            z, dz = (seen.t, seen.dt_dd) if self.through else (seen.r, seen.dr_dd)
            angles.append(np.angle(z))
            # d arg z = Im(dz / z)
            safe = np.where(z == 0.0, _NO_LIGHT, z)[..., None, :]
            slopes.append((dz[..., ::step, :][..., own, :] / safe).imag)
        return _as_powers(self._reading(angles), self._combine(slopes) * self._unit)

    @property
    def _ways(self) -> tuple[Literal["s", "p"], ...]:
        if self.quantity == "delta":
            return "p", "s"
        return ("p",) if self.polarization == "p" else ("s",)  # at normal incidence that of s

    @property
    def _unit(self) -> float:
        return 1.0 if self.quantity == "delay" else 180.0 / np.pi

    def _ordered(
        self, films: ComplexArray, thickness_nm: FloatArray
    ) -> tuple[ComplexArray, FloatArray]:
        """All films from the side that is lit."""
        index, thickness = self._front(films, thickness_nm)
        return (index[..., ::-1, :], thickness[..., ::-1]) if self.back else (index, thickness)

    def _reading(self, angles: list[FloatArray]) -> FloatArray:
        """Phases [°] between -180 and 180, or delays [fs]."""
        turn = self._combine(angles, wrapped=True)
        if self.quantity != "delay":
            turn = _wrap(turn)
        return turn * self._unit

    def _combine(self, parts: list[FloatArray], wrapped: bool = False) -> FloatArray:
        """Angles [rad], or their slopes, as what is read: differences of two for Δ and delays."""
        if self.quantity == "phase":
            return parts[0]
        if self.quantity == "delta":
            return parts[1] - parts[0]  # Δ = -arg(r_p/r_s) for exp(-iωt)
        short, long = np.split(parts[0], 2, axis=-1)
        omega = 2.0 * np.pi * LIGHT_NM_FS / self.inner_nm  # ω = 2πc/λ [rad/fs]
        apart = omega[: self.wavelength_nm.size] - omega[self.wavelength_nm.size :]
        turned = _wrap(short - long) if wrapped else short - long
        return np.asarray(turned / apart)  # dφ/dω


def observe_goal(
    goal: Goal,
    base: Stack,
    palette: tuple[Medium, ...],
    *,
    wavelength_nm: FloatArray,
    angle_deg: ArrayLike,
    cover: tuple[Layer, ...] = (),
) -> GoalObservation:
    """Look at designs on a base as a goal asks.

    Raises
    ------
    InputError
        As :func:`~oxhue.optics.design.observation.make_observation`; and if a phase is asked of a
        base with two faces, or of both polarisations at an angle.
    """
    is_phase, grid = goal.quantity in PHASES, wavelength_nm
    if is_phase:
        _check_phase(goal, base, angle_deg)
    if goal.quantity == "delay":
        grid = np.concatenate([wavelength_nm / (1.0 + _APART), wavelength_nm / (1.0 - _APART)])
    seen = make_observation(
        base, palette, grid, angle_deg=angle_deg, polarization=goal.polarization,
        back=goal.view == "back", cover=cover,
    )  # fmt: skip
    if goal.quantity in SPLITS:
        return part_ways(seen, through=goal.quantity == "Ts-Tp")
    if not is_phase:
        return seen
    parts = {one.name: getattr(seen, one.name) for one in fields(seen)}
    parts |= {"wavelength_nm": wavelength_nm, "inner_nm": grid}
    return PhaseObservation(**parts, quantity=goal.quantity, through=goal.view == "through")


def _check_phase(goal: Goal, base: Stack, angle_deg: ArrayLike) -> None:
    if base.slab_nm is not None:
        raise InputError(
            f"goal '{goal}' cannot be met: the two faces of a thick substrate add as powers, so "
            f"it has no single phase; give the base without its thickness"
        )
    if goal.quantity != "delta" and goal.polarization == "mean" and np.any(np.asarray(angle_deg)):
        raise InputError(f"goal '{goal}' needs s or p: at an angle each has its own phase")


def _as_powers(turn: FloatArray, dturn: FloatArray | None = None) -> Powers:
    none = np.empty((*turn.shape[:-1], 0))
    return Powers(none, none, turn=turn, dturn=dturn)


def _wrap(angle: FloatArray) -> FloatArray:
    """Angles [rad] brought between -π and π."""
    return np.asarray(angle - 2.0 * np.pi * np.rint(angle / (2.0 * np.pi)))
