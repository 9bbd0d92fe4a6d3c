"""Which turn of the interference colours a thickness belongs to."""

from __future__ import annotations

import cmath
import math

from .hypotheses import Pair

_GREEN_NM = 550.0


def interference_order(pair: Pair, thickness_nm: float) -> int:
    """Interference order of a film, 1 for the first sequence of colours.

    Parameters
    ----------
    pair : Pair
    thickness_nm : float

    Returns
    -------
    int

    Notes
    -----
    The two waves, from the surface and from the substrate, differ in phase by
    ``4π n d / λ + φ``, with φ from the Fresnel coefficients, at λ = 550 nm where the eye is most
    sensitive. An order runs from one maximum of reflectance, the pale end of a sequence, to
    the next and has its deepest colour in between; the bare substrate belongs to the first.
    """
    film = complex(pair.film.nk(_GREEN_NM))
    below = complex(pair.substrate.nk(_GREEN_NM))
    surface = (1.0 - film) / (1.0 + film)
    bottom = (film - below) / (film + below)
    start = cmath.phase(bottom * surface.conjugate())
    if start < -math.pi / 2.0:
        start += 2.0 * math.pi
    phase = start + 4.0 * math.pi * film.real * thickness_nm / _GREEN_NM
    return 1 + max(0, math.floor(phase / (2.0 * math.pi)))
