"""What a part of a stack does to waves that meet it from above and from below.

Parts are joined by the sum of all ways to and fro in the layer between. However thick a layer is,
only its round trip enters, so that many thicknesses of one layer share all else.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from .dual import Dual


class Section(Protocol):
    """From one medium to another."""

    @property
    def down(self) -> Dual:
        """Amplitude sent back to waves from above."""

    @property
    def up(self) -> Dual:
        """Amplitude sent back to waves from below."""

    @property
    def through(self) -> Dual:
        """Product of the amplitudes let through from above and from below, ``t t'``."""


@dataclass(frozen=True, eq=False)
class Boundary:
    """Where a medium of admittance ``above`` meets one of admittance ``below``.

    ``r = (q - q')/(q + q')``, and ``t t' = 1 - r²``.
    """

    above: Dual
    below: Dual

    @cached_property
    def down(self) -> Dual:
        """Amplitude sent back to waves from above."""
        return (self.above - self.below) * (self.above + self.below).inverse()

    @cached_property
    def up(self) -> Dual:
        """Amplitude sent back to waves from below."""
        return -self.down

    @cached_property
    def through(self) -> Dual:
        """Product of the amplitudes let through, either way."""
        return (self.down * self.down).one_less()


@dataclass(frozen=True, eq=False)
class Join:
    """A section above a layer, the layer, and a section below it.

    With the round trip ``x = exp(2iδ)`` of the layer, the sum of all ways to and fro is
    ``g = 1/(1 - r_a' x r_b)``; then ``r = r_a + t_a t_a' x r_b g``,
    ``r' = r_b' + t_b t_b' x r_a' g`` and ``t t' = t_a t_a' t_b t_b' x g²``.

    Attributes
    ----------
    above, below : Section
    round_trip : Dual
    """

    above: Section
    round_trip: Dual
    below: Section

    @cached_property
    def _back(self) -> Dual:
        """Waves that come back to the top of the layer."""
        return self.round_trip * self.below.down

    @cached_property
    def _ways(self) -> Dual:
        return (self.above.up * self._back).one_less().inverse()

    @cached_property
    def down(self) -> Dual:
        """Amplitude sent back to waves from above."""
        return self.above.down + self.above.through * self._back * self._ways

    @cached_property
    def up(self) -> Dual:
        """Amplitude sent back to waves from below."""
        turned = self.round_trip * self.above.up
        return self.below.up + self.below.through * turned * self._ways

    @cached_property
    def through(self) -> Dual:
        """Product of the amplitudes let through, either way."""
        both = self.above.through * self.below.through
        return both * self.round_trip * self._ways * self._ways
