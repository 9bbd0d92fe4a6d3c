"""Lights, observers and the weights that turn a spectrum into tristimulus values."""

from __future__ import annotations

from functools import cache, lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError, UnknownNameError, suggest_nearest

COLOUR_RANGE_NM = (380.0, 780.0)
"""The span a spectrum must cover before we make a colour of it."""

SUM_RANGE_NM = (360.0, 780.0)
"""The span summed over, where the light has a table: observers still see a little at 360."""

MAX_STEP_NM = 20.0
"""The coarsest grid for which ASTM E308 gives weights."""

# CIE 15:2018 illuminants: A, C, the D series, fluorescent, high-pressure and LED lamps, and
# the equal-energy E: those that colour-science has over the whole of COLOUR_RANGE_NM. Its tables
# are in the folder cie, written by tools/tabulate_lights.py.
_LED_LIGHTS = ("B1", "B2", "B3", "B4", "B5", "BH1", "RGB1", "V1", "V2")
_LIGHTS = (
    *("D65", "D50", "D55", "D75", "A", "C", "E", "ID65", "ID50"),
    *(f"LED-{name}" for name in _LED_LIGHTS),
    *(f"FL{i}" for i in range(1, 13)),
    *(f"FL3.{i}" for i in range(1, 16)),
    *(f"HP{i}" for i in range(1, 6)),
)
# ASTM E308 and much of the trade write F2 for the lamp that CIE 15 calls FL2.
_OTHER_SPELLINGS = {f"f{i}": f"FL{i}" for i in range(1, 13)}
_FOLDED = {**_OTHER_SPELLINGS, **{name.casefold(): name for name in _LIGHTS}}
OBSERVER_NAMES = {
    2: "CIE 1931 2 Degree Standard Observer",
    10: "CIE 1964 10 Degree Standard Observer",
}
"""The standard observers by the degrees of their field."""


def illuminant_names() -> list[str]:
    """The lights we know, as CIE 15 names them; D65 is the default everywhere."""
    return list(_LIGHTS)


def resolve_illuminant(light: str) -> str:
    """The CIE name of a light, whatever the case; ``F2`` is taken as ``FL2``.

    Raises `UnknownNameError` if no light has that name.
    """
    try:
        return _FOLDED[light.strip().casefold()]
    except KeyError:
        hint = suggest_nearest(light, list(_LIGHTS)) or "try D65, D50, A, LED-B3 or FL11"
        raise UnknownNameError(f"light {light!r} is not one we know; {hint}") from None


def illuminant_power(light: str, wavelength_nm: ArrayLike) -> FloatArray:
    """Relative spectral power of a light at wavelengths (...) inside its table.

    Linear between the 5 nm rows, as CIE 15 asks; 380 to 780 nm are in the table of every light.
    Raises `InputError` where the light is not known or a wavelength lies outside.
    """
    nodes_nm, power = _illuminant_table(resolve_illuminant(light))
    return np.interp(_check_inside(wavelength_nm, nodes_nm, f"light {light}"), nodes_nm, power)


def observer_functions(observer: int, wavelength_nm: ArrayLike) -> FloatArray:
    """Colour-matching functions x̄, ȳ, z̄ (..., 3) of CIE 1931 (2) or CIE 1964 (10 degrees).

    Linear between the 1 nm rows of the table, 360 to 830 nm; raises `InputError` outside.
    """
    nodes_nm, functions = _observer_table(check_observer(observer))
    wavelength = _check_inside(wavelength_nm, nodes_nm, f"the {observer} degree observer")
    columns = [np.interp(wavelength, nodes_nm, functions[:, c]) for c in range(3)]
    return np.stack(columns, axis=-1)


def check_observer(observer: int) -> int:
    """The observer if it is 2 or 10 degrees; otherwise `InputError`."""
    if observer not in OBSERVER_NAMES:
        raise InputError(f"observer must be 2 or 10 (degrees of the CIE field), not {observer!r}")
    return observer


def tristimulus_weights(
    wavelength_nm: ArrayLike, light: str = "D65", observer: int = 2
) -> FloatArray:
    """Weights that turn a spectrum of fractions into X, Y, Z.

    Parameters
    ----------
    wavelength_nm : array_like, shape (W,)
        Wavelengths of the spectrum [nm]: increasing, from 380 or below to 780 or above, no
        step wider than 20.
    light, observer
        A name of `illuminant_names`; 2 or 10 degrees.

    Returns
    -------
    ndarray, shape (W, 3)
        ``xyz = fraction @ weights``, with Y = 100 for a perfect reflector. Read-only, since
        one copy is shared by all callers with the same grid.

    Raises
    ------
    InputError
        If the grid breaks one of the rules above, or light or observer is not known.

    Notes
    -----
    The spectrum is interpolated to 1 nm and summed there against light times observer, over
    360 to 780 nm, as ASTM E308 does with the weights of ASTM E2022. Between evenly spaced
    points the interpolation is E2022's, Lagrange's cubic through the four nearest; between
    uneven ones it is linear, which cannot overshoot. Where the spectrum starts above 360 nm
    its first value stands for what is missing, the rule of E308; the share is below 1e-4.
    A spectrum whose points are all nearer than 1 nm is summed over its own points, so that
    none of its fringes is passed over.
    A plain sum over the grid's own points would do as well for daylight at 5 nm, but misses
    by up to 9 ΔE at 10 nm under a lamp with lines.
    """
    grid = np.ascontiguousarray(wavelength_nm, dtype=np.float64)
    return _weights(grid.tobytes(), resolve_illuminant(light), check_observer(observer))


