"""Reflectance and transmittance of a coherent stack with their derivatives to every layer.

The fields are carried from the substrate up as in :mod:`~oxhue.optics.films.transfer`, kept at
every boundary, and met by two adjoint rows carried from the surface down. All derivatives cost a
few forward passes whatever the number of layers; memory grows with the number of layers.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .transfer import ComplexArray, FloatArray, Incidence, Polarization, _checked, separate

Scalar = TypeVar("Scalar", bound=np.generic)

_BLOCK_ELEMENTS = 2_048  # stacks × wavelengths at a time: the working arrays stay in cache
_RESCALE_EVERY = 8  # layers; fields grow by far less than 1e300 between two rescalings
_TINY_KZ = 1e-30  # stands for kz = 0, where s/kz has a finite limit
_SHORT_PHASE = 0.05  # below it the difference of two terms is taken from its series


@dataclass(frozen=True, eq=False)
class Gradient:
    """Powers of stacks and how they change.

    Attributes
    ----------
    R, T : ndarray, shape (..., W)
        Reflectance and transmittance [-].
    dR_dd, dT_dd : ndarray, shape (..., L, W)
        Derivatives to the thickness of each layer [1/nm].
    dR_dn, dT_dn : ndarray of complex, shape (..., L + 2, W)
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
) -> Gradient:
    """Powers and derivatives for one tangential wave number, which is held. Inputs are trusted."""
    wanted = separate(polarization, incidence)
    lead = np.broadcast_shapes(index.shape[:-2], thickness_nm.shape[:-1], incidence.lead)
    layers, points, rows = index.shape[-2] - 2, wavelength_nm.size, math.prod(lead)
    whole: dict[str, NDArray[Any]] = {
        name: np.empty((rows, points)) for name in ("R", "T", "dR_du", "dT_du")
    }
    whole |= {name: np.empty((rows, layers, points)) for name in ("dR_dd", "dT_dd")}
    whole |= {
        name: np.empty((rows, layers + 2, points), dtype=complex) for name in ("dR_dn", "dT_dn")
    }
    parts: tuple[NDArray[Any], ...] = (
        _flat(index, lead, 2),
        _flat(thickness_nm, lead, 1),
        _flat(incidence.ambient_eps, lead, 1),
        _flat(incidence.normal_squared, lead, 1),
    )
    k0 = 2.0 * np.pi / wavelength_nm
    for block in _blocks(rows, points):
        n, d, ambient_eps, normal = (p[block] if p.shape[0] > 1 else p for p in parts)
        each = [_Pass.through(n, d, k0, ambient_eps, normal, one).gradient() for one in wanted]
        for name, array in whole.items():
            array[block] = sum(getattr(one, name) for one in each) / len(each)
    return Gradient(
        **{f.name: whole[f.name].reshape(lead + whole[f.name].shape[1:]) for f in fields(Gradient)}
    )


