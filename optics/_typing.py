"""Array types that every room shares."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
SingleArray: TypeAlias = NDArray[np.float32]
RealArray: TypeAlias = FloatArray | SingleArray
ComplexArray: TypeAlias = NDArray[np.complex128]
BoolArray: TypeAlias = NDArray[np.bool_]
IndexArray: TypeAlias = NDArray[np.intp]
