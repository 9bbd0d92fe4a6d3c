"""One film of many thicknesses on many substrates: the table-building case of the engine.

The general engine computes the same numbers; here the round-trip phase is taken once for all
substrates and both polarisations, which makes a table some twenty times cheaper.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .transfer import ComplexArray, FloatArray, Incidence

_BLOCK_ELEMENTS = 16_384


def one_film_reflectance(
    film: ComplexArray,
    below: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    angle_deg: float = 0.0,
) -> FloatArray:
    """Unpolarised reflectance, from air, of one film on each of several opaque substrates.

    Parameters
    ----------
    film : ndarray of complex, shape (W,)
        Index of the film.
    below : ndarray of complex, shape (S, W)
        Index of each substrate.
    thickness_nm : ndarray, shape (D,)
    wavelength_nm : ndarray, shape (W,)
    angle_deg : float
        Angle of incidence [°].

    Returns
    -------
    ndarray, shape (S, D, W)

    Notes
    -----
    Airy's formula ``r = (r1 + r2 z)/(1 + r1 r2 z)``, ``z = exp(2iδ)``. With ``z = x + iy`` both
    squared magnitudes are sums of four products, ``c0 + c1 |z|² + c2 x + c3 y``, of which only
    the c depend on substrate and polarisation (M. Born and E. Wolf, Principles of Optics,
    7th ed., section 1.6.4). Inputs are trusted.
    """
    incidence = Incidence.at(np.ones_like(wavelength_nm), np.asarray(angle_deg))
    normal = np.sqrt(incidence.normal_squared)
    kz_film = _normal_wave_number(film, incidence)
    kz_below = _normal_wave_number(below, incidence)
    round_trip = 4j * np.pi / wavelength_nm * kz_film
    R = np.empty((len(below), thickness_nm.size, wavelength_nm.size))
    pairs = [(normal, kz_film, kz_below)]
    if not incidence.is_normal:
        pairs.append((normal, kz_film / film**2, kz_below / below**2))
    terms = [_terms(*pair) for pair in pairs]
    for rows in _blocks(thickness_nm.size, wavelength_nm.size):
        z = np.exp(thickness_nm[rows, None] * round_trip)
        parts = z.real.copy(), z.imag.copy()
        size = parts[0] ** 2 + parts[1] ** 2
        for s in range(len(below)):
            shares = [
                _combined(above[:, s], size, *parts) / _combined(under[:, s], size, *parts)
                for above, under in terms
            ]
            R[s, rows] = shares[0] if len(shares) == 1 else 0.5 * (shares[0] + shares[1])
    return R


def _normal_wave_number(index: ComplexArray, incidence: Incidence) -> ComplexArray:
    kz: ComplexArray = np.sqrt((index * index - incidence.ambient_eps) + incidence.normal_squared)
    return kz


def _terms(
    q_air: FloatArray, q_film: ComplexArray, q_below: ComplexArray
) -> tuple[FloatArray, FloatArray]:
    """Coefficients (4, S, W) of numerator and denominator, for ``1, |z|², x, y``."""
    r1 = (q_air - q_film) / (q_air + q_film)
    r2 = (q_film - q_below) / (q_film + q_below)
    once, twice = np.conj(r1) * r2, r1 * r2
    flat = np.ones(r2.shape)
    above = [np.abs(r1) ** 2 * flat, np.abs(r2) ** 2, 2.0 * once.real, -2.0 * once.imag]
    under = [flat, np.abs(twice) ** 2, 2.0 * twice.real, -2.0 * twice.imag]
    return np.stack(above), np.stack(under)


def _combined(c: FloatArray, size: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    total: FloatArray = c[1] * size
    total += c[0]
    total += c[2] * x
    total += c[3] * y
    return total


def _blocks(rows: int, points: int) -> Iterator[slice]:
    step = max(1, _BLOCK_ELEMENTS // points)
    return (slice(start, start + step) for start in range(0, rows, step))
