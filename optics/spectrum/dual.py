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
    parts : ndarray, shape (1 + K, ...) or (1, ...)
        The numbers and a row for each unknown; of what does not change with any, the numbers.
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
        a, b = self.parts, other.parts
        product = a * b if len(a) == 1 or len(b) == 1 else a * b[:1]
        if len(a) > 1 and len(b) > 1:
            product[1:] += a[:1] * b[1:]
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
    shape = np.broadcast_shapes(a.shape[1:], b.shape[1:])
    total = np.zeros((max(len(a), len(b)), *shape), dtype=np.result_type(a, b))
    total[: len(a)] = a
    rows = total[: len(b)]
    function(rows, b, out=rows)
    return total
