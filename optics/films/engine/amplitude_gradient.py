"""Complex amplitudes of coherent stacks, with their derivatives to every thickness.

What a goal on a phase needs: the powers' derivatives (:mod:`.gradient`) have lost it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..._typing import ComplexArray, FloatArray
from .amplitudes import Level, climb
from .incidence import Incidence
from .recursion import cross_layer, waves


@dataclass(frozen=True, eq=False)
class AmplitudeSlopes:
    """Amplitudes and how they turn and grow.

    Attributes
    ----------
    r, t : ndarray of complex, shape (..., W)
        Of E for s and of H for p, as :func:`~oxhue.optics.films.engine.amplitudes.amplitudes`.
    dr_dd, dt_dd : ndarray of complex, shape (..., L, W)
        Derivatives to the thickness of each layer [1/nm].
    """

    r: ComplexArray
    t: ComplexArray
    dr_dd: ComplexArray
    dt_dd: ComplexArray


def amplitude_slopes(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    *,
    incidence: Incidence,
    one: Literal["s", "p"],
) -> AmplitudeSlopes:
    """r and t of stacks (..., L + 2, W) and (..., L), and their derivatives. Inputs are trusted.

    Notes
    -----
    Fields ``v = (E, H/q)`` are carried up and kept, each layer's matrix without its ``exp(-iδ)``:
    ``M = [[1 - τ, τ], [τ, 1 - τ]]`` with the round trip ``τ = (1 - exp(2iδ))/2``. Then
    ``r = (a - b)/(a + b)`` with ``a = q0 E``, ``b = H`` on top, and rows of derivatives are
    carried down: ``δr = 2(b δa - a δb)/(a + b)²``. In layer j, with ``β = k0 kz``,
    ``dτ/dd = -iβ (1 - 2τ)``. The exponentials left out count for t alone:
    ``ln t = ln 2q0 + i Σδ - ln(a + b)``.
    """
    levels = climb(index, thickness_nm, wavelength_nm, incidence=incidence, one=one)
    up = _FieldsUp.of(levels, thickness_nm.shape[-1], 2.0 * np.pi / wavelength_nm)
    (across,) = waves(index[..., 0, :], incidence, (one,))[1]
    a, b = across * up.E[0], up.first * up.H[0]
    whole = a + b
    r, t = (a - b) / whole, 2.0 * across * up.crossing / whole
    # Rows of derivatives, to E and to H/q, of r and of ln(a + b).
    rows = np.empty((2, 2, *r.shape), dtype=complex)
    rows[0, 0], rows[1, 0] = 2.0 * across * b / whole**2, -2.0 * up.first * a / whole**2
    rows[0, 1], rows[1, 1] = across / whole, up.first / whole
    dr, dlog = up.slopes(rows)
    return AmplitudeSlopes(r, t, np.moveaxis(dr, 0, -2), t[..., None, :] * np.moveaxis(dlog, 0, -2))


@dataclass(frozen=True, eq=False)
class _FieldsUp:
    """Fields kept on the way up through L layers.

    Attributes
    ----------
    E, H : ndarray of complex, shape (L + 1, ..., W)
        On top of every layer and of the substrate, H over the admittance of what it is on top of.
    trips : ndarray of complex, shape (L, ..., W)
        Round trips τ.
    pull : ndarray of complex, shape (L, ..., W)
        ``iβ`` of each layer.
    steps : list of ndarray of complex
        Admittance of what lies under each layer over its own.
    scale : list of ndarray
        What the fields on top of each layer were divided by.
    crossing : ndarray of complex, shape (..., W)
        ``exp(i Σδ)``, divided likewise.
    first : ndarray of complex
        Admittance of the uppermost layer, or of the bare substrate.
    """

    E: ComplexArray
    H: ComplexArray
    trips: ComplexArray
    pull: ComplexArray
    steps: list[ComplexArray | float]
    scale: list[FloatArray | float]
    crossing: ComplexArray
    first: ComplexArray

    @classmethod
    def of(cls, levels: Iterator[Level], layers: int, k0: FloatArray) -> _FieldsUp:
        """Of the levels of a climb through so many layers; ``k0`` [1/nm], shape (W,)."""
        at = next(levels)
        E, H = np.empty((2, layers + 1, *at.E.shape), dtype=complex)
        trips, pull = np.empty((2, layers, *at.E.shape), dtype=complex)
        steps, scale = list[ComplexArray | float](), list[FloatArray | float]()
        E[-1], H[-1] = at.E, at.H_over_q
        for j, at in zip(reversed(range(layers)), levels, strict=True):
            E[j], H[j], trips[j], pull[j] = at.E, at.H_over_q, at.trip, 1j * k0 * at.kz
            steps.insert(0, at.step)
            scale.insert(0, at.size)
        return cls(E, H, trips, pull, steps, scale, at.crossing, at.q)

    def slopes(self, rows: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Derivatives (L, ..., W) of r and of ``ln t``, from the rows (2, 2, ..., W) on top."""
        dr, dlog = np.empty((2, *self.trips.shape), dtype=complex)
        spare = np.empty_like(rows[0])
        for j, trip in enumerate(self.trips):
            rows = rows / self.scale[j]
            fields = self.H[j + 1] * self.steps[j] - self.E[j + 1]
            # δv = dτ/dd (H/q - E) (1, -1) of the fields below
            dr[j], grown = -self.pull[j] * (1.0 - 2.0 * trip) * fields * (rows[0] - rows[1])
            dlog[j] = self.pull[j] - grown
            below = np.empty_like(rows)
            cross_layer((rows[0], rows[1]), (below[0], below[1]), trip, spare=spare)
            below[1] *= self.steps[j]
            rows = below
        return dr, dlog
