"""What a stack does to light: the plain result that passes from optics to colour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..display import Displayed

DEFAULT_WAVELENGTH_NM: NDArray[np.float64] = np.arange(380.0, 781.0, 5.0)
"""The grid for colour: within 0.03 ΔE of a 1 nm grid."""


@dataclass(frozen=True, eq=False)
class Response(Displayed):
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

    wavelength_nm: NDArray[np.float64]
    R: NDArray[np.float64]
    T: NDArray[np.float64]
    layer_A: NDArray[np.float64] | None

    @property
    def A(self) -> NDArray[np.float64]:
        """Absorptance 1 - R - T, shape (..., W)."""
        return 1.0 - self.R - self.T
