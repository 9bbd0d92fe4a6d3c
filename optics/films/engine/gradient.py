"""Reflectance and transmittance of a coherent stack with their derivatives to every layer.

The fields are carried from the substrate up as in
:mod:`~oxhue.optics.films.engine.transfer_matrix`, kept at every boundary, and met by
adjoint rows carried from the surface down. All derivatives cost a few forward passes whatever the
number of layers; memory grows with the number of layers.
"""

from __future__ import annotations

import math
from dataclasses import fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..._typing import ComplexArray, FloatArray
from ..spectra import Asked
from ..spectra import Gradient as Gradient
from .adjoint import AdjointPass, StoredFields
from .incidence import Incidence, Polarization, separate
from .recursion import Block
from .transfer_matrix import _check_inputs, make_series

Scalar = TypeVar("Scalar", bound=np.generic)

# Numbers kept in a block, which should stay in the caches; but fewer stacks × wavelengths than the
# second make calls dear.
_BLOCK_ELEMENTS, _FEWEST_ELEMENTS = 1_000_000, 16_384


def gradient(
    index: ArrayLike,
    thickness_nm: ArrayLike,
    wavelength_nm: ArrayLike,
    *,
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
        As :func:`~oxhue.optics.films.engine.transfer_matrix.solve_arrays`.

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
    n, d, wavelength, angle = _check_inputs(index, thickness_nm, wavelength_nm, angle_deg)
    ambient = n[..., 0, :].real
    found = coherent_gradient(
        n, d, wavelength, incidence=Incidence.at(ambient, angle), polarization=polarization
    )
    # At a fixed angle the tangential wave number follows the ambient's index.
    turn = -2.0 * ambient * np.sin(np.deg2rad(angle))[..., None] ** 2
    found.dR_dn[..., 0, :] += turn * found.dR_du
    found.dT_dn[..., 0, :] += turn * found.dT_du
    return found


def coherent_gradient(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    *,
    incidence: Incidence,
    polarization: Polarization,
    to_index: bool = True,
    of: Asked = "RT",
) -> Gradient:
    """Powers and derivatives for one tangential wave number, which is held. Inputs are trusted.

    Without ``to_index`` the derivatives to the indices, and to ``u``, are left out; ``of`` one
    power, those of the other are.
    """
    wanted = separate(polarization, incidence)
    lead = np.broadcast_shapes(index.shape[:-2], thickness_nm.shape[:-1], incidence.lead)
    layers, points, stacks = index.shape[-2] - 2, wavelength_nm.size, math.prod(lead)
    # Laid out as they are written, layer by layer.
    slopes = iter(np.empty((len(of), layers, stacks, points)).swapaxes(1, 2))
    media = layers + 2 if to_index else 0
    indices = iter(np.zeros((len(of), stacks, media, points), dtype=complex))
    none = np.empty((stacks, 0, points))
    whole = Gradient(
        *np.empty((2, stacks, points)),
        *(next(slopes) if one in of else none for one in "RT"),
        *(next(indices) if one in of else none.astype(complex) for one in "RT"),
        *np.zeros((2, stacks, points)),
    )
    parts: tuple[NDArray[Any], ...] = (
        _flatten(index, lead, 2),
        _flatten(thickness_nm, lead, 1),
        _flatten(incidence.ambient_n, lead, 1),
        _flatten(incidence.cosine, lead, 1),
    )
    k0 = 2.0 * np.pi / wavelength_nm
    kept = (layers + 1) * (1 + 2 * len(wanted))
    most = max(_BLOCK_ELEMENTS // kept, _FEWEST_ELEMENTS // len(wanted))
    step = min(stacks, max(1, most // max(points, 1)))
    stored = StoredFields.of(len(wanted), step, points, layers=layers)
    series = make_series(index, thickness_nm, k0, incidence=incidence, lead=lead)
    for start in range(0, stacks, max(step, 1)):
        rows = slice(start, min(start + step, stacks))
        n, d, ambient_n, cosine = (p[rows] if p.shape[0] > 1 else p for p in parts)
        lit, own = Incidence(ambient_n, cosine), stored.first(rows.stop - rows.start)
        own_series = None if series is None else series.at(d)
        carried = AdjointPass(own, Block(n, d, k0, lit, wanted, own_series), of)
        carried.propagate_up()
        carried.propagate_down(Gradient(*(getattr(whole, f.name)[rows] for f in fields(Gradient))))
    arrays = (getattr(whole, f.name) for f in fields(Gradient))
    return Gradient(*(array.reshape(lead + array.shape[1:]) for array in arrays))


def _flatten(array: NDArray[Scalar], lead: tuple[int, ...], tail: int) -> NDArray[Scalar]:
    """Leading axes as one: of length 1 where they hold one item, else of the product of lead."""
    own, rest = array.shape[: array.ndim - tail], array.shape[array.ndim - tail :]
    if math.prod(own) == 1:
        return array.reshape((1, *rest))
    return np.broadcast_to(array, lead + rest).reshape((math.prod(lead), *rest))
