"""Looking at how far s and p part at a slant: the reflectance, or what is let through, of s less
that of p."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..films.spectra import Asked
from .observation import GoalObservation, Powers


@dataclass(frozen=True, eq=False)
class SplitObservation(GoalObservation):
    """A sight of the difference of two polarisations [percent points], as ``turn``.

    Attributes
    ----------
    own_s, own_p : GoalObservation
        The same sight with each of them.
    through : bool
        Whether what is let through is meant.
    """

    own_s: GoalObservation
    own_p: GoalObservation
    through: bool

    @property
    def needs_general(self) -> bool:
        """Always: sights put together have one polarisation."""
        return True

    def powers(
        self, films: ComplexArray, thickness_nm: FloatArray, tilt_deg: FloatArray | None = None
    ) -> Powers:
        """Differences of designs: index (..., L, W), thickness (..., L)."""
        s, p = (one.powers(films, thickness_nm, tilt_deg) for one in (self.own_s, self.own_p))
        return _as_difference(s, p, self.through)

    def gradient(self, films: ComplexArray, thickness_nm: FloatArray, _of: Asked = "RT") -> Powers:
        """As ``powers``, with the derivatives to the thicknesses, as ``dturn`` (..., K, L, W)."""
        of: Asked = "T" if self.through else "R"
        s, p = (one.gradient(films, thickness_nm, of) for one in (self.own_s, self.own_p))
        return _as_difference(s, p, self.through)


def part_ways(seen: GoalObservation, *, through: bool) -> SplitObservation:
    """A sight of s less p, from a sight of either."""
    parts = {one.name: getattr(seen, one.name) for one in fields(seen)}
    s, p = replace(seen, polarization="s"), replace(seen, polarization="p")
    return SplitObservation(**parts, own_s=s, own_p=p, through=through)


def _as_difference(s: Powers, p: Powers, through: bool) -> Powers:
    read = 100.0 * (s.T - p.T if through else s.R - p.R)
    none = np.empty((*read.shape[:-1], 0))
    if s.dR is None or p.dR is None or s.dT is None or p.dT is None:
        return Powers(none, none, turn=read)
    slopes = s.dT - p.dT if through else s.dR - p.dR
    return Powers(none, none, turn=read, dturn=100.0 * slopes)
