"""How readily people call a perceived colour by a word, over all of colour space.

A word of :mod:`~oxhue.optics.colour.names` covers names of colours, each with a weight. Where many
words cover a name each of them is said less often: a word's weight over the sum of all words'
weights there is the chance that it is the one said.
"""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray, IndexArray
from ..numerics.lattice import blur_field, interpolate_lattice, nearest_inside
from .names import (
    LATTICE_ORIGIN,
    LATTICE_SHAPE,
    LATTICE_STEP_DELTA_E,
    fine_colours,
    word_share,
    words_over_names,
)


@lru_cache(maxsize=64)
def word_chance(word: str) -> FloatArray:
    """Chance that a person who perceives a colour calls it by a word, as `word_region` takes it.

    A read-only array over the lattice in L*, a*, b*. For words put together, such as brown-purple,
    it is right up to a factor. A colour that no film shows is named as the nearest that one does.
    """
    share = word_share(word)
    chance: FloatArray = (share / share.max() / words_over_names()[fine_colours().name])[
        _nearest_fine_colour()
    ]
    chance.flags.writeable = False
    return chance


def blur(field: FloatArray, spread_delta_e: ArrayLike) -> FloatArray:
    """Mean of a field over a normal scatter about each place, given by its spread (3,) [ΔE]."""
    return blur_field(field, np.asarray(spread_delta_e, dtype=float) / LATTICE_STEP_DELTA_E)


def interpolate_field(field: FloatArray, lab: FloatArray) -> FloatArray:
    """A field at CIELAB colours (..., 3), linear between the places of the lattice, shape (...)."""
    return interpolate_lattice(field, (lab - LATTICE_ORIGIN) / LATTICE_STEP_DELTA_E)


@cache
def _nearest_fine_colour() -> IndexArray:
    """For each place of the lattice, which of `fine_colours` lies nearest."""
    fine = fine_colours()
    which = np.full(LATTICE_SHAPE, -1, dtype=np.intp)
    which[fine.place] = np.arange(fine.name.size)
    found: IndexArray = which[nearest_inside(which >= 0)]
    return found
