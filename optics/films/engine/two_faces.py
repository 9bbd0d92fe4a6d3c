"""A slab's two faces add as powers: the one place where their passes are summed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..._typing import FloatArray

TRACE = 1e-8
"""Below it the sum of the losses is closer than one less their product."""

FacePowers = tuple[FloatArray, FloatArray]
"""R and T of a face."""


@dataclass(frozen=True, eq=False)
class TwoFaces:
    """Powers that go to and fro between the faces of a slab, of shapes that broadcast.

    Attributes
    ----------
    outside, inside, far : tuple of ndarray
        R and T of the face met first, of the same from inside the slab, and of the far face from
        inside.
    crossing : ndarray
        Transmittance τ of one crossing.
    losses : ndarray, optional
        What is lost on one way round, ``1 - R_f' R_b τ²`` summed from its parts. At grazing
        incidence both faces reflect all but a trace, and the difference has no digits left.

    Notes
    -----
    ``R = R_f + T_f T_f' τ² R_b / N`` and ``T = T_f τ T_b / N`` with ``N = 1 - R_f' R_b τ²``, the
    prime marking the face as met from inside.

    References
    ----------
    H. A. Macleod, Thin-Film Optical Filters, 4th ed., section 2.14 (from memory).
    """

    outside: FacePowers
    inside: FacePowers
    far: FacePowers
    crossing: FloatArray
    losses: FloatArray | None = None

    @cached_property
    def leaving(self) -> FloatArray:
        """``N``: what is lost on one way round."""
        there_and_back = self.far[0] * self.crossing**2
        leaving: FloatArray = 1.0 - self.inside[0] * there_and_back
        if self.losses is not None:
            leaving = np.where(leaving > TRACE, leaving, self.losses)
        return leaving

    @cached_property
    def around(self) -> FloatArray:
        """``1/N``, the sum of all ways round; 1 where no light gets in that could be lost."""
        leaving = self.leaving
        if leaving.min(initial=1.0) <= 0.0:
            leaving = np.where(leaving > 0.0, leaving, 1.0)
        return np.asarray(1.0 / leaving)

    @cached_property
    def starting(self) -> FloatArray:
        """Power that sets out from the first face."""
        return self.outside[1] * self.around

    @cached_property
    def returning(self) -> FloatArray:
        """Power that comes back to the first face."""
        return self.starting * (self.far[0] * self.crossing**2)

    @property
    def R(self) -> FloatArray:
        """Reflectance of the whole."""
        return self.outside[0] + self.returning * self.inside[1]

    @property
    def T(self) -> FloatArray:
        """Transmittance of the whole."""
        return self.starting * (self.crossing * self.far[1])