def white_xyz(light: str = "D65", observer: int = 2) -> FloatArray:
    """XYZ of the perfect mirror under a light, shape (3,), Y = 100; the same on every grid.

    Read-only, since one copy is shared.
    """
    return _white_xyz(resolve_illuminant(light), check_observer(observer))


@cache
def _white_xyz(light: str, observer: int) -> FloatArray:
    weights = tristimulus_weights(np.arange(380.0, 781.0, 5.0), light, observer)
    white: FloatArray = weights.sum(axis=0)
    white.flags.writeable = False
    return white


@lru_cache(maxsize=64)
def _weights(grid_bytes: bytes, light: str, observer: int) -> FloatArray:
    grid = np.frombuffer(grid_bytes)
    widest_nm = _check_grid(grid)
    first_nm = max(SUM_RANGE_NM[0], _illuminant_table(light)[0][0])
    fine_nm = np.arange(first_nm, SUM_RANGE_NM[1] + 0.5)
    lit = _lit(fine_nm, light, observer)
    if widest_nm < 1.0:
        weights = _own_sum(grid, light, observer, first_nm=first_nm)
        weights *= lit.sum(axis=0) / weights.sum(axis=0)  # a mirror is as white on every grid
    else:
        weights = _interpolation_matrix(grid, np.maximum(fine_nm, grid[0])).T @ lit
    weights *= 100.0 / lit[:, 1].sum()
    weights.flags.writeable = False
    return weights


def _lit(wavelength_nm: FloatArray, light: str, observer: int) -> FloatArray:
    """Light times observer, shape (..., 3)."""
    return illuminant_power(light, wavelength_nm)[:, None] * observer_functions(
        observer, wavelength_nm
    )


def _own_sum(grid: FloatArray, light: str, observer: int, *, first_nm: float) -> FloatArray:
    """Weights (W, 3) of a plain sum over a fine grid: each point stands for what lies nearest."""
    inside = np.flatnonzero((grid >= first_nm) & (grid <= SUM_RANGE_NM[1]))
    points = grid[inside]
    edges = np.concatenate([points[:1], 0.5 * (points[1:] + points[:-1]), points[-1:]])
    weights = np.zeros((grid.size, 3))
    weights[inside] = np.diff(edges)[:, None] * _lit(points, light, observer)
    before_nm = np.arange(first_nm, points[0] - 0.5)  # its first value stands for what is missing
    weights[inside[0]] += _lit(before_nm, light, observer).sum(axis=0)
    return weights


def _check_grid(grid: FloatArray) -> float:
    """The widest step [nm] in the visible, of a grid that carries a colour."""
    low, high = COLOUR_RANGE_NM
    if grid.size < 2 or not np.all(np.isfinite(grid)) or not np.all(np.diff(grid) > 0):
        raise OutOfRangeError(
            "wavelength_nm must be a list of finite, increasing wavelengths to make a colour of"
        )
    if grid[0] > low or grid[-1] < high:
        raise OutOfRangeError(
            f"wavelength_nm must cover {low:g} to {high:g} nm to make a colour of; "
            f"it runs from {grid[0]:g} to {grid[-1]:g} nm"
        )
    visible = (grid[1:] > low) & (grid[:-1] < high)
    widest = float(np.diff(grid)[visible].max())
    if widest > MAX_STEP_NM * (1 + 1e-9):
        raise OutOfRangeError(
            f"wavelength_nm must have no step wider than {MAX_STEP_NM:g} nm between {low:g} "
            f"and {high:g} nm; the widest here is {widest:g} nm"
        )
    return widest


def _interpolation_matrix(nodes_nm: FloatArray, at_nm: FloatArray) -> FloatArray:
    """Rows of coefficients, shape (at, nodes), that interpolate node values at ``at_nm``."""
    steps = np.diff(nodes_nm)
    even = nodes_nm.size >= 4 and np.allclose(steps, steps[0], rtol=1e-6, atol=0.0)
    points = 4 if even else 2
    left = np.searchsorted(nodes_nm, at_nm, side="right") - points // 2
    first = np.clip(left, 0, nodes_nm.size - points)
    near = nodes_nm[first[:, None] + np.arange(points)]
    matrix = np.zeros((at_nm.size, nodes_nm.size))
    for j in range(points):
        others = [i for i in range(points) if i != j]
        gaps = near[:, [j]] - near[:, others]
        basis = ((at_nm[:, None] - near[:, others]) / gaps).prod(axis=-1)
        matrix[np.arange(at_nm.size), first + j] = basis
    return matrix


def _check_inside(wavelength_nm: ArrayLike, nodes_nm: FloatArray, what: str) -> FloatArray:
    wavelength = np.asarray(wavelength_nm, dtype=np.float64)
    low, high = float(nodes_nm[0]), float(nodes_nm[-1])
    bad = ~((wavelength >= low) & (wavelength <= high))  # NaN counts as bad
    if bad.any():
        raise OutOfRangeError(
            f"wavelength_nm must lie between {low:g} and {high:g} nm for {what}; "
            f"{bad.sum()} of {wavelength.size} values do not, first {wavelength[bad].flat[0]:g}"
        )
    return wavelength


@cache
def _illuminant_table(light: str) -> tuple[FloatArray, FloatArray]:
    table = _table(f"light-{light}.csv")
    return table[:, 0], table[:, 1]


@cache
def _observer_table(observer: int) -> tuple[FloatArray, FloatArray]:
    table = _table(f"observer-{observer}.csv")
    return table[:, 0], table[:, 1:]


def _table(name: str) -> FloatArray:
    text = files(__package__).joinpath("cie", name).read_text("utf-8")
    return np.array([line.split(",") for line in text.splitlines()[1:]], dtype=float)
