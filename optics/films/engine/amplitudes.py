"""Complex amplitudes of coherent stacks, where a phase is asked for and not power alone."""

from __future__ import annotations

import numpy as np

from ..._typing import ComplexArray, FloatArray
from .incidence import Incidence, Polarization
from .phase import round_trips
from .recursion import RESCALE_OFTEN, cross_layer, waves


def amplitudes(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    one: Polarization,
) -> tuple[ComplexArray, ComplexArray]:
    """r and t (..., W) of stacks (..., L + 2, W) and (..., L), of E for s and of H for p.

    The fields are carried up as in :mod:`.recursion`, here with all of the phase. Inputs are
    trusted.

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed., section 1.6.2.
    """
    lead = np.broadcast_shapes(index.shape[:-2], thickness_nm.shape[:-1], incidence.lead)
    E, H_over_q, crossing = np.ones((3, *lead, wavelength_nm.size), dtype=complex)
    spare = np.empty_like(E)
    k0 = 2.0 * np.pi / wavelength_nm
    (below,) = waves(index[..., -1, :], incidence, (one,))[1]
    for j in range(thickness_nm.shape[-1], 0, -1):
        kz, (q,) = waves(index[..., j, :], incidence, (one,))
        phase = k0 * thickness_nm[..., j - 1, None] * kz  # δ = k0 d kz
        H_over_q *= below / q
        cross_layer((E, H_over_q), (E, H_over_q), round_trips(phase, 1.0), spare)
        crossing *= np.exp(1j * phase)  # what the fields are short of: exp(-i Σδ)
        if j % RESCALE_OFTEN == 0:
            size = np.abs(E) + np.abs(H_over_q)
            E /= size
            H_over_q /= size
            crossing /= size
        below = q
    (across,) = waves(index[..., 0, :], incidence, (one,))[1]
    H = H_over_q * below
    coming = across * E + H
    r = (across * E - H) / coming  # (q0 E - H)/(q0 E + H)
    t = 2.0 * across * crossing / coming  # 2 q0 / (q0 E + H), the wave below being 1
    return r, t
