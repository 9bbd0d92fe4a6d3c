"""The electric field and the absorption at every depth of a stack."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..._typing import ComplexArray, FloatArray
from ...errors import InputError

_Part = tuple[FloatArray, ComplexArray, FloatArray]
"""Of one layer: depths from its top, the field there, and the log of what was divided out."""

_MOST_POINTS = 20_000


@dataclass(frozen=True, eq=False)
class FieldProfile:
    """Field and absorption below the surface of a stack, at one wavelength and right angles.

    Attributes
    ----------
    depth_nm : ndarray, shape (D,)
        From the surface down [nm]; each boundary stands twice, as the end of one layer and the
        start of the next.
    field : ndarray, shape (D,)
        ``|E|²`` in units of the incident wave's.
    absorption_per_nm : ndarray, shape (D,)
        Share of the incident light absorbed per nanometre.
    boundaries_nm : ndarray, shape (L + 1,)
        Depths of the layers' tops, and of the substrate's.
    """

    depth_nm: FloatArray
    field: FloatArray
    absorption_per_nm: FloatArray
    boundaries_nm: FloatArray


def field_profile(
    index: ArrayLike, thickness_nm: ArrayLike, wavelength_nm: float, *, step_nm: float = 1.0
) -> FieldProfile:
    """Follow light into a stack.

    Parameters
    ----------
    index : array_like of complex, shape (L + 2,)
        n + ik of the ambient, which must not absorb, the layers and the substrate.
    thickness_nm : array_like, shape (L,)
    wavelength_nm : float
    step_nm : float
        Depths are no further apart.

    Raises
    ------
    InputError
        If shapes do not fit, a value is no number, a step is not positive, or there would be
        over 20,000 depths.

    Notes
    -----
    At a depth z of a layer the fields are those a layer from z down would have on its top. With
    the flux ``Re(E H*)`` and ``dH/dz = i k0 ε E`` the flux falls by ``k0 Im ε |E|²`` per length,
    over the incident ``n0 |E0|²``: the share absorbed is ``2 k0 n k |E/E0|²/n0``.

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, section 1.6 (from memory).
    """
    n, d = np.asarray(index, dtype=complex), np.asarray(thickness_nm, dtype=float)
    if n.ndim != 1 or d.shape != (n.size - 2,):
        raise InputError("index needs the ambient, one value for each layer, and the substrate")
    if not (np.isfinite(n).all() and np.all((d >= 0.0) & (d < np.inf)) and wavelength_nm > 0.0):
        raise InputError("index, thickness_nm and wavelength_nm must be numbers, none below 0")
    if not step_nm > 0.0 or d.sum() / step_nm > _MOST_POINTS:
        raise InputError(f"step_nm must be above 0 and give at most {_MOST_POINTS:,} depths")
    k0 = 2.0 * np.pi / wavelength_nm
    parts: list[_Part] = []
    E, H, growth = complex(1.0), complex(n[-1]), 0.0
    for q, thick in zip(n[-2:0:-1], d[::-1], strict=True):
        up = np.linspace(0.0, thick, max(2, int(np.ceil(thick / step_nm)) + 1))
        phase = k0 * q * up
        round_trip = -0.5 * np.expm1(
            2j * phase
        )  # the factor exp(-i phase) is left out, and counted
        level = 1.0 - round_trip
        along = level * E + round_trip / q * H
        parts.append((thick - up[::-1], along[::-1], (growth + phase.imag)[::-1]))
        E, H = complex(along[-1]), complex(round_trip[-1] * q * E + level[-1] * H)
        size = abs(E) + abs(H)
        growth += float(phase[-1].imag + np.log(size))
        E, H = E / size, H / size
    incident = 0.5 * (E + H / n[0])
    return _collect_profile(parts[::-1], n, d, incident, growth, k0)


def _collect_profile(
    parts: list[_Part],
    n: ComplexArray,
    d: FloatArray,
    incident: complex,
    growth: float,
    k0: float,
) -> FieldProfile:
    tops = np.concatenate([[0.0], np.cumsum(d)])
    depth, field, absorbed = [np.empty(0)], [np.empty(0)], [np.empty(0)]
    for (below, along, own), top, q in zip(parts, tops[:-1], n[1:-1], strict=True):
        strength = np.abs(along / incident) ** 2 * np.exp(2.0 * (own - growth))
        depth.append(top + below)
        field.append(strength)
        absorbed.append(2.0 * k0 * q.real * q.imag * strength / n[0].real)
    return FieldProfile(
        np.concatenate(depth), np.concatenate(field), np.concatenate(absorbed), tops
    )
