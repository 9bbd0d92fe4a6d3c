"""A colour reported by a word: how likely each simulated film is to be called by it."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..colour.names import LATTICE_STEP_DELTA_E, PEOPLE_SPREAD_DELTA_E
from ..colour.naming_model import blur, interpolate_field, word_chance
from ..films.engine.thickness_scan import View
from ..inference.reading import Reading
from ..inference.simulate import seen_lab
from ..inference.uncertainty import Uncertainty, uncertainty_for
from ..numerics.normal_law import normal_quantile
from .visual import BRIGHTNESS

_CONDITIONS = 8  # under which each film is met
_TRIES = 300
# Multiples of these, modulo 1, fill a cube evenly: square roots of primes (H. Weyl's theorem).
_EVEN_STEPS = np.sqrt([2.0, 3.0, 5.0])


def word_uncertainty(reading: Reading, doubts: Uncertainty) -> Uncertainty:
    """Doubts about the colour a word was said of: borders scatter as much as people do."""
    people = PEOPLE_SPREAD_DELTA_E * np.sqrt(3.0)
    return replace(doubts, noise_de=max(uncertainty_for(reading.how).noise_de, people))


def word_log_likelihood(
    reading: Reading, doubts: Uncertainty, xyz: FloatArray, *, viewing: ViewingConditions
) -> FloatArray:
    """Log density (N,), averaged over the region of the word, of the colours perceived.

    Parameters
    ----------
    reading : Reading
        Of a word.
    doubts : Uncertainty
        As `word_uncertainty` gives them.
    xyz : ndarray, shape (N, 3)
        Of the films.
    """
    return _log_density(reading.word, xyz.tobytes(), doubts, viewing, reading.view)


@lru_cache(maxsize=8)
def _log_density(
    word: str, xyz: bytes, doubts: Uncertainty, viewing: ViewingConditions, view: View
) -> FloatArray:
    """As above, read-only; kept, for a log says few words, and each of many pieces."""
    lab = _perceived_evenly(xyz, doubts, viewing, view)
    density = interpolate_field(_word_density(word, doubts), lab).mean(axis=-1)
    found: FloatArray = np.log(np.maximum(density, 1e-300))
    found.flags.writeable = False
    return found


@lru_cache(maxsize=8)
def _perceived_evenly(
    xyz: bytes, doubts: Uncertainty, viewing: ViewingConditions, view: View
) -> FloatArray:
    """What is perceived of films under even conditions; kept, for a log has many words for them."""
    colours = np.frombuffer(xyz).reshape(-1, 3)
    conditions = even_conditions(len(colours))
    return perceived_lab(colours, conditions, doubts=doubts, viewing=viewing, view=view)


def best_log_likelihood(reading: Reading, doubts: Uncertainty) -> float:
    """What `word_log_likelihood` would be of the colour the word fits best."""
    return float(np.log(_word_density(reading.word, doubts).max()))


@lru_cache(maxsize=16)
def _word_density(word: str, doubts: Uncertainty) -> FloatArray:
    """Density of the colours perceived, averaged over the region of the word, by true colour."""
    chance = word_chance(word)
    volume = float(chance.sum()) * LATTICE_STEP_DELTA_E**3
    return blur(chance / volume, scatter_of(doubts))


def draw_colours_called(
    reading: Reading,
    doubts: Uncertainty,
    xyz: FloatArray,
    *,
    viewing: ViewingConditions,
    rng: np.random.Generator,
) -> FloatArray:
    """A colour that might be perceived of each film and called by the word, shape (K, 3).

    Where none of the colours drawn of a film would be called so, it is any of them.
    """
    conditions = rng.random((len(xyz), _TRIES, 3))
    lab = perceived_lab(xyz, conditions, doubts=doubts, viewing=viewing, view=reading.view)
    lab = lab + scatter_of(doubts) * rng.standard_normal(lab.shape)
    steps = np.cumsum(interpolate_field(word_chance(reading.word), lab) + 1e-12, axis=1)
    which = (rng.random((len(xyz), 1)) * steps[:, -1:] > steps).sum(axis=1)
    called: FloatArray = lab[np.arange(len(xyz)), which]
    return called


def scatter_of(doubts: Uncertainty) -> FloatArray:
    """Standard deviations in L*, a*, b* of what is perceived [ΔE], shape (3,)."""
    ab = doubts.chroma_variance
    return np.sqrt([doubts.lightness_variance, ab, ab])


def even_conditions(films: int) -> FloatArray:
    """Conditions (films, 8, 3), spread evenly over the unit cube."""
    number = np.arange(1.0, films * _CONDITIONS + 1.0)
    spread, _ = np.modf(0.5 + number[:, None] * _EVEN_STEPS)  # a remainder takes ten times as long
    return spread.reshape(films, _CONDITIONS, 3)


def perceived_lab(
    xyz: FloatArray,
    conditions: FloatArray,
    *,
    doubts: Uncertainty,
    viewing: ViewingConditions,
    view: View,
) -> FloatArray:
    """CIELAB (N, V, 3) of films under V conditions each, before any scatter.

    Parameters
    ----------
    xyz : ndarray, shape (N, 3)
    conditions : ndarray, shape (N, V, 3)
        Within the unit cube: of the glare, the exposure, and how far a look through is lifted.
    """
    glare = doubts.glare * conditions[..., 0]
    exposure = np.exp(doubts.gain * normal_quantile(conditions[..., 1]))
    if view == "through":
        times, often = BRIGHTNESS
        lift = times[np.searchsorted(np.cumsum(often)[:-1], conditions[..., 2], side="right")]
        exposure = np.minimum(exposure * lift, 100.0 / np.maximum(xyz[:, None, 1], 1e-6))
    return seen_lab(xyz[:, None], glare, viewing, exposure=exposure)
