"""Closed forms of the trade from which designs start, at one wavelength and right angles.

Indices are n + ik with k >= 0 (time factor exp(-iωt)), admittances in units of free space.
"""

from __future__ import annotations

import cmath
import math

_OPAQUE_T = 1e-4  # what an opaque metal film may still let through
_MOST_METAL_NM = 200.0


def quarter_nm(n: float, wavelength_nm: float) -> float:
    """Thickness [nm] of a quarter wave, ``λ/4n``."""
    return wavelength_nm / (4.0 * n)


def opaque_nm(metal: complex, wavelength_nm: float) -> float:
    """Thickness [nm] after which a metal lets less than 1e-4 through, ``e^{-4πkd/λ}``; 200 at most.

    The faces let less than all of it in, so this errs on the thick side.
    """
    decay_nm = wavelength_nm / (4.0 * math.pi * metal.imag)
    return min(_MOST_METAL_NM, math.log(1.0 / _OPAQUE_T) * decay_nm)


def antinode_nm(spacer_n: float, below: complex, wavelength_nm: float) -> float:
    """Thinnest clear layer [nm] that puts the crest of the standing wave on its top.

    In the layer the light below is reflected as ``r = (n - Y)/(n + Y)``; on its top this has
    turned by ``2δ``, and the crest stands where the phase is zero. On a good metal it is a
    little less than a quarter wave.
    """
    phase = cmath.phase((spacer_n - below) / (spacer_n + below))
    return (-phase % (2.0 * math.pi)) * wavelength_nm / (4.0 * math.pi * spacer_n)


def enhanced_reflectance(metal: complex, low_n: float, high_n: float, *, pairs: int) -> float:
    """Reflectance [-] in air of a metal with pairs of clear layers, the first matched to it.

    ``R = |1 - Y|²/|1 + Y|²`` with ``Y = (n_H/n_L)^{2p} (n + ik)``. The matching turns Y real, for
    which the handbooks' form with the metal's complex index is an approximation.

    References
    ----------
    G. Hass, J. Opt. Soc. Am. 45, 945 (1955); H. A. Macleod, Thin-Film Optical Filters (from
    memory).
    """
    Y = (high_n / low_n) ** (2 * pairs) * metal
    return float(abs((1.0 - Y) / (1.0 + Y)) ** 2)


def quarter_stack_reflectance(
    low_n: float, high_n: float, substrate_n: float, *, pairs: int
) -> float:
    """Reflectance [-] in air of ``(HL)^p H``, quarter waves: ``Y = (n_H/n_L)^{2p} n_H²/n_s``.

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, section 1.6.5 (from memory).
    """
    Y = (high_n / low_n) ** (2 * pairs) * high_n**2 / substrate_n
    return ((1.0 - Y) / (1.0 + Y)) ** 2


def stop_band_nm(low_n: float, high_n: float, wavelength_nm: float) -> tuple[float, float]:
    """Both ends [nm] of the band a quarter-wave stack reflects, however many layers it has.

    ``Δg = (2/π) asin((n_H - n_L)/(n_H + n_L))`` on either side of ``g = λ0/λ = 1``.

    References
    ----------
    H. A. Macleod, Thin-Film Optical Filters, section on multilayer reflectors (from memory).
    """
    half = 2.0 / math.pi * math.asin((high_n - low_n) / (high_n + low_n))
    return wavelength_nm / (1.0 + half), wavelength_nm / (1.0 - half)


def two_layer_zero(
    outer_n: float, inner_n: float, substrate_n: float, *, ambient_n: float = 1.0
) -> tuple[tuple[float, float], ...]:
    """Phase thicknesses (δ outer, δ inner) of two clear layers that reflect nothing.

    Returns
    -------
    tuple of (float, float)
        Two solutions between 0 and π, or none where these indices have no zero.

    Notes
    -----
    Real and imaginary part of ``Y = n_0`` give
    ``tan δ1 tan δ2 = n1 n2 (ns - n0)/(n1² ns - n0 n2²)`` and
    ``tan δ2/tan δ1 = n2 (n0 ns - n1²)/(n1 (n2² - n0 ns))``.
    """
    n0, n1, n2, ns = ambient_n, outer_n, inner_n, substrate_n
    across, below = n1**2 * ns - n0 * n2**2, n2**2 - n0 * ns
    if across == 0.0 or below == 0.0:
        return ()
    product = n1 * n2 * (ns - n0) / across
    ratio = n2 * (n0 * ns - n1**2) / (n1 * below)
    if ratio == 0.0 or product / ratio < 0.0:
        return ()
    outer = math.sqrt(product / ratio)
    pairs = ((outer, ratio * outer), (-outer, -ratio * outer))
    return tuple((math.atan(a) % math.pi, math.atan(b) % math.pi) for a, b in pairs)


def matched_sheet_nm(metal: complex, wavelength_nm: float) -> float:
    """Thickness [nm] of a thin absorber whose sheet conducts as free space: ``λ/(4π n k)``.

    On a crest of the field such a sheet swallows all light: with ``iωε d`` as its admittance the
    real part is ``k0 d 2nk = 1``.

    References
    ----------
    W. Woltersdorff, Z. Phys. 91, 230 (1934) (from memory).
    """
    return wavelength_nm / (4.0 * math.pi * metal.real * metal.imag)


def potential_transmittance(
    metal: complex, thickness_nm: float, wavelength_nm: float, *, exit_admittance: complex
) -> float:
    """Share ``T/(1 - R)`` of the light entering a film that leaves it, whatever lies before it.

    References
    ----------
    P. H. Berning and A. F. Turner, J. Opt. Soc. Am. 47, 230 (1957) (from memory).
    """
    E, H = _fields_on_top(metal, thickness_nm, wavelength_nm, exit_admittance)
    return exit_admittance.real / (E * H.conjugate()).real


def most_potential_transmittance(
    metal: complex, thickness_nm: float, wavelength_nm: float
) -> tuple[float, complex]:
    """The most a metal film can be made to let through, and the admittance behind it that does so.

    Notes
    -----
    With ``Y = X + iZ`` behind the film, ``Re(E H*) = a + bX + cZ + d|Y|²`` is linear in
    ``X, Z, |Y|²``; minimising it over X gives ``Z = -c/2d`` and ``X = √(a/d - Z²)``, hence
    ``T/(1 - R) = 1/(b + 2 d X)``: no coating on either side gets more through.

    References
    ----------
    P. H. Berning and A. F. Turner, J. Opt. Soc. Am. 47, 230 (1957); H. A. Macleod, Thin-Film
    Optical Filters, section on induced transmission (both from memory; the form above is derived).
    """

    def flux(Y: complex) -> float:
        E, H = _fields_on_top(metal, thickness_nm, wavelength_nm, Y)
        return float((E * H.conjugate()).real)

    a = flux(0.0)
    c = (flux(1j) - flux(-1j)) / 2.0
    d = (flux(1j) + flux(-1j)) / 2.0 - a
    b = (flux(1.0) - flux(-1.0)) / 2.0
    Z = -c / (2.0 * d)
    X = math.sqrt(a / d - Z * Z)
    return 1.0 / (b + 2.0 * d * X), complex(X, Z)


def _fields_on_top(
    n: complex, thickness_nm: float, wavelength_nm: float, Y: complex
) -> tuple[complex, complex]:
    """Fields on top of a film for ``(1, Y)`` beneath it."""
    phase = 2.0 * math.pi / wavelength_nm * thickness_nm * n
    cosine, sine = cmath.cos(phase), cmath.sin(phase)
    return cosine - 1j * sine / n * Y, cosine * Y - 1j * n * sine
