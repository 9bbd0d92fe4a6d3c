"""Derivatives of a slab with films on its faces: the sum of powers, differentiated by the chain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .gradient import Gradient, coherent_gradient
from .slab import Face
from .transfer import ComplexArray, FloatArray, Incidence, Polarization, separate


@dataclass(frozen=True, eq=False)
class SlabGradient:
    """Powers of a coated slab and how they change, for one tangential wave number.

    Attributes
    ----------
    R, T : ndarray, shape (..., W)
    front_dR_dd, front_dT_dd, back_dR_dd, back_dT_dd : ndarray, shape (..., L, W)
        Derivatives to the thickness of each film [1/nm], the films of both faces listed from the
        air inward.
    front_dR_dn, front_dT_dn, back_dR_dn, back_dT_dn : ndarray of complex, shape (..., L, W)
        Derivatives to the films' indices, ``∂/∂n - i ∂/∂k`` as in
        :class:`~oxhue.optics.films.gradient.Gradient`.
    slab_dR_dn, slab_dT_dn : ndarray of complex, shape (..., W)
        The same for the slab's own index, through both faces and the crossing between.
    """

    R: FloatArray
    T: FloatArray
    front_dR_dd: FloatArray
    front_dT_dd: FloatArray
    back_dR_dd: FloatArray
    back_dT_dd: FloatArray
    front_dR_dn: ComplexArray
    front_dT_dn: ComplexArray
    back_dR_dn: ComplexArray
    back_dT_dn: ComplexArray
    slab_dR_dn: ComplexArray
    slab_dT_dn: ComplexArray


def slab_gradient(
    front: Face,
    back: Face,
    slab_nm: float,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    polarization: Polarization,
    to_index: bool = True,
) -> SlabGradient:
    """R and T of a coated slab with their derivatives; the powers of ``slab_powers``.

    Parameters
    ----------
    front, back : tuple
        Index (..., L + 2, W) and thickness (..., L) of each face, both listed from the air inward.
    slab_nm : float
    incidence : Incidence
        Direction of the light in the air before the front face, which is held.
    to_index : bool
        Without it the derivatives to the films' indices are of no rows, and the slab's are 0.

    Returns
    -------
    SlabGradient

    Notes
    -----
    With ``N = 1 - R_f' R_b τ²``: ``R = R_f + T_f T_f' τ² R_b / N`` and ``T = T_f τ T_b / N``
    (:mod:`~oxhue.optics.films.slab`). Within a hair of grazing incidence, where N vanishes for a
    clear slab, the derivatives lose their digits before the powers do.
    """
    each = [
        _one(front, back, slab_nm, wavelength_nm, incidence, one, to_index)
        for one in separate(polarization, incidence)
    ]
    return SlabGradient(*(sum(part) / len(each) for part in zip(*each, strict=True)))


def _one(
    front: Face,
    back: Face,
    slab_nm: float,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    one: Polarization,
    to_index: bool,
) -> tuple[Any, ...]:
    """The fields of :class:`SlabGradient` in their order, for one polarisation."""
    outside = coherent_gradient(*front, wavelength_nm, incidence, one, to_index)
    inside = _from_inside(front, wavelength_nm, incidence, one, to_index)
    far = _from_inside(back, wavelength_nm, incidence, one, to_index)
    crossing, slope = _crossing(front[0][..., -1, :], slab_nm, wavelength_nm, incidence)
    square = crossing * crossing
    around = 1.0 / (1.0 - inside.R * far.R * square)
    starting, returning = outside.T * around, square * far.R * around
    R = outside.R + outside.T * inside.T * returning
    T = starting * crossing * far.T
    # Derivatives of R and T to (T_f, R_f', T_f', R_b, T_b, τ); R_f enters R as it is.
    loop = starting * inside.T * square * around
    to_R = (
        inside.T * returning, loop * square * far.R * far.R, outside.T * returning, loop,
        np.zeros_like(R), 2.0 * starting * inside.T * crossing * far.R * around,
    )  # fmt: skip
    gain = T * around
    to_T = (
        crossing * far.T * around, gain * far.R * square, np.zeros_like(R),
        gain * inside.R * square, starting * crossing,
        starting * far.T * around * (1.0 + inside.R * far.R * square),
    )  # fmt: skip
    thickness, index = (_chained(name, outside, inside, far, to_R, to_T) for name in ("dd", "dn"))
    if not to_index:
        return (R, T, *thickness, *index, np.zeros_like(R), np.zeros_like(R))
    slab_R, slab_T = (
        index[i][..., -1, :] + index[i + 2][..., -1, :] + to[5] * slope
        for i, to in enumerate((to_R, to_T))
    )
    return (R, T, *thickness, *(part[..., 1:-1, :] for part in index), slab_R, slab_T)


def _chained(
    name: str,
    outside: Gradient,
    inside: Gradient,
    far: Gradient,
    to_R: tuple[FloatArray, ...],
    to_T: tuple[FloatArray, ...],
) -> list[ComplexArray]:
    """Derivatives of R, T to the front's rows, then to the back's."""
    R_f, T_f = getattr(outside, f"dR_{name}"), getattr(outside, f"dT_{name}")
    R_in, T_in = (getattr(inside, f"d{power}_{name}")[..., ::-1, :] for power in "RT")
    R_far, T_far = (getattr(far, f"d{power}_{name}")[..., ::-1, :] for power in "RT")
    front = [
        direct + to[0][..., None, :] * T_f + to[1][..., None, :] * R_in + to[2][..., None, :] * T_in
        for direct, to in ((R_f, to_R), (0.0, to_T))
    ]
    back = [to[3][..., None, :] * R_far + to[4][..., None, :] * T_far for to in (to_R, to_T)]
    return front + back


def _from_inside(
    face: Face,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    one: Polarization,
    to_index: bool,
) -> Gradient:
    index, thickness_nm = face
    return coherent_gradient(
        index[..., ::-1, :], thickness_nm[..., ::-1], wavelength_nm, incidence, one, to_index
    )


def _crossing(
    glass: ComplexArray, slab_nm: float, wavelength_nm: FloatArray, incidence: Incidence
) -> tuple[FloatArray, ComplexArray]:
    """Transmittance of one crossing, exp(-2 k0 d Im kz), and its derivative to the index."""
    kz = np.sqrt((glass * glass - incidence.ambient_eps) + incidence.normal_squared)
    depth = 4.0 * np.pi * slab_nm / wavelength_nm
    crossing = np.exp(-depth * kz.imag)
    # Im z = Re(-i z), so the derivative of Im kz is -i n/kz.
    return crossing, crossing * depth * 1j * glass / kz
