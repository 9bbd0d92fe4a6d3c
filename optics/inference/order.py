"""Which turn of the interference colours a thickness belongs to."""

from __future__ import annotations

import cmath
import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .._typing import SingleArray
from .hypotheses import FilmModel

_GREEN_NM = 550.0


def interference_order(pair: FilmModel, thickness_nm: float) -> int:
    """Interference order of a film, 1 for the first sequence of colours.

    Parameters
    ----------
    pair : FilmModel
    thickness_nm : float

    Returns
    -------
    int

    Notes
    -----
    The two waves, from the surface and from the substrate, differ in phase by
    ``4π n d / λ + φ``, with φ from the Fresnel coefficients, at λ = 550 nm where the eye is most
    sensitive. The bare substrate begins the first order. Where it is bright, as a metal is, an
    order runs from one maximum of reflectance, the pale end of a sequence, to the next; where
    it is at its darkest (a film on glass), from one minimum to the next, as Newton counted.
    """
    start, per_nm = _phase(pair)
    return 1 + max(0, math.floor((start + per_nm * thickness_nm) / (2.0 * math.pi)))


def interference_orders(pair: FilmModel, thickness_nm: SingleArray) -> NDArray[np.uint8]:
    """`interference_order` of many thicknesses; 0 where one is NaN."""
    start, per_nm = _phase(pair)
    turns = (np.nan_to_num(thickness_nm, nan=-1e9) * per_nm + start) / (2.0 * math.pi)
    orders: NDArray[np.uint8] = (np.floor(np.maximum(turns, -1.0)) + 1.0).astype(np.uint8)
    return np.where(np.isnan(thickness_nm), np.uint8(0), np.maximum(orders, 1)).astype(np.uint8)


def order_centres_nm(pair: FilmModel, up_to_nm: float) -> list[float]:
    """Thicknesses [nm] half way through each order."""
    start, per_nm = _phase(pair)
    most = math.ceil((start + per_nm * up_to_nm) / (2.0 * math.pi))
    centres = [((2 * m + 1) * math.pi - start) / per_nm for m in range(most)]
    return [nm for nm in centres if 0.0 < nm <= up_to_nm]


@lru_cache(maxsize=512)
def _phase(pair: FilmModel) -> tuple[float, float]:
    """Phase [rad] into the first order without film, and its rise per nanometre."""
    film = complex(pair.film.nk(_GREEN_NM))
    below = complex(pair.substrate.nk(_GREEN_NM))
    surface = (1.0 - film) / (1.0 + film)
    bottom = (film - below) / (film + below)
    start = cmath.phase(bottom * surface.conjugate())
    if abs(start) > math.pi / 2.0:
        start -= math.copysign(math.pi, start)
    return start, 4.0 * math.pi * film.real / _GREEN_NM