@dataclass(frozen=True, eq=False)
class _Pass:
    """One polarisation's fields at every boundary, and what a way back down needs.

    Shapes (b, L + 1, W) of fields, (b, L, W) of the terms of the layers, (b, L + 2, W) of media.
    """

    index: ComplexArray
    eps: ComplexArray
    kz: ComplexArray
    q: ComplexArray
    swing: ComplexArray  # -i sin δ exp(iδ); cos δ exp(iδ) is one less it
    depth: FloatArray  # k0 d
    E: ComplexArray
    H: ComplexArray
    size: FloatArray  # what the fields at a layer's top were divided by
    growth: FloatArray  # log of all that was divided out, (b, W)
    k0: FloatArray
    p: bool

    @classmethod
    def through(
        cls,
        index: ComplexArray,
        d: FloatArray,
        k0: FloatArray,
        ambient_eps: FloatArray,
        normal_squared: FloatArray,
        one: str,
    ) -> _Pass:
        """Carry the fields up."""
        eps = index * index
        kz: ComplexArray = np.sqrt((eps - ambient_eps[:, None, :]) + normal_squared[:, None, :])
        kz[kz == 0.0] = _TINY_KZ
        p = one == "p"
        q = kz / eps if p else kz
        depth = k0 * d[..., None]
        phase = depth * kz[:, 1:-1]
        swing = np.asarray(-0.5 * np.expm1(2j * phase), dtype=complex)
        layers = depth.shape[-2]
        shape = (max(phase.shape[0], kz.shape[0]), layers + 1, k0.size)
        E, H = np.empty((2, *shape), dtype=complex)
        E[:, -1], H[:, -1] = 1.0, q[:, -1]
        size = np.ones((shape[0], layers, k0.size))
        growth = phase.imag.sum(axis=1) + np.zeros((shape[0], 1))
        for j in range(layers - 1, -1, -1):
            s, qj = swing[:, j], q[:, j + 1]
            level = 1.0 - s
            E[:, j] = level * E[:, j + 1] + (s / qj) * H[:, j + 1]
            H[:, j] = (s * qj) * E[:, j + 1] + level * H[:, j + 1]
            if j % _RESCALE_EVERY == 0:
                size[:, j] = np.abs(E[:, j]) + np.abs(H[:, j])
                E[:, j] /= size[:, j]
                H[:, j] /= size[:, j]
                growth += np.log(size[:, j])
        return cls(index, eps, kz, q, swing, depth, E, H, size, growth, k0, p)

    def gradient(self) -> Gradient:
        """Carry the adjoints down and gather the derivatives."""
        across = self.q[:, 0]
        incident = across * self.E[:, 0] + self.H[:, 0]
        r = (across * self.E[:, 0] - self.H[:, 0]) / incident
        R = r.real**2 + r.imag**2
        strength = _strength(across)
        passed = 4.0 * strength * np.exp(-2.0 * self.growth) / _squared(incident)
        T = passed * self.q[:, -1].real
        # To ln a, a the incident amplitude: T falls as |a|². To r: |r|² changes by 2 Re(r* δr).
        to_a, to_r = self._adjoints(incident)
        slopes = self._slopes()
        twice_r = 2.0 * np.conj(r)[:, None]
        dR_dd, dR_eps, dR_du, dR_q = (twice_r * part for part in self._assembled(*to_r, slopes))
        dT_dd, dT_eps, dT_du, dT_q = (-2.0 * T[:, None] * p for p in self._assembled(*to_a, slopes))
        # The top and bottom admittances also stand outside the recursion.
        dR_q[:, 0] = twice_r[:, 0] * 2.0 * self.E[:, 0] * self.H[:, 0] / incident**2
        dT_q[:, 0] = T * _strength_slope(across) - 2.0 * T * self.E[:, 0] / incident
        dT_q[:, 1] += passed
        outer = np.array([0, self.kz.shape[1] - 1])
        slope_eps, slope_u = self._admittance_slopes(outer)
        dR_eps[:, outer] = dR_q * slope_eps
        dT_eps[:, outer] = dT_q * slope_eps
        turned = 2.0 * self.index
        return Gradient(
            R, T, dR_dd.real, dT_dd.real, dR_eps * turned, dT_eps * turned,
            (dR_du.sum(axis=1) + (dR_q * slope_u).sum(axis=1)).real,
            (dT_du.sum(axis=1) + (dT_q * slope_u).sum(axis=1)).real,
        )  # fmt: skip

    def _adjoints(self, incident: ComplexArray) -> tuple[tuple[ComplexArray, ComplexArray], ...]:
        """Rows (b, L + 1, W) for E and H at every boundary: of ln a, then of r."""
        E, H, swing = self.E, self.H, self.swing
        down_E, down_H = np.empty((2, *E.shape), dtype=complex)
        share = np.empty(E.shape, dtype=complex)
        down_E[:, 0], down_H[:, 0] = self.q[:, 0] / incident, 1.0 / incident
        share[:, 0] = 2.0 * self.q[:, 0] / incident**2
        for j in range(swing.shape[1]):
            s, qj, size = swing[:, j], self.q[:, j + 1], self.size[:, j]
            level = 1.0 - s
            down_E[:, j + 1] = (level * down_E[:, j] + (s * qj) * down_H[:, j]) / size
            down_H[:, j + 1] = ((s / qj) * down_E[:, j] + level * down_H[:, j]) / size
            share[:, j + 1] = share[:, j] * (1.0 - 2.0 * s) / size**2  # det M = exp(2iδ)
        return (down_E, down_H), (share * H, -share * E)

    def _assembled(
        self,
        row_E: ComplexArray,
        row_H: ComplexArray,
        slopes: tuple[ComplexArray, ComplexArray, ComplexArray],
    ) -> tuple[ComplexArray, ComplexArray, ComplexArray, ComplexArray]:
        """``λ δM v`` to thickness, ε (ambient and substrate still empty), u; and to outer q."""
        E, H = self.E[:, 1:], self.H[:, 1:]
        scale = 1.0 / self.size
        row_E, row_H, bottom = row_E[:, :-1] * scale, row_H[:, :-1] * scale, row_H[:, -1]
        even, up, down = row_E * E + row_H * H, row_E * H, row_H * E
        eps, kz, k0, s = self.eps[:, 1:-1], self.kz[:, 1:-1], self.k0, self.swing
        level = 1.0 - s
        if self.p:
            up, down = up * eps, down / eps
        to_d = -1j * k0 * (kz * s * even + level * (up + kz * kz * down))
        bend, sharp, flat = slopes
        to_u = even * bend + up * sharp + down * flat
        to_eps = np.zeros((E.shape[0], self.kz.shape[1], E.shape[2]), dtype=complex)
        to_eps[:, 1:-1] = to_u
        if self.p:
            to_eps[:, 1:-1] += (up * (s / kz) - down * (s * kz)) / eps
        outer = np.zeros((E.shape[0], 2, E.shape[2]), dtype=complex)
        outer[:, 1] = bottom
        return to_d, to_eps, to_u, outer

    def _slopes(self) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """d/du of cos δ, -i sin δ/kz and -i kz sin δ, each times exp(iδ), shape (b, L, W)."""
        kz, s, depth = self.kz[:, 1:-1], self.swing, self.depth
        phase = depth * kz
        level = 1.0 - s
        half = 0.5 / kz
        bend = -1j * half * depth * s
        flat = half * (s - 1j * phase * level)
        sharp = -half / (kz * kz) * (1j * phase * level + s)
        short = np.abs(phase) < _SHORT_PHASE
        if short.any():
            depth, phase = np.broadcast_to(depth, short.shape)[short], phase[short]
            square = phase * phase
            series = -1.0 / 3.0 + square * (1.0 / 30.0 - square * (1.0 / 840.0 - square / 45360.0))
            sharp[short] = -0.5j * depth**3 * series * np.exp(1j * phase)
        return bend, sharp, flat

    def _admittance_slopes(self, which: NDArray[np.intp]) -> tuple[ComplexArray, ComplexArray]:
        """dq/dε at constant direction, and dq/du, of some media."""
        kz, eps = self.kz[:, which], self.eps[:, which]
        if self.p:
            slope_u = 0.5 / (kz * eps)
            return slope_u - kz / eps**2, slope_u
        return 0.5 / kz, 0.5 / kz


