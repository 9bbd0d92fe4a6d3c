"""Whether indices of refraction are ones the optics can work with."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..._typing import ComplexArray, FloatArray
from ...errors import InputError, OutOfRangeError

_FLOAT = np.dtype(float)
# Far beyond any material or light, and far enough from overflow for the products of fields.
_SMALLEST, _LARGEST = 1e-6, 1e6
# Bits of numbers not negative stand in the order of the numbers; those of negative ones, infinity
# and NaN lie above them. Between these bounds |n + ik| need not be worked out.
_LEAST, _MOST = np.array([_SMALLEST, 0.5 * _LARGEST]).view(np.uint64)


def as_numbers(values: ArrayLike, parameter: str) -> FloatArray:
    """An array of real numbers from what a caller gave.

    Raises
    ------
    InputError
        If it is anything else, such as text.
    """
    if type(values) is np.ndarray and values.dtype is _FLOAT:
        return values  # as most are: one stack in a loop waits for no more
    return np.asarray(_as_kind(values, "iuf", "numbers", parameter), dtype=float)


def as_complex(values: ArrayLike, parameter: str) -> ComplexArray:
    """The same of complex numbers."""
    return np.asarray(_as_kind(values, "iufc", "complex numbers", parameter), dtype=complex)


def _as_kind(values: ArrayLike, kinds: str, said: str, parameter: str) -> NDArray[np.generic]:
    try:
        found = np.asarray(values)
    except (ValueError, OverflowError):  # rows of unequal lengths, or beyond any float
        found = np.array(None)
    if found.dtype.kind not in kinds:
        raise InputError(
            f"`{parameter}` must be {said} in one regular array, not {values!r:.60}",
            parameter=parameter,
        )
    return found


def check_index(n: ComplexArray) -> None:
    """Raise an error unless all are finite, in range, and in the first quadrant.

    Raises
    ------
    OutOfRangeError
    """
    if not (_is_plain(n) or _is_index(n)):
        raise OutOfRangeError(
            f"index must have n and k finite and not negative, and |n + ik| between {_SMALLEST:g} "
            f"and {_LARGEST:g}"
        )


def check_ambient(n: ComplexArray) -> None:
    """Raise an error unless light can come from media of these indices.

    Raises
    ------
    OutOfRangeError
    """
    check_index(n)
    if not (n.real > 0.0).all():
        raise OutOfRangeError("index of the ambient must have n above 0, or no light arrives")


def _is_plain(n: ComplexArray) -> bool:
    """Whether two looks tell that they are; where they do not, a closer one may."""
    if n.size == 0:
        return True
    if n.strides[-1] != n.itemsize:
        return False
    bits = n.view(np.uint64)
    return bool(bits.max() <= _MOST and bits[..., ::2].min() >= _LEAST)


def _is_index(n: ComplexArray) -> bool:
    """NaN is in no range."""
    size = np.abs(n)
    inside = size.min() >= _SMALLEST and size.max() <= _LARGEST
    return bool(inside and n.real.min() >= 0.0 and n.imag.min() >= 0.0)
