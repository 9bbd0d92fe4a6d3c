"""What a layer can be made of: anything that knows its complex refractive index."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike

from ..._typing import ComplexArray
from ...errors import OutOfRangeError

# Beyond any optical material, and far enough from 0 and overflow for squares and ratios.
_SMALLEST_INDEX, _LARGEST_INDEX = 1e-6, 1000.0


@runtime_checkable
class Medium(Protocol):
    """A homogeneous isotropic material; the loaded tables and the mixtures are media too."""

    @property
    def label(self) -> str:
        """The medium as our notation writes it."""
        ...

    @property
    def kind(self) -> str:
        """``metal``, ``oxide``, ``glass`` ...; ``constant`` for a typed index."""
        ...

    def nk(self, wavelength_nm: ArrayLike) -> ComplexArray:
        """Complex index n + ik (k >= 0) at each wavelength [nm], shape of the input."""
        ...


@dataclass(frozen=True)
class ConstantIndex:
    """A medium with one complex index at every wavelength.

    Parameters
    ----------
    n, k : float
        Index and extinction coefficient, not negative and not both zero.

    Raises
    ------
    OutOfRangeError
        If either is negative, NaN, larger than 1000, or both are below 1e-6.
    """

    n: float
    k: float = 0.0

    def __post_init__(self) -> None:
        inside = 0.0 <= self.n <= _LARGEST_INDEX and 0.0 <= self.k <= _LARGEST_INDEX
        if not inside or max(self.n, self.k) < _SMALLEST_INDEX:
            raise OutOfRangeError(
                f"the index n={self.n:g}{self.k:+g}i must have n and k between 0 and "
                f"{_LARGEST_INDEX:g}, not both zero (k counts absorption and is positive)"
            )

    @property
    def label(self) -> str:
        """The index as our notation writes it."""
        return f"n={float(self.n)!r}" + (f"+{float(self.k)!r}i" if self.k else "")

    @property
    def kind(self) -> str:
        """Always ``constant``."""
        return "constant"

    def nk(self, wavelength_nm: ArrayLike) -> ComplexArray:
        """The index repeated for each wavelength, shape of ``wavelength_nm``."""
        return np.full(np.shape(wavelength_nm), complex(self.n, self.k))


AIR = ConstantIndex(1.0)
"""The default ambient; the 0.03 % by which real air differs from vacuum is left out."""
