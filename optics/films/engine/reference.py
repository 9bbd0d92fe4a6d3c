"""The optics of plane layers as a textbook writes it: read this first.

The fast engine (:mod:`~oxhue.optics.films.engine.transfer_matrix`) gives the same R and T, and the
tests hold it to that. The amplitudes r and t are worked out here alone.

References
----------
M. Born and E. Wolf, Principles of Optics, 7th ed., sections 1.5 and 1.6 (from memory).
"""

from __future__ import annotations

import numpy as np

from ..._typing import ComplexArray, FloatArray
from .incidence import TINY_KZ


def solve_by_fresnel(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    *,
    angle_deg: FloatArray | float,
    polarization: str,
) -> tuple[ComplexArray, ComplexArray, FloatArray, FloatArray]:
    """Amplitudes r, t and powers R, T, each (..., W), for s or p.

    ``index`` is (..., L + 2, W) from the ambient to the substrate, ``thickness_nm`` (..., L); an
    angle has the leading shape. For s the amplitudes are of E, for p of H, each at the first and
    the last boundary; the time factor is exp(-iωt). Inputs are trusted.
    """
    k0 = 2.0 * np.pi / wavelength_nm
    eps = index * index
    across = index[..., 0, :].real * np.sin(np.radians(angle_deg))[..., None]  # n0 sin θ
    kz = np.sqrt(eps - across[..., None, :] ** 2)  # kz/k0 = √(ε - n0² sin²θ), Im kz >= 0
    kz = np.where(kz == 0.0, TINY_KZ, kz)
    q = kz if polarization == "s" else kz / eps  # E and H along the boundary: kz (s), kz/ε (p)
    r, t = 0.0 + 0.0j, 1.0 + 0.0j  # below the last boundary nothing comes back
    for j in range(index.shape[-2] - 2, -1, -1):
        above, below = q[..., j, :], q[..., j + 1, :]
        fresnel = (above - below) / (above + below)  # ρ = (q_j - q_j+1)/(q_j + q_j+1)
        last = j == index.shape[-2] - 2
        delta = 0.0 if last else k0 * thickness_nm[..., j, None] * kz[..., j + 1, :]  # k0 d kz
        once = np.exp(1j * delta)  # one crossing of the layer below
        around = 1.0 + fresnel * r * once**2
        r, t = (
            (fresnel + r * once**2) / around,  # r = (ρ + r' e^2iδ)/(1 + ρ r' e^2iδ)
            (1.0 + fresnel) * t * once / around,  # t = (1 + ρ) t' e^iδ/(1 + ρ r' e^2iδ)
        )
    R = np.abs(r) ** 2
    T = np.abs(t) ** 2 * q[..., -1, :].real / q[..., 0, :].real  # flux Re q |t|² over the incident
    return np.asarray(r), np.asarray(t), R, T
