"""Index of a film as a formula of few parameters, with its derivatives to each of them.

Every function takes wavelengths (W,) and parameters as numbers, and returns the complex index
``n + ik`` (W,) and the derivatives (P, W) in the order of the parameters; parameters of shape
(..., 1) give (..., W) and (P, ..., W). Photon energies are in electronvolts, wavelengths in
nanometres; the parameters are trusted to be in their stated span.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from ..._typing import ComplexArray, FloatArray

IndexAndSlopes = tuple[ComplexArray, ComplexArray]

EV_NM = 1239.841984332
"""Photon energy [eV] times vacuum wavelength [nm]: h c / e, exact constants of the SI (2019)."""

_STEP = 1e-20  # of the complex-step derivative: below rounding, far above underflow


def scale_table(nk: ComplexArray, scale: float) -> IndexAndSlopes:
    """A measured table with all of its index off by one factor.

    Parameters
    ----------
    nk : ndarray of complex, shape (W,)
        The table at the wavelengths wanted.
    scale : float
        Relative error e of the index [-]; the index is ``nk (1 + e)``.

    Returns
    -------
    nk, slopes : ndarray of complex, shapes (W,) and (1, W)
    """
    return nk * (1.0 + scale), nk[None]


def cauchy(
    wavelength_nm: ArrayLike,
    n: float,
    b_um2: float,
    *,
    c_um4: float = 0.0,
    centre_nm: float = np.inf,
) -> IndexAndSlopes:
    """Index of a clear film away from its absorption.

    Parameters
    ----------
    wavelength_nm : array_like, shape (W,)
    n : float
        Index at the centre wavelength [-].
    b_um2, c_um4 : float
        Dispersion [µm²], [µm⁴].
    centre_nm : float
        Where ``n`` is counted [nm]; at infinity it is Cauchy's A.

    Returns
    -------
    nk, slopes : ndarray of complex, shapes (W,) and (3, W)

    Notes
    -----
    ``n(λ) = n + B (1/λ² - 1/λc²) + C (1/λ⁴ - 1/λc⁴)``, λ in micrometres. Counting the index in the
    middle of the band keeps n and B from trading against each other in a fit.

    References
    ----------
    A. L. Cauchy, Bull. Sci. Math. 14, 6 (1830) (from memory); M. Born and E. Wolf, Principles of
    Optics, 7th ed., section 2.3.4.
    """
    wavelength_um = np.asarray(wavelength_nm, dtype=float) / 1000.0
    square = wavelength_um**-2 - (centre_nm / 1000.0) ** -2.0
    fourth = wavelength_um**-4 - (centre_nm / 1000.0) ** -4.0
    slopes = np.stack([np.ones_like(square), square, fourth]).astype(complex)
    return n + b_um2 * slopes[1] + c_um4 * slopes[2] + 0j, slopes


def urbach_tail(
    wavelength_nm: ArrayLike, k: float, width_ev: float, *, at_nm: float = 400.0
) -> IndexAndSlopes:
    """Absorption that fades exponentially below the gap, to be added to a clear film's index.

    Parameters
    ----------
    wavelength_nm : array_like, shape (W,)
    k : float
        Extinction coefficient at ``at_nm`` [-], not negative.
    width_ev : float
        Energy over which it falls by a factor e [eV], above 0.
    at_nm : float

    Returns
    -------
    ik, slopes : ndarray of complex, shapes (W,) and (2, W)

    Notes
    -----
    ``k(E) = k exp((E - E_at)/w)``.

    References
    ----------
    F. Urbach, Phys. Rev. 92, 1324 (1953), doi:10.1103/PhysRev.92.1324.
    """
    above = EV_NM / np.asarray(wavelength_nm, dtype=float) - EV_NM / at_nm
    shape = np.exp(above / width_ev)
    slopes = 1j * np.stack([shape, -k * shape * above / width_ev**2])
    return 1j * k * shape, slopes


def drude_lorentz(
    wavelength_nm: ArrayLike,
    eps_inf: float,
    plasma_ev: float,
    *,
    loss_ev: float,
    oscillators: Sequence[float] = (),
) -> IndexAndSlopes:
    """Index of a metal or conducting film: free electrons and bound ones.

    Parameters
    ----------
    wavelength_nm : array_like, shape (W,)
    eps_inf : float
        Permittivity of all that lies above the band [-].
    plasma_ev, loss_ev : float
        Plasma energy and relaxation of the free electrons [eV].
    oscillators : sequence of float
        For each bound resonance its strength [-], energy [eV] and width [eV], one after another.

    Returns
    -------
    nk, slopes : ndarray of complex, shapes (W,) and (3 + len(oscillators), W)

    Notes
    -----
    ``ε = ε∞ - Ep²/(E² + iΓE) + Σ f_j E_j²/(E_j² - E² - iΓ_j E)``.

    References
    ----------
    F. Wooten, Optical Properties of Solids (Academic Press, 1972), chapter 3.
    """
    E = EV_NM / np.asarray(wavelength_nm, dtype=float)
    free = 1.0 / (E * (E + 1j * loss_ev))
    eps = np.asarray(eps_inf - plasma_ev**2 * free, dtype=complex)
    slopes = [
        np.ones_like(eps), -2.0 * plasma_ev * free, 1j * plasma_ev**2 * E * free**2,
    ]  # fmt: skip
    for strength, centre, width in _threes(oscillators):
        bound = 1.0 / (centre**2 - E * (E + 1j * width))
        eps = eps + strength * centre**2 * bound
        slopes += [
            centre**2 * bound,
            2.0 * strength * centre * bound * (1.0 - centre**2 * bound),
            1j * strength * centre**2 * E * bound**2,
        ]
    return _index_of(eps, np.stack(slopes))


def tauc_lorentz(
    wavelength_nm: ArrayLike,
    strength_ev: float,
    centre_ev: float,
    *,
    width_ev: float,
    gap_ev: float,
    eps_inf: float,
    slopes: bool = True,
) -> IndexAndSlopes:
    """Index of an amorphous film across its absorption edge.

    Parameters
    ----------
    wavelength_nm : array_like, shape (W,)
    strength_ev, centre_ev, width_ev, gap_ev : float
        Strength A, resonance E0, width C and gap Eg [eV], all above 0, with ``C < √2 E0``.
    eps_inf : float
        Permittivity of all that lies above the band [-].
    slopes : bool
        Whether derivatives are wanted; they cost ten times the index.

    Returns
    -------
    nk, slopes : ndarray of complex, shapes (W,) and (5, W), or (0, W) where none are wanted

    Notes
    -----
    ``ε2 = A E0 C (E - Eg)² / (((E² - E0²)² + C² E²) E)`` above the gap and 0 below; ε1 is its
    Kramers–Kronig transform in closed form. Real and imaginary part are analytic functions of
    the parameters, each by itself, so their derivatives are taken by a complex step, which
    rounds no worse than the formula.

    References
    ----------
    G. E. Jellison and F. A. Modine, Appl. Phys. Lett. 69, 371 (1996), doi:10.1063/1.118064, with
    the erratum 69, 2137 (1996), doi:10.1063/1.118155.
    W. Squire and G. Trapp, SIAM Rev. 40, 110 (1998), for the complex step (from memory).
    """
    E = EV_NM / np.asarray(wavelength_nm, dtype=float)
    parameters = (strength_ev, centre_ev, width_ev, gap_ev, eps_inf)
    eps = _eps1(E, *parameters) + 1j * _eps2(E, *parameters)
    if not slopes:
        return _index_of(eps, np.empty((0, *eps.shape), dtype=complex))
    to_eps = _differentiate(_eps1, E, parameters) + 1j * _differentiate(_eps2, E, parameters)
    return _index_of(eps, to_eps)


def _eps2(
    E: FloatArray, A: complex, E0: complex, C: complex, Eg: complex, _eps_inf: complex
) -> ComplexArray:
    strength = A * E0 * C * (E - Eg) ** 2 / (((E**2 - E0**2) ** 2 + C**2 * E**2) * E)
    return np.where(np.real(Eg) < E, strength, 0.0)


def _eps1(
    E: FloatArray, A: complex, E0: complex, C: complex, Eg: complex, eps_inf: complex
) -> ComplexArray:
    """Equation 6 of Jellison and Modine as corrected; its two logarithms of |E - Eg| are one here.

    Together they go with ``(E - Eg)² ln|E - Eg|`` and vanish at the gap, where each diverges.
    """
    alpha = np.sqrt(4.0 * E0**2 - C**2)
    gamma2 = E0**2 - C**2 / 2.0
    zeta4 = (E**2 - gamma2) ** 2 + alpha**2 * C**2 / 4.0
    a_ln = (Eg**2 - E0**2) * E**2 + Eg**2 * C**2 - E0**2 * (E0**2 + 3.0 * Eg**2)
    a_atan = (E**2 - E0**2) * (E0**2 + Eg**2) + Eg**2 * C**2
    around = np.log((E0**2 + Eg**2 + alpha * Eg) / (E0**2 + Eg**2 - alpha * Eg))
    turned = np.pi - np.arctan((2.0 * Eg + alpha) / C) + np.arctan((alpha - 2.0 * Eg) / C)
    inner = np.pi + 2.0 * np.arctan(2.0 * (gamma2 - Eg**2) / (alpha * C))
    from_gap = (E - Eg) ** 2 + (np.real(Eg) == E)  # ln 1 where the factor before it is 0
    edge = -((E - Eg) ** 2) / E * 0.5 * np.log(from_gap) + (E + Eg) ** 2 / E * np.log(E + Eg)
    edge = edge - Eg * np.log((E0**2 - Eg**2) ** 2 + Eg**2 * C**2)
    parts = (
        C * a_ln / (2.0 * alpha * E0) * around
        - a_atan / E0 * turned
        + 2.0 * E0 / alpha * Eg * (E**2 - gamma2) * inner
        + E0 * C * edge
    )
    return np.asarray(eps_inf + A / (np.pi * zeta4) * parts)


def _differentiate(
    formula: Callable[..., ComplexArray], E: FloatArray, parameters: tuple[float, ...]
) -> ComplexArray:
    """Derivatives (P, W) of a real analytic formula by a step into the complex plane."""
    rows = []
    for i, value in enumerate(parameters):
        moved = (*parameters[:i], value + 1j * _STEP, *parameters[i + 1 :])
        rows.append(np.imag(formula(E, *moved)) / _STEP)
    return np.stack(rows).astype(complex)


def _index_of(eps: ComplexArray, slopes: ComplexArray) -> IndexAndSlopes:
    """Index and its derivatives from those of the permittivity."""
    index: ComplexArray = np.sqrt(eps.real + 1j * np.maximum(eps.imag, 0.0))
    return index, slopes / (2.0 * index)


def _threes(values: Sequence[float]) -> list[tuple[float, float, float]]:
    return [(values[i], values[i + 1], values[i + 2]) for i in range(0, len(values), 3)]