def _strength(across: ComplexArray) -> FloatArray:
    """|q|²/Re q of the ambient, and nothing where its wave fades instead of travelling."""
    travels = across.real > _TINY_KZ * np.abs(across.imag)
    return np.divide(_squared(across), across.real, out=np.zeros(across.shape), where=travels)


def _strength_slope(across: ComplexArray) -> ComplexArray:
    """d ln(|q|²/Re q) as a derivative to complex q."""
    travels = across.real > _TINY_KZ * np.abs(across.imag)
    one = np.ones_like(across)
    return 2.0 / across - np.divide(one, across.real, out=np.zeros_like(one), where=travels)


def _squared(z: ComplexArray) -> FloatArray:
    squared: FloatArray = z.real**2 + z.imag**2
    return squared


def _flat(array: NDArray[Scalar], lead: tuple[int, ...], tail: int) -> NDArray[Scalar]:
    """Leading axes as one: of length 1 where they hold one item, else of the product of lead."""
    own, rest = array.shape[: array.ndim - tail], array.shape[array.ndim - tail :]
    if math.prod(own) == 1:
        return array.reshape((1, *rest))
    return np.broadcast_to(array, lead + rest).reshape((-1, *rest))


def _blocks(rows: int, points: int) -> Iterator[slice]:
    step = max(1, _BLOCK_ELEMENTS // max(points, 1))
    return (slice(start, min(start + step, rows)) for start in range(0, rows, step))
