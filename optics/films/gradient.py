"""Reflectance and transmittance of a coherent stack with their derivatives to every layer.

The fields are carried from the substrate up as in :mod:`~oxhue.optics.films.transfer`, kept at
every boundary, and met by adjoint rows carried from the surface down. All derivatives cost a few
forward passes whatever the number of layers; memory grows with the number of layers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .incidence import ComplexArray, FloatArray, Incidence, Polarization, separate
from .indexslopes import Layer, admittance_slopes, layer_slopes
from .phase import phases, swing_of
from .recursion import (
    CALM,
    CAREFUL,
    cross,
    groups,
    in_range,
    mean,
    ratios,
    squared,
    strength_of,
    strength_slope,
    waves,
)
from .series import Followed
from .transfer import _checked, series_of

Scalar = TypeVar("Scalar", bound=np.generic)

_BLOCK_ELEMENTS = 8_192  # stacks × wavelengths × polarisations at a time


@dataclass(frozen=True, eq=False)
class Gradient:
    """Powers of stacks and how they change.

    Attributes
    ----------
    R, T : ndarray, shape (..., W)
        Reflectance and transmittance [-].
    dR_dd, dT_dd : ndarray, shape (..., L, W)
        Derivatives to the thickness of each layer [1/nm].
    dR_dn, dT_dn : ndarray of complex, shape (..., L + 2, W), or (..., 0, W) if not asked for
        Derivatives to the index of ambient, layers and substrate, as ``g = ∂/∂n - i ∂/∂k``:
        a change ``δn + iδk`` changes the power by ``Re(g (δn + iδk))``.
    dR_du, dT_du : ndarray, shape (..., W)
        Derivatives to ``u``, a common change of ``kz²/k0²`` in all media: for a change of the
        tangential wave number ``n0 sin θ``, ``δu = -δ(n0² sin²θ)``.
    """

    R: FloatArray
    T: FloatArray
    dR_dd: FloatArray
    dT_dd: FloatArray
    dR_dn: ComplexArray
    dT_dn: ComplexArray
    dR_du: FloatArray
    dT_du: FloatArray


def powers_with_gradient(
    index: ArrayLike,
    thickness_nm: ArrayLike,
    wavelength_nm: ArrayLike,
    angle_deg: ArrayLike = 0.0,
    polarization: Polarization = "mean",
) -> Gradient:
    """Reflectance and transmittance of coherent stacks, with all derivatives.

    Parameters
    ----------
    index : array_like of complex, shape (..., L + 2, W)
        n + ik with k >= 0 of the ambient, the L layers and the substrate.
    thickness_nm : array_like, shape (..., L)
        Layer thicknesses [nm].
    wavelength_nm : array_like, shape (W,)
        Vacuum wavelengths [nm].
    angle_deg : array_like, shape (...)
        Angle of incidence in the ambient [°], 0 to 90.
    polarization : {"s", "p", "mean"}

    Returns
    -------
    Gradient
        The leading shape is what the leading shapes of the inputs broadcast to. The derivative to
        the ambient's index holds the angle of incidence, and with it changes all directions.

    Raises
    ------
    InputError, OutOfRangeError
        As :func:`~oxhue.optics.films.transfer.respond_arrays`.

    Notes
    -----
    With ``v = (E, H)`` and ``v_top = M v_bottom``, the row ``λ_bottom = λ_top M`` gives
    ``δf = λ_top δM v_bottom`` for a function f of the top fields. The reflected amplitude
    ``r = (q0 E - H)/(q0 E + H)`` is blind to the scale of v; as ``det M = 1``, its row is some
    number times ``(H, -E)`` at every boundary, and only that number is carried. For
    ``ln(q0 E + H)`` the row itself is carried. ``∂M/∂ε`` is taken through ``cos δ``, ``sin δ/kz``
    and ``kz sin δ`` as functions of ``kz²``, which have no pole at a critical angle.

    References
    ----------
    The adjoint of a linear recursion; for layer stacks e.g. A. V. Tikhonravov, M. K. Trubetskov
    and G. W. DeBell, Appl. Opt. 35, 5493 (1996) (from memory).
    """
    n, d, wavelength, angle = _checked(index, thickness_nm, wavelength_nm, angle_deg)
    ambient = n[..., 0, :].real
    found = coherent_gradient(n, d, wavelength, Incidence.at(ambient, angle), polarization)
    # At a fixed angle the tangential wave number follows the ambient's index.
    turn = -2.0 * ambient * np.sin(np.deg2rad(angle))[..., None] ** 2
    found.dR_dn[..., 0, :] += turn * found.dR_du
    found.dT_dn[..., 0, :] += turn * found.dT_du
    return found


def coherent_gradient(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    polarization: Polarization,
    to_index: bool = True,
) -> Gradient:
    """Powers and derivatives for one tangential wave number, which is held. Inputs are trusted.

    Without ``to_index`` the derivatives to the indices, and to ``u``, are left out.
    """
    wanted = separate(polarization, incidence)
    lead = np.broadcast_shapes(index.shape[:-2], thickness_nm.shape[:-1], incidence.lead)
    layers, points, stacks = index.shape[-2] - 2, wavelength_nm.size, math.prod(lead)
    whole = Gradient(
        *np.empty((2, stacks, points)),
        *np.empty((2, stacks, layers, points)),
        *np.zeros((2, stacks, layers + 2 if to_index else 0, points), dtype=complex),
        *np.zeros((2, stacks, points)),
    )
    parts: tuple[NDArray[Any], ...] = (
        _flat(index, lead, 2),
        _flat(thickness_nm, lead, 1),
        _flat(incidence.ambient_eps, lead, 1),
        _flat(incidence.normal_squared, lead, 1),
    )
    k0 = 2.0 * np.pi / wavelength_nm
    step = min(stacks, max(1, _BLOCK_ELEMENTS // max(points * len(wanted), 1)))
    room = _Room.of(len(wanted), step, points, layers)
    series = series_of(index, thickness_nm, k0, incidence, lead)
    for start in range(0, stacks, max(step, 1)):
        rows = slice(start, min(start + step, stacks))
        n, d, ambient_eps, normal = (p[rows] if p.shape[0] > 1 else p for p in parts)
        lit, own = Incidence(ambient_eps, normal), room.first(rows.stop - rows.start)
        followed = None if series is None else series.at(d)
        block = _Pass(own, n, d, k0, lit, wanted, followed)
        block.up()
        block.down(Gradient(*(getattr(whole, f.name)[rows] for f in fields(Gradient))))
    arrays = (getattr(whole, f.name) for f in fields(Gradient))
    return Gradient(*(array.reshape(lead + array.shape[1:]) for array in arrays))


@dataclass(frozen=True, eq=False)
class _Room:
    """Working arrays of a block, used again for the next one. P polarisations, b stacks.

    Attributes
    ----------
    E, level : ndarray of complex, shape (L + 1, P, b, W)
        Fields on top of every layer and of the substrate: E, and H over its own admittance.
    swing : ndarray of complex, shape (L, b, W)
    rows : ndarray of complex, shape (3, g + 1, P, b, W)
        Adjoints on top of g layers and below them: of the reflected amplitude, which is this
        number times ``(level, -E)``, and of the logarithm of the incident one, to E and level.
    spare : ndarray of complex, shape (g, P, b, W)
    phases : ndarray, shape (4, g, b, W)
    growth : ndarray, shape (P, b, W)
        Log of all that was divided out of the fields.
    """

    E: ComplexArray
    level: ComplexArray
    swing: ComplexArray
    rows: ComplexArray
    spare: ComplexArray
    phases: FloatArray
    growth: FloatArray

    @classmethod
    def of(cls, polarizations: int, stacks: int, points: int, layers: int) -> _Room:
        """Room for blocks of that many stacks, with as many layers at a time as are worth it."""
        shape = polarizations, stacks, points
        together = max(1, min(layers, _BLOCK_ELEMENTS // max(stacks * points, 1)))
        E, level = np.empty((2, layers + 1, *shape), dtype=complex)
        return cls(
            E,
            level,
            np.empty((layers, *shape[1:]), dtype=complex),
            np.empty((3, together + 1, *shape), dtype=complex),
            np.empty((together, *shape), dtype=complex),
            np.empty((4, together, *shape[1:])),
            np.empty(shape),
        )

    def first(self, stacks: int) -> _Room:
        """The part of it that fewer stacks take."""
        return _Room(*(getattr(self, f.name)[..., :stacks, :] for f in fields(self)))


@dataclass(frozen=True, eq=False)
class _Pass:
    """A way up through a block, and back down.

    Index (b or 1, L + 2, W), d (b or 1, L), directions (b or 1, W).
    """

    room: _Room
    index: ComplexArray
    d: FloatArray
    k0: FloatArray
    incidence: Incidence
    wanted: Sequence[str]
    followed: Followed | None
    steps: dict[int, ComplexArray] = field(default_factory=dict)  # admittance below over own
    sizes: dict[int, FloatArray] = field(default_factory=dict)  # what fields were divided by

    def up(self) -> None:
        """Carry the fields up, again with care if that does not keep them in range."""
        with np.errstate(all="ignore"):
            self._rise(CALM)
        if not in_range(self.room.E[0], self.top):
            self._rise(CAREFUL)

    def _rise(self, every: int) -> None:
        room, E, level, media = self.room, self.room.E, self.room.level, self.index.swapaxes(0, 1)
        bottom = waves(media[-1], self.incidence, self.wanted)[1]
        E[-1], level[-1], room.growth[...] = 1.0, 1.0, 0.0
        if self.followed is not None:
            room.growth[...] = self.followed.losses(room.phases[0, 0])
        for some in groups(len(room.swing), room.phases.shape[1]):
            kz, q = waves(media[1:-1][some], self.incidence, self.wanted)
            self._swings(some, kz)
            steps, bottom = ratios(q, bottom), q[:, 0]
            for j in range(some.stop - 1, some.start - 1, -1):
                step = self.steps[j] = steps[:, j - some.start]
                np.multiply(level[j + 1], step, out=level[j])
                below, above = (E[j + 1], level[j]), (E[j], level[j])
                cross(below, above, room.swing[j], room.spare[0])
                if j % every == 0 and j > 0:
                    size = self.sizes[j] = np.abs(E[j]) + np.abs(level[j])
                    E[j] /= size
                    level[j] /= size
                    np.add(room.growth, np.log(size), out=room.growth)

    def _swings(self, some: slice, kz: ComplexArray) -> None:
        """Of g layers with kz (g, b or 1, W); what fades is added to the growth."""
        room = self.room
        if self.followed is not None:
            self.followed.swings(some, room.swing[some])
            return
        (across, fade), spare = room.phases[:2, : len(kz)], room.phases[2:, : len(kz)]
        fades = phases(self.d.T[some], self.k0, kz, across, fade, spare[0])
        if fades:
            np.subtract(room.growth, fade.sum(axis=0), out=room.growth)
        swing_of(across, fade if fades else None, spare, room.swing[some])

    @property
    def top(self) -> ComplexArray:
        """H at the surface, shape (P, b, W)."""
        under = waves(self.index[:, 1], self.incidence, self.wanted)[1]  # the substrate's if bare
        H: ComplexArray = under * self.room.level[0]
        return H

    def down(self, out: Gradient) -> None:
        """Carry the adjoints down and put powers and derivatives in their places."""
        across = waves(self.index[:, 0], self.incidence, self.wanted)[1]
        bottom = waves(self.index[:, -1], self.incidence, self.wanted)[1]
        first = waves(self.index[:, 1], self.incidence, self.wanted)[1]
        E, H = self.room.E[0], self.top
        incident = across * E + H
        r = (across * E - H) / incident
        passed = 4.0 * strength_of(across) * np.exp(-2.0 * self.room.growth) / squared(incident)
        T = passed * bottom.real
        out.R[...], out.T[...] = mean(squared(r)), mean(T)
        # |r|² changes by 2 Re(r* δr), and T falls as |a|², a the incident amplitude.
        share = 4.0 * np.conj(r) * across / incident**2
        to_H = -2.0 * T / incident
        rows = self.room.rows
        rows[0, 0], rows[1, 0], rows[2, 0] = share * first, to_H * across, to_H * first
        to_index = out.dR_dn.shape[-2] > 0
        for some in reversed(list(groups(len(self.room.swing), self.room.phases.shape[1]))):
            rows = self._descend(some, rows, out, to_index)
        if to_index:
            # The top and bottom admittances also stand outside the recursion.
            share_below, _, level_below = rows[:, 0] / bottom
            outer_R = np.stack([4.0 * np.conj(r) * E * H / incident**2, -share_below])
            outer_T = np.stack([T * strength_slope(across) + to_H * E, level_below + passed])
            self._to_outer(outer_R, outer_T, out)

    def _descend(
        self, some: slice, rows: ComplexArray, out: Gradient, to_index: bool
    ) -> ComplexArray:
        """Carry the adjoints ``rows[:, 0]`` down through g layers; gives those below."""
        room, media = self.room, self.index.swapaxes(0, 1)
        kz, q = waves(media[1:-1][some], self.incidence, self.wanted)
        for i, j in enumerate(range(some.start, some.stop)):
            share, to_E, to_level = rows[:, i]
            next_share, next_E, next_level = rows[:, i + 1]
            if to_index:
                self._to_index(j, kz[i], q[:, i], (share, to_E, to_level), out)
            cross((to_E, to_level), (next_E, next_level), room.swing[j], room.spare[0])
            step = self.steps[j]
            half = np.subtract(0.5, room.swing[j], out=room.spare[0, 0])  # of det M = exp(2iδ)
            np.multiply(share, half, out=next_share)
            next_share *= 2.0 * step
            next_level *= step
            if j in self.sizes:
                rows[:, i + 1] /= self.sizes[j]
                next_share /= self.sizes[j]
        self._to_thickness(some, kz[:, None], rows[:, : len(kz)], out)
        if rows.shape[1] == 2:
            return rows[:, ::-1]
        rows[:, 0] = rows[:, len(kz)]
        return rows

    def _to_thickness(
        self, some: slice, kz: ComplexArray, rows: ComplexArray, out: Gradient
    ) -> None:
        """``λ δM v`` with ``∂M/∂d = -i k0 kz [[0, 1], [1, 0]] M``, by what is on top.

        Shapes (g, 1, b or 1, W) of ``kz``, (3, g, P, b, W) of ``rows``.
        """
        share, to_E, to_level = rows
        E, level = self.room.E[some], self.room.level[some]
        turn, spare = -1j * self.k0 * kz, self.room.spare[: len(kz)]
        both = np.subtract(level, E)
        both *= np.add(level, E, out=spare)
        both *= share
        both *= turn
        out.dR_dd[:, some] = mean(both.real.swapaxes(0, 1)).swapaxes(0, 1)
        np.multiply(to_E, level, out=both)
        both += np.multiply(to_level, E, out=spare)
        both *= turn
        out.dT_dd[:, some] = mean(both.real.swapaxes(0, 1)).swapaxes(0, 1)

    def _to_index(
        self,
        j: int,
        kz: ComplexArray,
        q: ComplexArray,
        top: tuple[ComplexArray, ComplexArray, ComplexArray],
        out: Gradient,
    ) -> None:
        """``λ δM v`` with the derivative of M to ε at a fixed direction, and to u."""
        share, to_E, to_level = (part / self.sizes[j] if j in self.sizes else part for part in top)
        E, level = self.room.E, self.room.level
        inverse = 1.0 / q
        rows = (share * level[j], share * E[j] * -inverse), (to_E, to_level * inverse)
        H_below = (q * self.steps[j]) * level[j + 1]
        n = self.index[:, j + 1]
        layer = Layer(n * n, kz, self.k0 * self.d[:, j, None], self.room.swing[j])
        part = 1.0 / len(self.wanted)
        for row, to_n, to_u in zip(
            rows, (out.dR_dn, out.dT_dn), (out.dR_du, out.dT_du), strict=True
        ):
            for i, one in enumerate(self.wanted):
                below = E[j + 1, i], H_below[i]
                to_eps, along_u = layer_slopes(layer, one == "p", (row[0][i], row[1][i]), below)
                to_n[:, j + 1] += part * 2.0 * n * to_eps
                np.add(to_u, part * along_u.real, out=to_u)

    def _to_outer(self, outer_R: ComplexArray, outer_T: ComplexArray, out: Gradient) -> None:
        """Chain derivatives to the outer admittances on to ε and u."""
        share = 1.0 / len(self.wanted)
        for at in (0, -1):
            n = self.index[:, at]
            kz = self.incidence.normal_component(n)
            for i, one in enumerate(self.wanted):
                slope_eps, slope_u = admittance_slopes(n * n, kz, one == "p")
                for outer, to_n, to_u in (
                    (outer_R, out.dR_dn, out.dR_du),
                    (outer_T, out.dT_dn, out.dT_du),
                ):
                    to_n[:, at] += share * 2.0 * n * slope_eps * outer[at, i]
                    np.add(to_u, share * (slope_u * outer[at, i]).real, out=to_u)


def _flat(array: NDArray[Scalar], lead: tuple[int, ...], tail: int) -> NDArray[Scalar]:
    """Leading axes as one: of length 1 where they hold one item, else of the product of lead."""
    own, rest = array.shape[: array.ndim - tail], array.shape[array.ndim - tail :]
    if math.prod(own) == 1:
        return array.reshape((1, *rest))
    return np.broadcast_to(array, lead + rest).reshape((-1, *rest))
