"""Sums over a spectrum as functions of one thickness: a short series for each stretch of it.

A colour is as smooth in the thickness of a film as the fastest of its waves turns, and far fewer
thicknesses than are asked for say it to the last digits.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache, lru_cache
from itertools import pairwise

import numpy as np

from ..._typing import FloatArray

_TERMS = 32  # of a series: halvings fit, and the polynomials of some thousand places stay in cache
_TURN = 2.5  # of the fastest wave there and back over a piece, which most films are smooth over
_WORTH = 4  # times as many thicknesses as are worked out
_TRACE = 2e-14  # of the sum of all light: the last terms are below it, and what is left out too
_LAST = 3  # terms, as every second one of an even or odd function is nothing
_NONE = 1e-300  # stands for a sum of no light
_AT_A_TIME = 2_048  # thicknesses whose polynomials are worked out together


def sum_by_series(
    at: Callable[[FloatArray, FloatArray], FloatArray],
    thickness_nm: FloatArray,
    *,
    even: bool,
    turn_per_nm: float,
    scale: FloatArray,
) -> FloatArray | None:
    """Sums (S, D, n) at thicknesses (D,), or None if they are not smooth enough for so few.

    Parameters
    ----------
    at : callable
        Sums (S, P I, n) at ``coarse + fine``, of thicknesses (P,) and (I,) [nm].
    thickness_nm : ndarray, shape (D,)
    even : bool
        Whether they are as far apart, each from the next; those that rise are read at once.
    turn_per_nm : float
        How far the fastest wave turns there and back [rad/nm].
    scale : ndarray, shape (n,)
        The sums of all light.

    Notes
    -----
    Chebyshev's series of a function whose nearest pole lies at ``ρ`` falls as ``ρ^-n`` (L. N.
    Trefethen, Approximation Theory and Approximation Practice, chapter 8, from memory). Over half
    the stretch its last terms are about the square of what they were, which says how short it has
    to be: where lines are sharp, as between two mirrors, too short to pay. A line of a finesse
    beyond 10⁷ could hide between the nodes.
    """
    count = thickness_nm.size
    if count < _WORTH * _TERMS:
        return None
    ends = thickness_nm[[0, -1]] if even else thickness_nm
    low, high = float(ends.min()), float(ends.max())
    pieces = max(1, math.ceil(turn_per_nm * (high - low) / _TURN))
    nodes, factors = _nodes()
    even = even and low == thickness_nm[0]
    while _WORTH * _TERMS * pieces <= count:
        wide, each = (high - low) / pieces, -(-count // pieces)
        if even:  # of as many thicknesses each
            pieces, wide = -(-count // each), each * (high - low) / (count - 1)
        starts: FloatArray = low + wide * np.arange(float(pieces))
        values = at(starts, 0.5 * wide * (1.0 + nodes))
        by_sum = values.swapaxes(1, 2).reshape(-1, values.shape[-1], pieces, _TERMS)
        series = by_sum @ factors
        last_terms = np.abs(series[..., -_LAST:]).max(axis=(0, 2, 3))
        last = float((last_terms / np.maximum(scale, _NONE)).max())
        if last < _TRACE:
            if even:
                return _read_even(series, each)[:, :count]
            return _read(series, (thickness_nm - low) / (wide or 1.0))
        if not last < 1.0:
            break
        pieces *= 2 ** math.ceil(math.log2(math.log(_TRACE) / math.log(last)))
    return None


@cache
def _nodes() -> tuple[FloatArray, FloatArray]:
    """Chebyshev's nodes (I,), and the coefficients (I, n) of the series through values there."""
    # Cosines of n times the angle of each node, by whole steps: n times an angle loses digits.
    steps = np.arange(_TERMS)[:, None] * np.arange(1, 2 * _TERMS, 2) % (4 * _TERMS)
    cosines = np.cos(0.5 * np.pi / _TERMS * steps)
    share = cosines * (2.0 / _TERMS)
    share[0] *= 0.5
    return cosines[1], share.T


def _read_even(series: FloatArray, each: int) -> FloatArray:
    """Values (S, P D, n) of the series (S, n, P, terms) at D even places of every piece."""
    sets, sums, pieces, terms = series.shape
    parts = series.reshape(sets * sums, pieces, terms).swapaxes(0, 1)
    read = np.empty((sets * sums, pieces, each))  # sums apart, as they are worked on
    by_piece = read.swapaxes(0, 1)
    for start in range(0, each, _AT_A_TIME):
        some = slice(start, min(start + _AT_A_TIME, each))
        polynomials = _even_polynomials(some.start, some.stop, each)
        np.matmul(parts, polynomials, out=by_piece[..., some])
    return read.reshape(sets, sums, pieces * each).swapaxes(1, 2)


def _read(series: FloatArray, place: FloatArray) -> FloatArray:
    """Values (S, D, n) of the series (S, n, P, terms) of pieces of unit length, end to end."""
    sets, sums, pieces, terms = series.shape
    parts = series.transpose(2, 3, 0, 1).reshape(pieces, terms, sets * sums)
    which = np.minimum(place.astype(np.intp), pieces - 1)
    order = np.argsort(which, kind="stable")
    which, place = which[order], place[order]
    x = 2.0 * (place - which) - 1.0
    edges = {*np.searchsorted(which, np.arange(pieces)).tolist(), *range(0, x.size, _AT_A_TIME)}
    read = np.empty((x.size, sets * sums))
    for start, end in pairwise(sorted({*edges, x.size})):
        if start % _AT_A_TIME == 0:
            T = _polynomials(x[start : start + _AT_A_TIME]).T
        at = slice(start % _AT_A_TIME, start % _AT_A_TIME + end - start)
        np.matmul(T[at], parts[which[start]], out=read[start:end])
    found = np.empty_like(read)
    found[order] = read
    return found.reshape(x.size, sets, sums).swapaxes(0, 1)


def _polynomials(x: FloatArray) -> FloatArray:
    """Chebyshev's polynomials (terms, D) at places from -1 to 1."""
    T = np.empty((_TERMS, x.size))
    T[0], T[1] = 1.0, x
    known = 1
    while known + 1 < _TERMS:  # T_m+j = 2 T_m T_j - T_m-j
        more = min(known, _TERMS - 1 - known)
        np.multiply(2.0 * T[known], T[1 : more + 1], out=T[known + 1 : known + more + 1])
        T[known + 1 : known + more + 1] -= T[known - more : known][::-1]
        known += more
    return T


@lru_cache(maxsize=8)
def _even_polynomials(start: int, stop: int, each: int) -> FloatArray:
    """The same at some of so many even places: as all sweeps of that many thicknesses have."""
    return _polynomials(np.arange(float(start), float(stop)) * (2.0 / each) - 1.0)
