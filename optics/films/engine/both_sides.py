"""Many filmed pieces met from both sides in one pass: what reflects, what comes through."""

from __future__ import annotations

import numpy as np

from ..._typing import ComplexArray, FloatArray
from .incoherent import optical_depth, turn_over
from .thickness_scan import Base
from .transfer_matrix import Incidence, reflectance_transmittance, separate
from .two_faces import TwoFaces

BothSides = tuple[FloatArray, FloatArray | None, FloatArray | None, FloatArray]


def solve_both_sides(
    film_index: ComplexArray,
    film_nm: FloatArray,
    base: Base,
    *,
    wavelength_nm: FloatArray,
    angle_deg: float = 0.0,
    ambient: float = 1.0,
) -> BothSides:
    """Shares of unpolarised light that filmed pieces send back and let through.

    Parameters
    ----------
    film_index : ndarray of complex, shape (N, L, W)
        Index of the layers on each piece, from the air inward.
    film_nm : ndarray, shape (N, L)
    base : Base
        What they lie on, the same for all.
    wavelength_nm : ndarray, shape (W,)
    angle_deg : float
        In the medium before the film.
    ambient : float
        Index of that medium: air, or what covers the film.

    Returns
    -------
    front, back, through : ndarray, shape (N, W), or None
        The last two only where the base is a slab with a far face.
    entering : ndarray, shape (N, W)
        What the film's face alone lets into the base.

    Notes
    -----
    Faces of a slab add as in :mod:`~oxhue.optics.films.engine.incoherent`; both directions
    share the work.
    Inputs are trusted.
    """
    incidence = Incidence.at(np.full_like(wavelength_nm, ambient), np.asarray(angle_deg))
    index, thickness_nm = _put_on_base(film_index, film_nm, base, ambient)
    if base.slab_nm is None or base.back is None:
        R, T = reflectance_transmittance(
            index, thickness_nm, wavelength_nm, incidence=incidence, polarization="mean"
        )
        return R, None, None, T
    near, crossing = (
        (index, thickness_nm),
        np.exp(-optical_depth(base.index[-1], base.slab_nm, wavelength_nm, incidence=incidence)),
    )
    parts = []
    for one in separate("mean", incidence):
        outside, far_outside = (
            reflectance_transmittance(n, nm, wavelength_nm, incidence=incidence, polarization=one)
            for n, nm in (near, base.back)
        )
        # Power crosses a face between clear media alike in both directions.
        inside, far = (
            (
                reflectance_transmittance(
                    n, nm, wavelength_nm, incidence=incidence, polarization=one
                )[0],
                T,
            )
            for (n, nm), (_, T) in (
                (turn_over(near), outside),
                (turn_over(base.back), far_outside),
            )
        )
        front = TwoFaces(outside, inside, far, crossing)
        back = TwoFaces(far_outside, far, inside, crossing)
        parts.append((front.R, back.R, front.T, outside[1]))
    front, back, through, entering = (sum(part) / len(parts) for part in zip(*parts, strict=True))
    return front, back, through, entering


def _put_on_base(
    film_index: ComplexArray, film_nm: FloatArray, base: Base, ambient: float
) -> tuple[ComplexArray, FloatArray]:
    """The medium before the films, the films, and the base under each of them."""
    count, _, points = film_index.shape
    before = np.full((count, 1, points), ambient, dtype=complex)
    below = np.broadcast_to(base.index, (count, *base.index.shape))
    layers = np.broadcast_to(base.thickness_nm, (count, base.thickness_nm.size))
    return (
        np.concatenate([before, film_index, below], axis=1),
        np.concatenate([film_nm, layers], axis=1),
    )
