"""The normal law: the chance below a value, the value of a chance, the density.

Own, since importing the library that has them takes longer than most answers.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray

# W. J. Cody, Math. Comp. 23, 631 (1969): ratios of polynomials for erf below 0.46875, and for
# erfc exp(x²) up to 4 and beyond; coefficients from memory, held to 1e-15 by the tests.
_NEAR = (
    (1.85777706184603153e-1, 3.16112374387056560e0, 1.13864154151050156e2, 3.77485237685302021e2,
     3.20937758913846947e3),
    (1.0, 2.36012909523441209e1, 2.44024637934444173e2, 1.28261652607737228e3,
     2.84423683343917062e3),
)  # fmt: skip
_MIDDLE = (
    (2.15311535474403846e-8, 5.64188496988670089e-1, 8.88314979438837594e0, 6.61191906371416295e1,
     2.98635138197400131e2, 8.81952221241769090e2, 1.71204761263407058e3, 2.05107837782607147e3,
     1.23033935479799725e3),
    (1.0, 1.57449261107098347e1, 1.17693950891312499e2, 5.37181101862009858e2,
     1.62138957456669019e3, 3.29079923573345963e3, 4.36261909014324716e3, 3.43936767414372164e3,
     1.23033935480374942e3),
)  # fmt: skip
_FAR = (
    (1.63153871373020978e-2, 3.05326634961232344e-1, 3.60344899949804439e-1,
     1.25781726111229246e-1, 1.60837851487422766e-2, 6.58749161529837803e-4),
    (1.0, 2.56852019228982242e0, 1.87295284992346725e0, 5.27905102951428412e-1,
     6.05183413124413191e-2, 2.33520497626869185e-3),
)  # fmt: skip
_NEAR_UP_TO, _MIDDLE_UP_TO = 0.46875, 4.0
_CELLS, _CELLS_UP_TO, _CELL_NODES = 32, 28, 7  # of a unit, up to where the chance itself is 0

# M. J. Wichura, Appl. Stat. 37, 477 (1988), AS 241: the same for the value of a chance.
_CENTRAL = (
    (2509.0809287301226727, 33430.575583588128105, 67265.770927008700853, 45921.953931549871457,
     13731.693765509461125, 1971.5909503065514427, 133.14166789178437745, 3.3871328727963666080),
    (5226.4952788528545610, 28729.085735721942674, 39307.895800092710610, 21213.794301586595867,
     5394.1960214247511077, 687.18700749205790830, 42.313330701600911252, 1.0),
)  # fmt: skip
_TAIL = (
    (7.74545014278341407640e-4, 0.0227238449892691845833, 0.241780725177450611770,
     1.27045825245236838258, 3.64784832476320460504, 5.76949722146069140550,
     4.63033784615654529590, 1.42343711074968357734),
    (1.05075007164441684324e-9, 5.47593808499534494600e-4, 0.0151986665636164571966,
     0.148103976427480074590, 0.689767334985100004550, 1.67638483018380384940,
     2.05319162663775882187, 1.0),
)  # fmt: skip
_FAR_TAIL = (
    (2.01033439929228813265e-7, 2.71155556874348757815e-5, 0.00124266094738807843860,
     0.0265321895265761230930, 0.296560571828504891230, 1.78482653991729133580,
     5.46378491116411436990, 6.65790464350110377720),
    (2.04426310338993978564e-15, 1.42151175831644588870e-7, 1.84631831751005468180e-5,
     7.86869131145613259100e-4, 0.0148753612908506148525, 0.136929880922735805310,
     0.599832206555887937690, 1.0),
)  # fmt: skip

_Ratio = tuple[tuple[float, ...], tuple[float, ...]]


def normal_cdf(z: ArrayLike) -> FloatArray:
    """Probability that a standard normal is below z, shape as given; to its last digits."""
    x = np.asarray(z, dtype=float) * -math.sqrt(0.5)
    y = np.abs(x)
    with np.errstate(over="ignore", under="ignore"):
        below = 0.5 * np.exp(-y * y) * _tail(y)
    return np.asarray(np.where(x < 0.0, 1.0 - below, below))


def normal_log_cdf(z: ArrayLike) -> FloatArray:
    """Logarithm of the probability that a standard normal is below z, however small that is."""
    x = np.asarray(z, dtype=float) * -math.sqrt(0.5)
    y = np.abs(x)
    with np.errstate(divide="ignore", over="ignore", under="ignore"):
        half, square = 0.5 * _tail(y), y * y
        above, below = np.log1p(-half * np.exp(-square)), np.log(half) - square
    return np.asarray(np.where(x < 0.0, above, below))


def _tail(y: FloatArray) -> FloatArray:
    """``exp(y²) erfc(y)`` from 0 up: by one polynomial in each cell, and beyond by a ratio.

    Ratios all the way take three times as long.
    """
    place = np.fmin(y * _CELLS, _CELLS * _CELLS_UP_TO - 1e-9)  # what is no number stays none below
    cell = place.astype(np.intp)
    place -= cell
    first, *others = _cell_polynomials()
    total = first.take(cell)
    for coefficients in others:
        total *= place
        total += coefficients.take(cell)
    beyond = y > _CELLS_UP_TO
    return np.where(beyond, _beyond(y), total) if beyond.any() else total


@cache
def _cell_polynomials() -> FloatArray:
    """Coefficients (7, cells) of ``exp(y²) erfc(y)`` over the place in each cell, the highest power
    first: through the nodes of Chebyshev, where the next power weighs least."""
    count = np.arange(_CELL_NODES)
    place = 0.5 + 0.5 * np.cos(np.pi * (count + 0.5) / _CELL_NODES)
    y = (np.arange(_CELLS * _CELLS_UP_TO) + place[:, None]) / _CELLS
    near = np.minimum(y, _NEAR_UP_TO)
    below = np.exp(near**2) * (1.0 - near * _ratio(_NEAR, near**2))
    value = np.where(y <= _NEAR_UP_TO, below, _ratio(_MIDDLE, np.minimum(y, _MIDDLE_UP_TO)))
    value = np.where(y <= _MIDDLE_UP_TO, value, _beyond(y))
    found: FloatArray = np.asarray(np.linalg.solve(np.vander(place), value), dtype=float)
    found[-1, 0] = 1.0  # as at 0, where half a chance is half to the last digit
    return found


def _beyond(y: FloatArray) -> FloatArray:
    """``exp(y²) erfc(y)`` from 4 up: ``(1/√π - r(1/y²)/y²)/y``."""
    y = np.maximum(y, _MIDDLE_UP_TO)
    with np.errstate(over="ignore", under="ignore"):
        inverse = 1.0 / (y * y)
    return np.asarray((1.0 / math.sqrt(math.pi) - inverse * _ratio(_FAR, inverse)) / y)


def _ratio(both: _Ratio, x: FloatArray) -> FloatArray:
    """One polynomial over another, highest power first."""
    above, below = (_polynomial(part, x) for part in both)
    return above / below


def _polynomial(coefficients: tuple[float, ...], x: FloatArray) -> FloatArray:
    """By Horner's rule, highest power first."""
    total = np.full_like(x, coefficients[0])
    for coefficient in coefficients[1:]:
        total *= x
        total += coefficient
    return total


def normal_quantile(p: ArrayLike) -> FloatArray:
    """The value a standard normal is below with probability p, shape as given."""
    chance = np.asarray(p, dtype=float)
    off = chance - 0.5
    central = off * _ratio(_CENTRAL, np.maximum(0.180625 - off * off, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        r = np.sqrt(-np.log(np.minimum(chance, 1.0 - chance)))
        tail = np.where(
            r <= 5.0, _ratio(_TAIL, np.minimum(r, 5.0) - 1.6), _ratio(_FAR_TAIL, r - 5.0)
        )
        tail = np.where(np.isinf(r), r, tail)
    return np.where(np.abs(off) <= 0.425, central, np.copysign(tail, off))


def normal_density(z: FloatArray) -> FloatArray:
    """Density of a standard normal at z."""
    density: FloatArray = np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return density
