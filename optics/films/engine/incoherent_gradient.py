"""Derivatives of a slab with films on its faces: the sum of powers, differentiated by the chain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..._typing import ComplexArray, FloatArray
from ..spectra import Asked
from .gradient import Gradient, coherent_gradient
from .incoherent import Face, turn_over
from .transfer_matrix import Incidence, Polarization, separate
from .two_faces import TwoFaces


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
        :class:`~oxhue.optics.films.engine.gradient.Gradient`.
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
    *,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    polarization: Polarization,
    to_index: bool = True,
    of: Asked = "RT",
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
    of : {"R", "T", "RT"}
        Of which powers derivatives are wanted; those of the other are of no rows, or 0.

    Returns
    -------
    SlabGradient

    Notes
    -----
    The sum of :mod:`.two_faces`. Within a hair of grazing incidence, where
    N vanishes for a clear slab, the derivatives lose their digits before the powers do.
    """
    each = [
        _one(front, back, slab_nm, wavelength_nm, incidence, one, to_index, of)
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
    of: Asked,
) -> tuple[Any, ...]:
    """The fields of :class:`SlabGradient` in their order, for one polarisation."""

    def met(face: Face, asked: Asked) -> Gradient:
        return coherent_gradient(
            *face,
            wavelength_nm,
            incidence=incidence,
            polarization=one,
            to_index=to_index,
            of=asked,
        )

    outside = met(front, "T" if of == "T" else "RT")
    inside = met(turn_over(front), "R" if of == "T" else "RT")
    far = met(turn_over(back), "R" if of == "R" else "RT")
    crossing, slope = _crossing(front[0][..., -1, :], slab_nm, wavelength_nm, incidence)
    square = crossing * crossing
    passes = TwoFaces((outside.R, outside.T), (inside.R, inside.T), (far.R, far.T), crossing)
    around, starting, R, T = passes.around, passes.starting, passes.R, passes.T
    returning = square * far.R * around
    # Derivatives of R and T to (R_f, T_f, R_f', T_f', R_b, T_b), and to τ.
    loop, gain = starting * inside.T * square * around, T * around
    to_R: _Chain = (
        np.ones_like(R), inside.T * returning, loop * square * far.R * far.R, outside.T * returning,
        loop, None,
    )  # fmt: skip
    to_T: _Chain = (
        None, crossing * far.T * around, gain * far.R * square, None,
        gain * inside.R * square, starting * crossing,
    )  # fmt: skip
    R_crossing = 2.0 * starting * inside.T * crossing * far.R * around
    T_crossing = starting * far.T * around * (1.0 + inside.R * far.R * square)
    faces = outside, inside, far
    of_R = _chain(faces, to_R if "R" in of else None, R_crossing * slope, to_index)
    of_T = _chain(faces, to_T if "T" in of else None, T_crossing * slope, to_index)
    return (R, T, *(part for both in zip(of_R, of_T, strict=True) for part in both))


_Chain = tuple[FloatArray | None, ...]


def _chain(
    faces: tuple[Gradient, Gradient, Gradient],
    chain: _Chain | None,
    by_crossing: ComplexArray,
    to_index: bool,
) -> tuple[Any, ...]:
    """Derivatives of one power: to the thicknesses of front and back, to their indices, and to the
    slab's."""
    if chain is None:
        none = np.empty((*by_crossing.shape[:-1], 0, by_crossing.shape[-1]))
        return none, none, none, none, np.zeros_like(by_crossing)
    thicknesses, indices = (_along(name, faces, chain) for name in ("dd", "dn"))
    if not to_index:
        return *thicknesses, *indices, np.zeros_like(by_crossing)
    front, back = indices
    slab = front[..., -1, :] + back[..., -1, :] + by_crossing
    return *thicknesses, front[..., 1:-1, :], back[..., 1:-1, :], slab


def _along(name: str, faces: tuple[Gradient, Gradient, Gradient], chain: _Chain) -> tuple[Any, Any]:
    """Derivatives of one power to the rows of the front and of the back."""
    steps = zip(faces, (1, -1, -1), strict=True)
    slopes = [getattr(face, f"d{one}_{name}")[..., ::by, :] for face, by in steps for one in "RT"]
    parts = [
        0.0 if to is None else to[..., None, :] * slope
        for to, slope in zip(chain, slopes, strict=True)
    ]
    return parts[0] + parts[1] + parts[2] + parts[3], parts[4] + parts[5]


def _crossing(
    glass: ComplexArray, slab_nm: float, wavelength_nm: FloatArray, incidence: Incidence
) -> tuple[FloatArray, ComplexArray]:
    """Transmittance of one crossing, exp(-2 k0 d Im kz), and its derivative to the index."""
    kz = np.sqrt((glass * glass - incidence.ambient_eps) + incidence.normal_squared)
    depth = 4.0 * np.pi * slab_nm / wavelength_nm
    crossing = np.exp(-depth * kz.imag)
    # Im z = Re(-i z), so the derivative of Im kz is -i n/kz.
    return crossing, crossing * depth * 1j * glass / kz
