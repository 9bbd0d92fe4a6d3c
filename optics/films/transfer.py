"""Light through plane layers: power reflected, transmitted and absorbed in each.

The tangential fields are carried from the substrate up to the surface. Each layer's 2×2 matrix
is used with its growing exponential divided out, so nothing overflows however thick or
absorbing a layer is, and no interface coefficient is formed, so nothing is divided by zero at
grazing incidence or at a critical angle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError, OutOfRangeError
from .response import Response

Polarization = Literal["s", "p", "mean"]
ComplexArray = NDArray[np.complex128]
FloatArray = NDArray[np.float64]
Scalar = TypeVar("Scalar", bound=np.generic)
Powers = tuple[FloatArray, FloatArray, FloatArray]

_BLOCK_ELEMENTS = 8_192  # stacks × wavelengths at a time: the working arrays stay in cache
_RESCALE_EVERY = 8  # layers; fields grow by far less than 1e300 between two rescalings
_TINY_KZ = 1e-30  # stands for kz = 0, where s/kz has a finite limit
# Far beyond any material or light, and far enough from overflow for the products of fields.
_INDEX_SIZE = (1e-6, 1e6)
_WAVELENGTH_NM = (1e-3, 1e9)
_THICKEST_NM = 1e12


def respond_arrays(
    index: ArrayLike,
    thickness_nm: ArrayLike,
    wavelength_nm: ArrayLike,
    angle_deg: ArrayLike = 0.0,
    polarization: Polarization = "mean",
) -> Response:
    """Reflectance, transmittance and layer absorptance of coherent stacks.

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
        ``mean`` is unpolarised light.

    Returns
    -------
    Response
        ``R`` and ``T`` of shape (..., W), ``layer_A`` of shape (..., L, W); the leading shape is
        what the leading shapes of the inputs broadcast to.

    Raises
    ------
    InputError, OutOfRangeError
        If shapes do not fit, or a value is NaN, negative or outside its range.

    Notes
    -----
    Abelès' characteristic matrix, time factor exp(-iωt): with ``δ = k0 d kz``, ``q = kz`` (s) or
    ``kz/ε`` (p) and ``kz = √(ε - ε0 sin²θ)``, the tangential fields obey
    ``(E, H)_top = [[cos δ, -i sin δ/q], [-i q sin δ, cos δ]] (E, H)_bottom``.

    References
    ----------
    F. Abelès, Ann. Phys. 12 (5), 596 (1950); M. Born and E. Wolf, Principles of Optics, 7th ed.,
    section 1.6.
    """
    n, d, wavelength, angle = _checked(index, thickness_nm, wavelength_nm, angle_deg)
    R, T, layer_A = coherent_powers(
        n, d, wavelength, Incidence.at(n[..., 0, :].real, angle), polarization
    )
    return Response(wavelength, R, T, layer_A)


@dataclass(frozen=True, eq=False)
class Incidence:
    """The direction of the light, which all layers share.

    ``kz² = (ε - ambient_eps) + normal_squared`` keeps every digit near grazing incidence and in
    layers that match the ambient, where ``ε - (n0 sin θ)²`` cancels.

    Attributes
    ----------
    ambient_eps, normal_squared : ndarray, shape (..., W)
        ``n0²`` and ``(n0 cos θ)²`` of the medium in which the angle is counted.
    """

    ambient_eps: FloatArray
    normal_squared: FloatArray

    @classmethod
    def at(cls, ambient_n: FloatArray, angle_deg: FloatArray) -> Incidence:
        """Light at angles (...) in a medium of real index (..., W)."""
        cosine = np.cos(np.deg2rad(angle_deg))[..., None]
        return cls(ambient_n**2, (ambient_n * cosine) ** 2)

    def normal_component(self, index: ComplexArray) -> ComplexArray:
        """``kz`` [-] in media of index (..., W), in units of the vacuum wave number.

        ε has a non-negative imaginary part, so the principal root is the wave that decays or
        leaves downward: its real and imaginary parts are both non-negative.
        """
        kz: ComplexArray = np.sqrt((index * index - self.ambient_eps) + self.normal_squared)
        return np.where(kz == 0.0, _TINY_KZ, kz)

    @property
    def lead(self) -> tuple[int, ...]:
        """The leading shape of the directions."""
        return np.broadcast_shapes(self.ambient_eps.shape[:-1], self.normal_squared.shape[:-1])

    @property
    def is_normal(self) -> bool:
        """Whether all light falls at right angles, where s and p are the same."""
        return bool(np.all(self.ambient_eps == self.normal_squared))


def coherent_powers(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    polarization: Polarization,
) -> Powers:
    """R, T (..., W) and layer absorptance (..., L, W) for one direction. Inputs are trusted."""
    wanted = separate(polarization, incidence)
    lead = np.broadcast_shapes(index.shape[:-2], thickness_nm.shape[:-1], incidence.lead)
    layers, points = index.shape[-2] - 2, wavelength_nm.size
    R, T = np.empty((2, math.prod(lead), points))
    layer_A = np.empty((math.prod(lead), layers, points))
    k0 = 2.0 * np.pi / wavelength_nm
    for rows, block in _blocks(lead, points):
        parts = [
            _powers(
                _take(index, lead, block, 2),
                _take(thickness_nm, lead, block, 1),
                k0,
                _take(incidence.ambient_eps, lead, block, 1),
                _take(incidence.normal_squared, lead, block, 1),
                one,
            )
            for one in wanted
        ]
        for whole, part in zip((R, T, layer_A), zip(*parts, strict=True), strict=True):
            whole[rows] = sum(part) / len(part)
    return (
        R.reshape((*lead, points)),
        T.reshape((*lead, points)),
        layer_A.reshape((*lead, layers, points)),
    )


def separate(polarization: Polarization, incidence: Incidence) -> tuple[Polarization, ...]:
    """The polarisations to compute and average: one where s and p are the same.

    Raises
    ------
    InputError
        If the polarisation is not ``s``, ``p`` or ``mean``.
    """
    if polarization not in ("s", "p", "mean"):
        raise InputError(f"polarization {polarization!r} must be 's', 'p' or 'mean'")
    if polarization != "mean":
        return (polarization,)
    return ("s",) if incidence.is_normal else ("s", "p")


def _powers(
    index: ComplexArray,
    d: FloatArray,
    k0: FloatArray,
    ambient_eps: FloatArray,
    normal_squared: FloatArray,
    one: str,
) -> Powers:
    """Powers of a block: index (b or 1, L + 2, W), d (b or 1, L), directions (b or 1, W)."""
    eps = index * index
    # ε has a non-negative imaginary part, so the principal root is the wave that decays or
    # leaves downward: real and imaginary parts are both non-negative.
    kz: ComplexArray = np.sqrt((eps - ambient_eps[:, None, :]) + normal_squared[:, None, :])
    kz[kz == 0.0] = _TINY_KZ
    q = kz if one == "s" else kz / eps
    depth = k0 * d[..., None]  # (b, L, W)
    down, across = q[..., -1, :], q[..., 0, :]
    shape = np.broadcast_shapes((d.shape[0], k0.size), down.shape)
    E = np.ones(shape, dtype=complex)
    H = np.broadcast_to(down, shape).copy()
    flux = np.empty((shape[0], d.shape[-1] + 1, shape[-1]))
    growth = np.zeros_like(flux)  # log of the amplitude divided out since the boundary below
    flux[:, -1] = down.real
    for j in range(d.shape[-1] - 1, -1, -1):
        E, H, decay = _through(E, H, depth[..., j, :] * kz[..., j + 1, :], q[..., j + 1, :])
        growth[:, j + 1] = decay
        flux[:, j] = E.real * H.real + E.imag * H.imag
        if j % _RESCALE_EVERY == 0:
            size = np.abs(E) + np.abs(H)
            E, H = E / size, H / size
            growth[:, j + 1] += np.log(size)
            flux[:, j] /= size * size
    incident = across * E + H
    R = _squared(across * E - H) / _squared(incident)
    # A wave that fades instead of travelling (Re q0 = 0) brings no power.
    travels = across.real > _TINY_KZ * np.abs(across.imag)
    strength = np.divide(
        _squared(across), across.real, out=np.zeros_like(across.real), where=travels
    )
    # Summed from the top, so that a thick absorber below costs the layers above no digits.
    flux *= 4.0 * np.exp(-2.0 * np.cumsum(growth, axis=1))
    flux *= (strength / _squared(incident))[:, None]
    return R, flux[:, -1], flux[:, :-1] - flux[:, 1:]


def fields_at_top(
    q_below: ComplexArray,
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    one: Polarization,
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Tangential fields on top of one set of layers, for a wave going down beneath them.

    Parameters
    ----------
    q_below : ndarray of complex, shape (W,)
        ``kz`` (s) or ``kz/ε`` (p) of what lies beneath.
    index, thickness_nm : ndarray, shapes (L, W) and (L,)
        The layers from the top down.

    Returns
    -------
    E, H : ndarray of complex, shape (W,)
        Less the factor ``exp(-i Σδ)`` of the layers.
    crossing : ndarray of complex, shape (W,)
        ``exp(i Σδ)``, by which a wave that crosses them is multiplied.
    """
    E, H = np.ones_like(q_below), q_below
    crossing = np.ones_like(q_below)
    for n, d in zip(index[::-1], thickness_nm[::-1], strict=True):
        kz = incidence.normal_component(n)
        phase = 2.0 * np.pi / wavelength_nm * d * kz
        E, H, _ = _through(E, H, phase, kz if one == "s" else kz / (n * n))
        crossing = crossing * np.exp(1j * phase)
    return E, H, crossing


