"""A thick transparent slab: its two faces, with their films, add as powers."""

from __future__ import annotations

import numpy as np

from ..._typing import FloatArray
from ..stack_arrays import Face as Face
from .transfer_matrix import (
    Incidence,
    Polarization,
    coherent_powers,
    reflectance_transmittance,
    separate,
)

_TRACE = 1e-8  # below it the sum of the losses is closer than one less their product

SlabPowers = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]


def slab_powers(
    front: Face,
    back: Face,
    slab_nm: float,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    polarization: Polarization,
) -> SlabPowers:
    """R, T (..., W) and the absorptance of front films, slab and back films.

    Parameters
    ----------
    front, back : tuple
        Index and thickness of each face, both listed from the air inward.
    slab_nm : float
        Thickness of the slab [nm], far above the coherence length of the light.
    incidence : Incidence
        Direction of the light in the air before the front face.

    Returns
    -------
    R, T, front_A, slab_A, back_A : ndarray
        Shapes (..., W), (..., W), (..., L_front, W), (..., W), (..., L_back, W).

    Notes
    -----
    Summing the powers of all passes, with ``τ`` the transmittance of one crossing:
    ``R = R_f + T_f² τ² R_b / (1 - R_f' R_b τ²)``, ``T = T_f τ T_b / (1 - R_f' R_b τ²)``, the
    prime marking the face as met from inside. Each polarisation is summed by itself.

    References
    ----------
    H. A. Macleod, Thin-Film Optical Filters, 4th ed., section 2.14 (from memory).
    """
    each = [
        _one(front, back, slab_nm, wavelength_nm, incidence, one)
        for one in separate(polarization, incidence)
    ]
    R, T, front_A, slab_A, back_A = (sum(p) / len(each) for p in zip(*each, strict=True))
    return R, T, front_A, slab_A, back_A


def slab_reflectance_transmittance(
    front: Face,
    back: Face,
    slab_nm: float,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    polarization: Polarization,
) -> tuple[FloatArray, FloatArray]:
    """R and T (..., W) of :func:`slab_powers` alone, at some two thirds of its cost."""
    each = [
        _reflectance_transmittance(front, back, slab_nm, wavelength_nm, incidence, one)
        for one in separate(polarization, incidence)
    ]
    R, T = (sum(part) / len(each) for part in zip(*each, strict=True))
    return R, T


def _reflectance_transmittance(
    front: Face,
    back: Face,
    slab_nm: float,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    one: Polarization,
) -> tuple[FloatArray, FloatArray]:
    crossing = np.exp(-_optical_depth(front, slab_nm, wavelength_nm, incidence))
    R_out, T_in = reflectance_transmittance(*front, wavelength_nm, incidence, one)
    R_in, T_out = reflectance_transmittance(*_turn_over(front), wavelength_nm, incidence, one)
    R_far, T_far = reflectance_transmittance(*_turn_over(back), wavelength_nm, incidence, one)
    leaving = 1.0 - R_in * R_far * crossing**2
    if np.any(leaving <= _TRACE):  # the faces' own losses are needed to say what leaves
        return _one(front, back, slab_nm, wavelength_nm, incidence, one)[:2]
    starting = T_in / leaving
    return R_out + starting * crossing**2 * R_far * T_out, starting * crossing * T_far


def _one(
    front: Face,
    back: Face,
    slab_nm: float,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    one: Polarization,
) -> SlabPowers:
    depth = _optical_depth(front, slab_nm, wavelength_nm, incidence)
    crossing = np.exp(-depth)
    R_out, T_in, A_out = coherent_powers(*front, wavelength_nm, incidence, one)
    R_in, T_out, A_in = coherent_powers(*_turn_over(front), wavelength_nm, incidence, one)
    R_far, T_far, A_far = coherent_powers(*_turn_over(back), wavelength_nm, incidence, one)
    # Light that sets out from the front face, and light that comes back to it.
    leaving = 1.0 - R_in * R_far * crossing**2
    # At grazing incidence both faces of a clear slab reflect all but a trace, lost in 1 - R².
    trace = T_out + A_in.sum(axis=-2) + T_far + A_far.sum(axis=-2) - np.expm1(-2.0 * depth)
    leaving = np.where(leaving > _TRACE, leaving, trace)
    starting = T_in / np.where(leaving > 0.0, leaving, 1.0)
    returning = starting * crossing**2 * R_far
    R = R_out + returning * T_out
    T = starting * crossing * T_far
    front_A = A_out + returning[..., None, :] * A_in[..., ::-1, :]
    back_A = (starting * crossing)[..., None, :] * A_far[..., ::-1, :]
    # What is left is the slab's: its own absorption, and the small cross term of opposite waves
    # in an absorbing medium, which powers alone do not carry.
    slab_A = 1.0 - R - T - front_A.sum(axis=-2) - back_A.sum(axis=-2)
    return R, T, front_A, slab_A, back_A


def _optical_depth(
    front: Face, slab_nm: float, wavelength_nm: FloatArray, incidence: Incidence
) -> FloatArray:
    """Negative log of the power that one crossing of the slab leaves."""
    kz = incidence.normal_component(front[0][..., -1, :])
    return np.asarray(4.0 * np.pi * slab_nm / wavelength_nm * kz.imag)


def _turn_over(face: Face) -> Face:
    index, thickness_nm = face
    return index[..., ::-1, :], thickness_nm[..., ::-1]
