"""What a person with eyes, a meter and a lamp would notice of films, by the doubts `assay` states.

Everything in doubt is drawn, not summed over: glare, exposure, the lamp, where people put the
borders of colours, which word they choose, slips. Words are chosen in one of two ways. ``any``: any
word of the vocabulary that covers the colour, with the chance the program uses; a person
who has no word for it is left out. ``name``: always the one name of the colour, as the program
itself would put it, which people do not, and which the program does not expect.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from oxhue.optics._typing import FloatArray, IndexArray, SingleArray
from oxhue.optics.assay.colours import FilmSet, colours_of
from oxhue.optics.assay.measured import (
    BLUNDER,
    BLUNDER_LOG_WIDTH,
    METER_LIMIT_OHM,
    two_probe_reading,
)
from oxhue.optics.assay.observations import SLIP, CategoryObservation, ColourObservation
from oxhue.optics.assay.word_likelihood import perceived_lab, scatter_of
from oxhue.optics.colour.colour import xyz_to_colour
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.illuminants import white_xyz
from oxhue.optics.colour.names import (
    LATTICE_ORIGIN,
    LATTICE_SHAPE,
    LATTICE_STEP_DELTA_E,
    single_words,
)
from oxhue.optics.colour.naming_model import word_chance
from oxhue.optics.colour.spaces import lab_to_xyz
from oxhue.optics.films.engine.thickness_scan import View
from oxhue.optics.inference.reading import parse_reading

Words = NDArray[np.str_]
Rng = np.random.Generator

VIEWING = ViewingConditions()
ANGLES_DEG = (0.0, 12.0, 20.0, 28.0)
NO_WORD = ""


@dataclass(frozen=True, eq=False)
class Noticed:
    """What was noticed of K films.

    Attributes
    ----------
    front, through : ndarray of str, shape (K,)
        Word for the colour of the film side and of the light that comes through; empty where
        there was none.
    finish, lamp : ndarray of str, shape (K,)
        The finish, and whether a lamp behind is hidden, dim or clear.
    ohm : ndarray, shape (K,)
        Between two probes put down somewhere; infinite where the meter shows nothing.
    """

    front: Words
    through: Words
    finish: Words
    lamp: Words
    ohm: FloatArray


def noticed(world: FilmSet, rows: IndexArray, rng: Rng, choice: str = "any") -> Noticed:
    """What is noticed of some films of a world."""
    front = _words(world, rows, "front", rng, choice)
    through = _words(world, rows, "through", rng, choice)
    finish, lamp = (_kinds(world, rows, what, rng) for what in ("finish", "through"))
    return Noticed(front, through, finish, lamp, _meter(world, rows, rng))


def _words(world: FilmSet, rows: IndexArray, view: View, rng: Rng, choice: str) -> Words:
    """Words for the colours of films, seen from somewhere within 30° of square."""
    angle = rng.choice(len(ANGLES_DEG), rows.size)
    each = [getattr(colours_of(world, VIEWING, a), view) for a in ANGLES_DEG]
    xyz = np.stack(each)[angle, rows]
    doubts = ColourObservation(parse_reading("grey", view=view), VIEWING).doubts
    conditions = rng.random((rows.size, 1, 3))
    mean = perceived_lab(xyz, conditions, doubts=doubts, viewing=VIEWING, view=view)[:, 0]
    lab = mean + scatter_of(doubts) * rng.standard_normal(mean.shape)
    if choice == "name":
        lab[:, 0] = np.clip(lab[:, 0], 1.0, 99.0)
        return np.asarray(xyz_to_colour(lab_to_xyz(lab, white_xyz())).name)
    place = np.rint((lab - LATTICE_ORIGIN) / LATTICE_STEP_DELTA_E).astype(int)
    place = np.clip(place, 0, np.array(LATTICE_SHAPE) - 1)
    words, chances = _choices()
    steps = np.cumsum(chances[(slice(None), *place.T)], axis=0)
    which = (rng.random(rows.size) > steps).sum(axis=0)
    return np.append(words, NO_WORD)[which]


@cache
def _choices() -> tuple[Words, SingleArray]:
    """Words of the vocabulary, and the chance of each over the lattice of colours."""
    words = single_words()
    return np.array(words), np.stack([word_chance(one).astype(np.float32) for one in words])


def _kinds(world: FilmSet, rows: IndexArray, what: str, rng: Rng) -> Words:
    kinds, chances = CategoryObservation(what, "", VIEWING).chances(world)
    mixed = (1.0 - SLIP) * chances[rows] + SLIP / len(kinds)
    steps = np.cumsum(mixed, axis=1)
    return np.array(kinds)[(rng.random((rows.size, 1)) * steps[:, -1:] > steps).sum(axis=1)]


def _meter(world: FilmSet, rows: IndexArray, rng: Rng) -> FloatArray:
    mean, sd = two_probe_reading("", math.inf).spread(world)
    limit = math.log(METER_LIMIT_OHM)
    shown = mean[rows] + sd[rows] * rng.standard_normal(rows.size)
    silent = (rng.random(rows.size) < world.blind[rows]) | (shown > limit)
    ohm = np.where(silent, np.inf, np.exp(np.minimum(shown, limit)))
    slip = rng.random(rows.size) < BLUNDER
    anything = np.exp(limit - BLUNDER_LOG_WIDTH * rng.random(rows.size))
    slipped = np.where(rng.random(rows.size) < 0.5, np.inf, anything)
    return np.where(slip, slipped, ohm)
