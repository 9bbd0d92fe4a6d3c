"""Reflectance and transmittance of a coherent stack with their derivatives to every layer.

The fields are carried from the substrate up as in :mod:`~oxhue.optics.films.transfer`, kept at
every boundary, and met by adjoint rows carried from the surface down. All derivatives cost a few
forward passes whatever the number of layers; memory grows with the number of layers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .incidence import TINY_KZ, ComplexArray, FloatArray, Incidence, Polarization, separate
from .indexslopes import Layer, admittance_slopes, layer_slopes
from .phase import swing_of
from .recursion import (
    RESCALE_EVERY,
    Fields,
    cross,
    groups,
    phases,
    squared,
    strength_of,
    waves,
)
from .transfer import _checked

Scalar = TypeVar("Scalar", bound=np.generic)

_BLOCK_ELEMENTS = 16_384  # stacks × wavelengths × polarisations at a time


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
    step = max(1, _BLOCK_ELEMENTS // max(points * len(wanted), 1))
    for start in range(0, stacks, step):
        rows = slice(start, min(start + step, stacks))
        n, d, ambient_eps, normal = (p[rows] if p.shape[0] > 1 else p for p in parts)
        passed = _Pass.up(n, d, k0, Incidence(ambient_eps, normal), wanted)
        passed.down(Gradient(*(getattr(whole, f.name)[rows] for f in fields(Gradient))))
    arrays = (getattr(whole, f.name) for f in fields(Gradient))
    return Gradient(*(array.reshape(lead + array.shape[1:]) for array in arrays))


@dataclass(frozen=True, eq=False)
class _Pass:
    """Fields of a block at every boundary, and what a way back down needs.

    Shapes (L + 1, P, b, W) of fields, of P polarisations and b stacks; (L, b, W) of ``swing``.
    """

    index: ComplexArray
    d: FloatArray
    k0: FloatArray
    incidence: Incidence
    wanted: Sequence[str]
    E: ComplexArray
    H: ComplexArray
    swing: ComplexArray
    sizes: dict[int, FloatArray]  # what the fields at some layers' tops were divided by
    growth: FloatArray  # log of all that was divided out

    @classmethod
    def up(
        cls,
        index: ComplexArray,
        d: FloatArray,
        k0: FloatArray,
        incidence: Incidence,
        wanted: Sequence[str],
    ) -> _Pass:
        """Carry the fields up: index (b or 1, L + 2, W), d (b or 1, L), directions (b or 1, W)."""
        layers, media = d.shape[-1], index.swapaxes(0, 1)
        shape = len(wanted), max(index.shape[0], d.shape[0], *incidence.lead), k0.size
        together = _together(shape[1:])
        E, H = np.empty((2, layers + 1, *shape), dtype=complex)
        swing = np.empty((layers, *shape[1:]), dtype=complex)
        room = np.empty((3, min(together, max(layers, 1)), *shape[1:]))
        turned, sizes, growth = np.empty_like(E[0]), {}, np.zeros(shape)
        E[-1], H[-1] = 1.0, waves(media[-1], incidence, wanted)[1]
        for some in groups(layers, together):
            kz, q = waves(media[1:-1][some], incidence, wanted)
            across, fade, spare = room[:, : len(kz)]
            fades = phases(d.T[some], k0, kz, across, fade)
            if fades:
                growth += fade[0] if len(kz) == 1 else fade.sum(axis=0)
            swing_of(across, fade if fades else None, spare, swing[some])
            for j in range(some.stop - 1, some.start - 1, -1):
                below, above = (E[j + 1], H[j + 1]), (E[j], H[j])
                cross(below, above, swing[j], q[:, j - some.start], turned)
                if j % RESCALE_EVERY == 0:
                    sizes[j] = np.abs(E[j]) + np.abs(H[j])
                    E[j] /= sizes[j]
                    H[j] /= sizes[j]
                    growth += np.log(sizes[j])
        return cls(index, d, k0, incidence, wanted, E, H, swing, sizes, growth)

    def down(self, out: Gradient) -> None:
        """Carry the adjoints down and put powers and derivatives in their places."""
        across = waves(self.index[:, 0], self.incidence, self.wanted)[1]
        bottom = waves(self.index[:, -1], self.incidence, self.wanted)[1]
        incident = across * self.E[0] + self.H[0]
        r = (across * self.E[0] - self.H[0]) / incident
        passed = 4.0 * strength_of(across) * np.exp(-2.0 * self.growth) / squared(incident)
        T = passed * bottom.real
        out.R[...], out.T[...] = squared(r).mean(axis=0), T.mean(axis=0)
        # |r|² changes by 2 Re(r* δr), and T falls as |a|², a the incident amplitude.
        share = 4.0 * np.conj(r) * across / incident**2
        row = -2.0 * T * across / incident, -2.0 * T / incident
        outer_R, outer_T = np.zeros((2, 2, *share.shape), dtype=complex)
        outer_R[0] = 4.0 * np.conj(r) * self.E[0] * self.H[0] / incident**2
        outer_T[0] = T * _strength_slope(across) + row[1] * self.E[0]
        to_index = out.dR_dn.shape[-2] > 0
        for some in reversed(list(groups(len(self.swing), _together(share.shape[1:])))):
            self._descend(some, share, row, out, to_index)
        # The top and bottom admittances also stand outside the recursion.
        outer_R[1] = -share * self.E[-1]
        outer_T[1] = row[1] + passed
        if to_index:
            self._to_outer(outer_R, outer_T, out)

    def _descend(
        self, some: slice, share: ComplexArray, row: Fields, out: Gradient, to_index: bool
    ) -> None:
        """Carry the adjoints, which are overwritten, down through some layers."""
        kz, q = waves(self.index.swapaxes(0, 1)[1:-1][some], self.incidence, self.wanted)
        tops = np.empty((3, len(kz), *share.shape), dtype=complex)
        adjoints, spare = (share, *row), np.empty_like(share)
        inverse, det = 1.0 / q, 1.0 - 2.0 * self.swing[some]  # det M = exp(2iδ)
        for i, j in enumerate(range(some.start, some.stop)):
            scale = 1.0 / self.sizes[j] if j in self.sizes else None
            for top, part in zip(tops, adjoints, strict=True):
                top[i] = part
                if scale is not None:
                    np.multiply(part, scale, out=part)
            if to_index:
                rows = (share * self.H[j], -share * self.E[j]), row
                self._to_index(j, kz[i], rows, out)
            cross(row, row, self.swing[j], inverse[:, i], spare)
            share *= det[i]
            if scale is not None:
                share *= scale
        self._to_thickness(some, kz[:, None], q.swapaxes(0, 1), tops, out)

    def _to_thickness(
        self, some: slice, kz: ComplexArray, q: ComplexArray, tops: ComplexArray, out: Gradient
    ) -> None:
        """``λ δM v`` with ``∂M/∂d = -i k0 kz [[0, 1/q], [q, 0]] M``, by the fields on top.

        Shapes (g, P, b, W) of g layers; ``tops`` holds ``share`` and both rows, and is overwritten.
        """
        share, row_E, row_H = tops
        E, turn = self.E[some], -1j * self.k0 * kz
        level = self.H[some] * (1.0 / q)
        both = level - E
        both *= level + E
        both *= share
        both *= turn * q
        out.dR_dd[:, some] = both.real.mean(axis=1).swapaxes(0, 1)
        level *= row_E
        row_H *= E
        row_H *= q
        level += row_H
        level *= turn
        out.dT_dd[:, some] = level.real.mean(axis=1).swapaxes(0, 1)

    def _to_index(
        self, j: int, kz: ComplexArray, rows: tuple[Fields, Fields], out: Gradient
    ) -> None:
        """``λ δM v`` with the derivative of M to ε at a fixed direction, and to u."""
        n = self.index[:, j + 1]
        layer = Layer(n * n, kz, self.k0 * self.d[:, j, None], self.swing[j])
        share = 1.0 / len(self.wanted)
        for row, to_n, to_u in zip(
            rows, (out.dR_dn, out.dT_dn), (out.dR_du, out.dT_du), strict=True
        ):
            for i, one in enumerate(self.wanted):
                below = self.E[j + 1, i], self.H[j + 1, i]
                to_eps, along_u = layer_slopes(layer, one == "p", (row[0][i], row[1][i]), below)
                to_n[:, j + 1] += share * 2.0 * n * to_eps
                np.add(to_u, share * along_u.real, out=to_u)

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


def _together(shape: tuple[int, ...]) -> int:
    """How many layers of b stacks and W wavelengths are worked on in one go."""
    return max(1, _BLOCK_ELEMENTS // max(math.prod(shape), 1))


def _strength_slope(across: ComplexArray) -> ComplexArray:
    """d ln(|q|²/Re q) as a derivative to complex q."""
    travels = across.real > TINY_KZ * np.abs(across.imag)
    one = np.ones_like(across)
    return 2.0 / across - np.divide(one, across.real, out=np.zeros_like(one), where=travels)


def _flat(array: NDArray[Scalar], lead: tuple[int, ...], tail: int) -> NDArray[Scalar]:
    """Leading axes as one: of length 1 where they hold one item, else of the product of lead."""
    own, rest = array.shape[: array.ndim - tail], array.shape[array.ndim - tail :]
    if math.prod(own) == 1:
        return array.reshape((1, *rest))
    return np.broadcast_to(array, lead + rest).reshape((-1, *rest))