def _through(
    E: ComplexArray, H: ComplexArray, phase: ComplexArray, q: ComplexArray
) -> tuple[ComplexArray, ComplexArray, FloatArray]:
    """Fields at a layer's top from those at its bottom, less the factor exp(-i phase)."""
    swing = -0.5 * np.expm1(2j * phase)
    level = 1.0 - swing
    return level * E + (swing / q) * H, (swing * q) * E + level * H, phase.imag


def _squared(z: ComplexArray) -> FloatArray:
    squared: FloatArray = z.real**2 + z.imag**2
    return squared


def _blocks(
    lead: tuple[int, ...], points: int
) -> Iterator[tuple[slice, tuple[NDArray[np.intp], ...]]]:
    """Slices of the flattened leading axes, with the position along each axis."""
    total = math.prod(lead)
    rows = max(1, _BLOCK_ELEMENTS // max(points, 1))
    for start in range(0, total, rows):
        flat = np.arange(start, min(start + rows, total))
        yield slice(start, start + flat.size), np.unravel_index(flat, lead) if lead else ()


def _take(
    array: NDArray[Scalar],
    lead: tuple[int, ...],
    block: tuple[NDArray[np.intp], ...],
    tail: int,
) -> NDArray[Scalar]:
    """The rows of a block out of an array whose leading axes broadcast to ``lead``."""
    own = array.shape[: array.ndim - tail]
    if math.prod(own) == 1:
        return array.reshape((1, *array.shape[array.ndim - tail :]))
    missing = len(lead) - len(own)
    nowhere = np.zeros(1, dtype=np.intp)
    return array[tuple(block[missing + i] if size > 1 else nowhere for i, size in enumerate(own))]


def _checked(
    index: ArrayLike, thickness_nm: ArrayLike, wavelength_nm: ArrayLike, angle_deg: ArrayLike
) -> tuple[ComplexArray, FloatArray, FloatArray, FloatArray]:
    n = np.asarray(index, dtype=complex)
    d = np.asarray(thickness_nm, dtype=float)
    wavelength = checked_wavelength(wavelength_nm)
    if n.ndim < 2 or d.ndim < 1 or n.shape[-1] != wavelength.size:
        raise InputError(
            f"index has shape {n.shape}; it needs (..., L + 2, {wavelength.size}) with one value "
            f"for each wavelength"
        )
    if n.shape[-2] != d.shape[-1] + 2:
        raise InputError(
            f"index describes {n.shape[-2]} media and thickness_nm {d.shape[-1]} layers; the "
            f"ambient and the substrate make two media more than layers"
        )
    smallest, largest = _INDEX_SIZE
    size = np.abs(n)
    if not np.all((n.real >= 0.0) & (n.imag >= 0.0) & (size >= smallest) & (size <= largest)):
        raise OutOfRangeError(
            f"index must have n and k finite and not negative, and |n + ik| between {smallest:g} "
            f"and {largest:g}"
        )
    if not np.all(n[..., 0, :].real > 0.0):
        raise OutOfRangeError("index of the ambient must have n above 0, or no light arrives")
    if not np.all((d >= 0.0) & (d <= _THICKEST_NM)):
        raise OutOfRangeError(
            f"thickness_nm must be finite, not negative and at most {_THICKEST_NM:g}"
        )
    return n, d, wavelength, checked_angle(angle_deg)


def checked_wavelength(wavelength_nm: ArrayLike) -> FloatArray:
    """Wavelengths as an array of shape (W,), or an error if one is not positive and finite."""
    wavelength = np.atleast_1d(np.asarray(wavelength_nm, dtype=float))
    shortest, longest = _WAVELENGTH_NM
    if wavelength.ndim != 1 or not np.all((wavelength >= shortest) & (wavelength <= longest)):
        raise OutOfRangeError(
            f"wavelength_nm must be a list of positive, finite numbers, {shortest:g} to {longest:g}"
        )
    return wavelength


def checked_angle(angle_deg: ArrayLike) -> FloatArray:
    """Angles of incidence as an array, or an error if one is outside 0 to 90 degrees."""
    angle = np.asarray(angle_deg, dtype=float)
    bad = ~((angle >= 0.0) & (angle <= 90.0))
    if bad.any():
        raise OutOfRangeError(
            f"angle_deg must lie between 0 and 90 degrees; {angle[bad].flat[0]:g} does not"
        )
    return angle
