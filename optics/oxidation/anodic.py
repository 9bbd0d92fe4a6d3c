"""Oxide from an anodising bath: thickness by the volts it stopped at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray, IndexArray
from ..errors import InputError, OutOfRangeError
from .metals import AnodicLaw, Metal

# How far a bath's constant at high volts may stray from that at low volts, as a share of the spread
# between baths, and the scatter of the thickness from strip to strip (median, ln sd): judgements.
_TILT = 0.4
_SCATTER = 0.02, 0.5


def anodic_law(metal: Metal) -> AnodicLaw:
    """The metal's constant; `InputError` if none is shipped."""
    if metal.anodic is None:
        raise InputError(f"no anodising constant is shipped for {metal.name}")
    return metal.anodic


@dataclass(frozen=True, eq=False)
class BathDraws:
    """Possible baths, one in each row.

    Attributes
    ----------
    common, tilt : ndarray, shape (N,)
        How far the constant is off, in standard deviations: at all volts, and less at the low end
        than at the high one.
    scatter : ndarray, shape (N,)
        Relative standard deviation of the thickness from strip to strip.
    native_nm : ndarray, shape (N,)
        Film before the bath, of which it is part.
    index_error, film : ndarray, shape (N,)
        As of `LawDraws`.
    """

    common: FloatArray
    tilt: FloatArray
    scatter: FloatArray
    native_nm: FloatArray
    index_error: FloatArray
    film: IndexArray

    def take(self, rows: IndexArray) -> BathDraws:
        """The draws in the given rows."""
        return BathDraws(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))

    def nm_per_V(self, law: AnodicLaw, volts: float) -> FloatArray:
        """The constant at a voltage (N,): ``c(V) + sd (√(1 - τ²) z₀ + τ u(V) z₁)``.

        ``u`` runs from -1 at the lowest to 1 at the highest volts the constant was found at.
        """
        ends = law.at_V[0], law.at_V[-1]
        tilt = _TILT if len(law.at_V) > 1 else 0.0
        u = float(np.interp(volts, ends, (-1.0, 1.0))) if tilt else 0.0
        own = float(law.typical_nm(volts)) / volts
        off = np.sqrt(1.0 - tilt**2) * self.common + tilt * u * self.tilt
        return np.asarray(np.abs(own + law.sd * off))

    def typical_nm(self, law: AnodicLaw, volts: float) -> FloatArray:
        """Thickness (N,) of a strip that comes out as most do [nm].

        The field in the oxide is nearly the same at any thickness, so it stops growing at so many
        nanometres per volt (L. Young, Anodic Oxide Films, 1961), somewhat fewer at high volts,
        where part of the current makes oxygen.
        """
        return np.maximum(volts * self.nm_per_V(law, volts), self.native_nm)

    def thickness_nm(self, law: AnodicLaw, volts: float, rng: np.random.Generator) -> FloatArray:
        """Thickness (N,) of a strip, its own scatter included [nm]."""
        own = 1.0 + self.scatter * rng.standard_normal(self.scatter.size)
        grown = volts * self.nm_per_V(law, volts) * np.maximum(own, 0.0)
        return np.maximum(grown, self.native_nm)


def draw_baths(
    metal: Metal, film_share: FloatArray, *, count: int, rng: np.random.Generator
) -> BathDraws:
    """Any bath: the shipped constant with its spread between baths, electrolytes and grades."""
    median, spread = _SCATTER
    common, tilt, scatter, native, index = rng.standard_normal((5, count))
    film = np.searchsorted(np.cumsum(film_share)[:-1], rng.random(count))
    return BathDraws(
        common,
        tilt,
        median * np.exp(spread * scatter),
        metal.native_nm * np.exp(metal.native_ln_sd * native),
        metal.spread.index_spread * index,
        film.astype(np.intp),
    )


def check_volts(metal: Metal, volts: float) -> None:
    """Refuse with `OutOfRangeError` volts beyond the range the constant holds in."""
    low, high = anodic_law(metal).range_V
    if not low <= volts <= high:
        raise OutOfRangeError(
            f"{volts:g} V is outside the range the constant of {metal.name} holds in "
            f"({low:g} to {high:g} V)"
        )
