"""Numbers that carry their derivatives along, so that a formula is written once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Dual:
    """Numbers and their derivatives to K unknowns.

    Derivatives of amplitudes are to what they are analytic in. Those of a real power p are the
    numbers g of ``δp = Re(g δz)``, which add and multiply alike.

    Attributes
    ----------
    parts : ndarray, shape (1 + K, ...)
        The numbers and a row for each unknown; rows left out at the end are zero.
    """

    parts: NDArray[Any]

    @property
    def value(self) -> NDArray[Any]:
        """The numbers."""
        own: NDArray[Any] = self.parts[0]
        return own

    def __add__(self, other: Dual) -> Dual:
        return Dual(_added(self.parts, other.parts, np.add))

    def __sub__(self, other: Dual) -> Dual:
        return Dual(_added(self.parts, other.parts, np.subtract))

    def __neg__(self) -> Dual:
        return Dual(-self.parts)

    def __mul__(self, other: Dual) -> Dual:
        few, many = sorted((self.parts, other.parts), key=len)
        product = few[:1] * many
        if len(few) > 1:
            product[1 : len(few)] += few[1:] * many[:1]
        return Dual(product)

    def one_less(self) -> Dual:
        """1 - z."""
        parts = -self.parts
        parts[0] += 1.0
        return Dual(parts)

    def inverse(self) -> Dual:
        """1 / z."""
        value = 1.0 / self.parts[:1]
        if len(self.parts) == 1:
            return Dual(value)
        parts = self.parts * -(value * value)
        parts[:1] = value
        return Dual(parts)

    def square(self) -> Dual:
        """|z|², of amplitudes."""
        value = self.parts[:1]
        if len(self.parts) == 1:
            return Dual(value.real**2 + value.imag**2)
        parts = self.parts * (2.0 * np.conj(value))
        parts[0] *= 0.5
        return Dual(parts)

    def size(self) -> Dual:
        """|z|, of amplitudes."""
        value = self.parts[:1]
        size = np.abs(value)
        if len(self.parts) == 1:
            return Dual(size)
        # Light that does not come through at all does not change either.
        turned = np.conj(value) / np.where(size > 0.0, size, 1.0)
        return Dual(self.parts * turned)


def _added(a: NDArray[Any], b: NDArray[Any], function: np.ufunc) -> NDArray[Any]:
    """Sums or differences of numbers and derivatives."""
    if len(a) == len(b):
        whole: NDArray[Any] = function(a, b)
        return whole
    shape, few = np.broadcast_shapes(a.shape[1:], b.shape[1:]), min(len(a), len(b))
    total = np.empty((max(len(a), len(b)), *shape), dtype=np.result_type(a, b))
    function(a[:few], b[:few], out=total[:few])
    total[few:] = a[few:] if len(a) > few else function(0.0, b[few:])
    return total
