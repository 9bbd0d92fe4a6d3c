"""Where the curve of a film is worked out: in even steps, finer the narrower its fringes are.

Readings lie where an instrument has them. A thick film has fringes narrower than their steps, or
than its slit, and such a curve must be known between them, and a little past their ends, to say
what is read.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray
from ..errors import OutOfRangeError
from ..films.materials.medium import Medium
from ..films.stack import Layer

_STEPS_A_FRINGE = 6.0
_FINEST_NM = 0.5
_COARSE_NM = 5.0, 10.0  # between these as the readings are
_PADDING_NM = 24.0  # three standard deviations of a slit of 20 nm
_MOST_IN_ONE = 12.0  # thickest film of a grid over that of the one before, at most


@dataclass(frozen=True, eq=False)
class Grid:
    """Wavelengths for films of some thicknesses.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (V,)
        In even steps, past both ends of the readings.
    between_nm : tuple of float
    """

    wavelength_nm: FloatArray
    between_nm: tuple[float, float]

    def share_of(self, between_nm: tuple[float, float]) -> float:
        """How much of a whole range of thickness these films are."""
        return float(np.ptp(self.between_nm) / np.ptp(between_nm))


def list_grids(
    read_nm: FloatArray,
    films: Iterable[Medium],
    *,
    below_nm: float,
    between_nm: tuple[float, float],
) -> list[Grid]:
    """Grids that together serve a range of thickness, the thinnest films first.

    Parameters
    ----------
    read_nm : ndarray, shape (W,)
        Where the instrument reads, upwards.
    films : iterable of Medium
        What the film may be.
    below_nm : float
        Optical path through what lies below it.
    between_nm : tuple of float
        Thickness of the film.

    Notes
    -----
    A fringe at λ is ``λ²/(2 n_g d)`` wide, with the group index ``n_g = n - λ dn/dλ``.
    """
    low, high = between_nm
    slow = float(np.median([_group_index(medium, read_nm) for medium in films]))
    coarse = float(np.clip(np.median(np.diff(read_nm)), *_COARSE_NM))
    shortest_nm = read_nm[0]

    def step_for(thickness_nm: float) -> float:
        fringe = shortest_nm**2 / (2.0 * (slow * thickness_nm + below_nm) + 1e-9)
        return float(np.clip(fringe / _STEPS_A_FRINGE, _FINEST_NM, coarse))

    plain_nm = (shortest_nm**2 / (2.0 * _STEPS_A_FRINGE * coarse) - below_nm) / slow
    tops = [high]
    while low < plain_nm < tops[0]:
        tops.insert(0, max(plain_nm, tops[0] / _MOST_IN_ONE))
    bottoms = [low, *tops[:-1]]
    return [
        Grid(even_steps(read_nm, step_for(top)), (bottom, top))
        for bottom, top in zip(bottoms, tops, strict=True)
    ]


def even_steps(read_nm: FloatArray, step_nm: float) -> FloatArray:
    """Steps of at most some size from before the first reading to past the last."""
    first, last = read_nm[0], read_nm[-1]
    step = (last - first) / np.ceil((last - first) / step_nm)
    past = step * np.ceil(_PADDING_NM / step)
    return np.linspace(first - past, last + past, round((last - first + 2.0 * past) / step) + 1)


def _group_index(medium: Medium, wavelength_nm: FloatArray) -> float:
    """The largest over a band, and at least 1: what narrows the fringes of a film."""
    n = medium.nk(wavelength_nm).real
    return float(max(np.max(n - wavelength_nm * np.gradient(n, wavelength_nm)), 1.0))


def path_nm(layers: Iterable[Layer], wavelength_nm: FloatArray) -> float:
    """Optical path through layers, by the group index where it is largest [nm]."""
    media = ((layer.medium, float(layer.thickness_nm)) for layer in layers)
    return sum(d * _group_index(medium, wavelength_nm) for medium, d in media)


def nearest_known(medium: Medium, wavelength_nm: FloatArray) -> FloatArray:
    """Wavelengths (V,), upwards; where a medium has no data at an end, the nearest that has."""
    if reaches(medium, wavelength_nm):
        return wavelength_nm
    low = next(nm for nm in wavelength_nm if reaches(medium, nm))
    high = next(nm for nm in wavelength_nm[::-1] if reaches(medium, nm))
    return np.clip(wavelength_nm, low, high)


def reaches(medium: Medium, wavelength_nm: FloatArray | float) -> bool:
    """Whether a medium has data at all of some wavelengths."""
    try:
        medium.nk(wavelength_nm)
    except OutOfRangeError:
        return False
    return True
