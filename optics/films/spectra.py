"""What a stack does to light: the plain results that pass from optics to colour and to designs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..result import Result

Asked = Literal["R", "T", "RT"]

DEFAULT_WAVELENGTH_NM: FloatArray = np.arange(380.0, 781.0, 5.0)
"""The grid for colour: within 0.03 ΔE of a 1 nm grid."""


@dataclass(frozen=True, eq=False, repr=False)
class Spectra(Result):
    """Power fractions of one or many stacks over wavelength.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (W,)
        Vacuum wavelength [nm].
    R, T : ndarray, shape (..., W)
        Reflectance and transmittance [-]. For a half-space substrate ``T`` is the light that
        enters it; for a slab, the light that leaves its far face.
    layer_A : ndarray, shape (..., layers, W), or None
        Absorptance of each layer [-] from the side the stack is listed from; a slab counts
        as one layer between its front and back films. None where it was not asked for.
    """

    wavelength_nm: FloatArray
    R: FloatArray
    T: FloatArray
    layer_A: FloatArray | None

    @property
    def A(self) -> FloatArray:
        """Absorptance 1 - R - T, shape (..., W)."""
        return 1.0 - self.R - self.T


@dataclass(frozen=True, eq=False)
class Gradient:
    """Powers of stacks and how they change.

    Attributes
    ----------
    R, T : ndarray, shape (..., W)
        Reflectance and transmittance [-].
    dR_dd, dT_dd : ndarray, shape (..., L, W), or (..., 0, W) if not asked for
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
