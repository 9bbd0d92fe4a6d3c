"""A thick transparent slab: its two faces, with their films, add as powers."""

from __future__ import annotations

import numpy as np

from ..._typing import ComplexArray, FloatArray
from ..stack_arrays import Face as Face
from .transfer_matrix import (
    Incidence,
    Polarization,
    coherent_powers,
    reflectance_transmittance,
    separate,
)
from .two_faces import TRACE, TwoFaces

SlabPowers = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]


def slab_powers(
    front: Face,
    back: Face,
    slab_nm: float,
    *,
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
    The powers of all passes are summed (:mod:`.two_faces`), each polarisation by itself.
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
    *,
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
    faces = TwoFaces(
        reflectance_transmittance(*front, wavelength_nm, incidence=incidence, polarization=one),
        reflectance_transmittance(
            *turn_over(front), wavelength_nm, incidence=incidence, polarization=one
        ),
        reflectance_transmittance(
            *turn_over(back), wavelength_nm, incidence=incidence, polarization=one
        ),
        np.exp(-optical_depth(front[0][..., -1, :], slab_nm, wavelength_nm, incidence=incidence)),
    )
    if np.any(faces.leaving <= TRACE):  # the faces' own losses are needed to say what leaves
        return _one(front, back, slab_nm, wavelength_nm, incidence, one)[:2]
    return faces.R, faces.T


def _one(
    front: Face,
    back: Face,
    slab_nm: float,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    one: Polarization,
) -> SlabPowers:
    depth = optical_depth(front[0][..., -1, :], slab_nm, wavelength_nm, incidence=incidence)
    R_out, T_in, A_out = coherent_powers(
        *front, wavelength_nm, incidence=incidence, polarization=one
    )
    R_in, T_out, A_in = coherent_powers(
        *turn_over(front), wavelength_nm, incidence=incidence, polarization=one
    )
    R_far, T_far, A_far = coherent_powers(
        *turn_over(back), wavelength_nm, incidence=incidence, polarization=one
    )
    losses = T_out + A_in.sum(axis=-2) + T_far + A_far.sum(axis=-2) - np.expm1(-2.0 * depth)
    faces = TwoFaces((R_out, T_in), (R_in, T_out), (R_far, T_far), np.exp(-depth), losses)
    R, T = faces.R, faces.T
    front_A = A_out + faces.returning[..., None, :] * A_in[..., ::-1, :]
    back_A = (faces.starting * faces.crossing)[..., None, :] * A_far[..., ::-1, :]
    # What is left is the slab's: its own absorption, and the small cross term of opposite waves
    # in an absorbing medium, which powers alone do not carry.
    slab_A = 1.0 - R - T - front_A.sum(axis=-2) - back_A.sum(axis=-2)
    return R, T, front_A, slab_A, back_A


def optical_depth(
    glass: ComplexArray, slab_nm: float, wavelength_nm: FloatArray, *, incidence: Incidence
) -> FloatArray:
    """Negative log of the power that one crossing of the slab leaves: ``2 k0 d Im kz``."""
    kz = incidence.normal_component(glass)
    return np.asarray(4.0 * np.pi * slab_nm / wavelength_nm * kz.imag)


def turn_over(face: Face) -> Face:
    """The same face met from the other side."""
    index, thickness_nm = face
    return index[..., ::-1, :], thickness_nm[..., ::-1]
