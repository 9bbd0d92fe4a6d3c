"""Unknowns in which the ridge of films of one optical thickness is straight.

Fringes tell the product of index and thickness, so that what a spectrum leaves open lies along a
hyperbola, far narrower across than it bends. A bell about a best fit misses its ends; a bell in
thickness and in index times thickness does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray, IndexArray
from .index_models import IndexParameter

_THIN_NM = 20.0  # below it there is no fringe to keep
_FURTHEST = 2.0  # in thickness, by a factor, that a ridge is followed
_OPEN = 0.25  # standard deviation over thickness beyond which there is none to follow


@dataclass(frozen=True, eq=False)
class Ridge:
    """Which unknowns of a film are proportional to its index.

    Attributes
    ----------
    columns : ndarray of int, shape (K,)
        Their places among the unknowns, the thickness being the first.
    level : ndarray, shape (K,)
        Such that ``level + z`` is proportional to what multiplies the thickness.
    """

    columns: IndexArray
    level: FloatArray

    @classmethod
    def of(cls, parameters: Sequence[IndexParameter], has_thickness: bool) -> Ridge:
        """The ridge of a world with these parameters; an empty one without a thickness."""
        own = [
            (1 + i, (p.centre + p.proportional_from) / p.spread)
            for i, p in enumerate(parameters if has_thickness else ())
            if p.proportional_from is not None
        ]
        columns, level = zip(*own, strict=True) if own else ((), ())
        return cls(np.array(columns, dtype=np.intp), np.array(level, dtype=float))

    def restrict(self, thickness_nm: float, spread_nm: float) -> Ridge:
        """The ridge if readings tell the thickness so well; none if they leave it open."""
        return self if spread_nm < _OPEN * thickness_nm else Ridge.of((), False)

    def reach(self, z: float) -> float:
        """Share by which the index is off where what it is proportional to is off by z."""
        return z / float(self.level.max()) if self.columns.size else 0.0

    def ratio(self, thickness_nm: FloatArray, about_nm: FloatArray | float) -> FloatArray:
        """Thickness (N,) relative to that of the best fit, as far as the ridge is followed."""
        if isinstance(about_nm, float):
            if about_nm <= _THIN_NM:
                return np.ones_like(thickness_nm)
            return np.clip(thickness_nm / about_nm, 1.0 / _FURTHEST, _FURTHEST)
        thick = about_nm > _THIN_NM
        relative = np.asarray(thickness_nm / np.where(thick, about_nm, 1.0))
        return np.where(thick, np.clip(relative, 1.0 / _FURTHEST, _FURTHEST), 1.0)

    def straighten(self, x: FloatArray, about_nm: float) -> FloatArray:
        """Unknowns (N, F) with index times thickness in place of the index."""
        if self.columns.size == 0:
            return x
        ratio = self.ratio(x[:, 0], about_nm)[:, None]
        y = x.copy()
        y[:, self.columns] = (self.level + x[:, self.columns]) * ratio - self.level
        return y

    def bend_back(self, y: FloatArray, about_nm: FloatArray | float) -> FloatArray:
        """What :meth:`straighten` was made from."""
        if self.columns.size == 0:
            return y
        ratio = self.ratio(y[:, 0], about_nm)[:, None]
        x = y.copy()
        x[:, self.columns] = (self.level + y[:, self.columns]) / ratio - self.level
        return x

    def log_stretch(self, x: FloatArray, about_nm: float) -> FloatArray:
        """Log determinant (N,) of the derivatives of :meth:`straighten`."""
        if self.columns.size == 0:
            return np.zeros(len(x))
        return np.asarray(self.columns.size * np.log(self.ratio(x[:, 0], about_nm)))

    def straight_precision(self, precision: FloatArray, x: FloatArray) -> FloatArray:
        """Curvature (F, F) at a best fit (F,) with respect to the straight unknowns."""
        if self.columns.size == 0 or x[0] <= _THIN_NM:
            return precision
        back = np.eye(x.size)
        back[self.columns, 0] = -(self.level + x[self.columns]) / x[0]
        return np.asarray(back.T @ precision @ back)

    def step_along(self, x: FloatArray, step: FloatArray) -> FloatArray:
        """Where steps (N, F) from x (N, F) lead that are straight along the ridge."""
        moved = x + step
        if self.columns.size:
            ratio = self.ratio(moved[:, 0], x[:, 0])[:, None]
            moved[:, self.columns] = x[:, self.columns] + step[:, self.columns] / ratio
        return np.asarray(moved)
