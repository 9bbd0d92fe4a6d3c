"""Fields on a lattice: smoothed, read between its places, and which places lie together.

`scipy.ndimage` does these and much more, but loading it takes as long as all of them in an answer.
"""

from __future__ import annotations

import math
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from .._typing import BoolArray, FloatArray, IndexArray

_REACH = 4.0  # standard deviations
_AT_A_TIME = 16_384  # places: what is computed on the way stays in cache


def blur_field(field: FloatArray, spread: ArrayLike) -> FloatArray:
    """Mean of a field over a normal scatter about each place, of that spread [places] along each
    axis; past the edges it goes on as at them."""
    shape = field.shape
    for axis, width in enumerate(np.broadcast_to(spread, field.ndim).tolist()):
        matrix = _blur(shape[axis], width)
        if axis == field.ndim - 1:
            field = field.reshape(-1, shape[axis]) @ matrix.T
        else:
            field = matrix @ field.reshape(math.prod(shape[:axis]), shape[axis], -1)
    return field.reshape(shape)


def _blur(count: int, width: float) -> FloatArray:
    """The smoothing along one axis as a matrix (count, count)."""
    reach = int(_REACH * width + 0.5)
    offsets = np.arange(-reach, reach + 1)
    share = np.exp(-0.5 * (offsets / max(width, 1e-12)) ** 2)
    rows = np.arange(count)[:, None]
    matrix = np.zeros((count, count))
    np.add.at(matrix, (rows, np.clip(rows + offsets, 0, count - 1)), share / share.sum())
    return matrix


def interpolate_lattice(field: FloatArray, place: FloatArray) -> FloatArray:
    """A field at places (..., axes) counted from 0, linear between those of the lattice; beyond
    the edges as at them."""
    whole = np.empty(place.shape[:-1])
    out, rows = whole.reshape(-1), place.reshape(-1, field.ndim)
    for first in range(0, out.size, _AT_A_TIME):
        some = slice(first, first + _AT_A_TIME)
        out[some] = _interpolate_some(field, rows[some])
    return whole


def _interpolate_some(field: FloatArray, place: FloatArray) -> FloatArray:
    start, steps, parts = np.zeros(len(place), dtype=np.intp), [], []
    for axis, count in enumerate(field.shape):
        inside = np.clip(place[:, axis], 0.0, count - 1)
        below = np.minimum(inside.astype(np.intp), max(count - 2, 0))
        step = field[(0,) * axis].size // count
        start += step * below
        steps.append(step if count > 1 else 0)
        parts.append(inside - below)
    flat, corners = field.ravel(), product(*((0, step) for step in steps))
    values = [flat[sum(steps) :].take(start) for steps in corners]
    for part in reversed(parts):
        values = [_between(*ends, part) for ends in zip(values[::2], values[1::2], strict=True)]
    return values[0]


def _between(low: FloatArray, high: FloatArray, part: FloatArray) -> FloatArray:
    """``low + part (high - low)``, in the place of ``high``."""
    high -= low
    high *= part
    high += low
    return high


def nearest_inside(inside: BoolArray) -> tuple[IndexArray, ...]:
    """For each place the indices of the nearest that is inside; one place at least is.

    Axis by axis: the squares of the distances add (T. Saito and J. Toriwaki, Pattern Recognition
    27, 1551 (1994), doi:10.1016/0031-3203(94)90133-3).
    """
    far = 1 + sum(count * count for count in inside.shape)  # than any place from another
    small = 2 * far * max(inside.shape) < 2**32
    squares = np.where(inside, 0, far).astype(np.uint32 if small else np.int64)
    found: IndexArray = np.arange(inside.size).reshape(inside.shape)
    for axis in reversed(range(inside.ndim)):
        # Square and place as one number, so that the least is the first of those that lie as near.
        along = np.ascontiguousarray(np.moveaxis(squares, axis, 0))
        along *= along.dtype.type(len(along))
        places = np.arange(len(along)).reshape(-1, *[1] * (inside.ndim - 1))
        least = np.full_like(along, 2 * far * len(along) - 1)
        for at, one in enumerate(along):
            more = ((places - at) ** 2 * len(along) + at).astype(along.dtype)
            np.minimum(least, one + more, out=least)
        squares, which = (np.moveaxis(one, 0, axis) for one in np.divmod(least, len(along)))
        found = np.take_along_axis(found, which.astype(np.intp), axis=axis)
    return np.unravel_index(found, inside.shape)


def label_regions(inside: BoolArray) -> tuple[IndexArray, int]:
    """Regions of pixels (H, W) that touch by their sides, numbered from 1, and how many."""
    height, width = inside.shape
    edges = np.diff(np.pad(inside, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, begin = np.nonzero(edges == 1)
    end = np.nonzero(edges == -1)[1]
    lead = list(range(len(row)))
    first = np.searchsorted(row, np.arange(height + 1)).tolist()
    for y in range(1, height):
        a, b = first[y - 1], first[y]
        while a < first[y] and b < first[y + 1]:
            if begin[a] < end[b] and begin[b] < end[a]:
                lead[_root(lead, b)] = _root(lead, a)
            a, b = (a + 1, b) if end[a] <= end[b] else (a, b + 1)
    _, number = np.unique([_root(lead, run) for run in range(len(row))], return_inverse=True)
    steps = np.zeros((height, width + 1), dtype=np.intp)
    steps[row, begin] += number + 1
    steps[row, end] -= number + 1
    return np.cumsum(steps, axis=1)[:, :width], int(number.max(initial=-1)) + 1


def _root(lead: list[int], run: int) -> int:
    while lead[run] != run:
        lead[run] = lead[lead[run]]
        run = lead[run]
    return run
