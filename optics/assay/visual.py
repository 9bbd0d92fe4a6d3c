"""How a simulated film strikes the eye beside its colour: gloss, blackness, clearness."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from ..errors import InputError
from ..inference.reading import Reading
from ..inference.uncertainty import Uncertainty
from .colours import FilmColours, FilmSet, specular_share
from .hypotheses import WAVELENGTH_NM

FINISHES = ("mirror", "glossy", "satin", "dull", "sooty", "rainbow")
"""What a surface may be called: a mirror is glossy and bright, soot is dull and dark."""

THROUGH_WORDS = ("opaque", "dim", "clear")
"""What may be said of the light that comes through."""

# How bright a look through is taken to be, against the lamp it is held to: an eye or a phone
# lifts a dim picture. Factors and how often each is met (judgements).
BRIGHTNESS = (np.array([1.0, 3.0, 10.0, 30.0]), np.array([0.50, 0.25, 0.15, 0.10]))

_LAMP_WHITE_DE = 12.0  # a lamp held behind is no white, and none is beside it (a judgement)
_GREEN = int(np.argmin(np.abs(WAVELENGTH_NM - 560.0)))
_CONFUSION = 0.08  # share of finishes named at random
_BACK_SIDE_Y = 4.3  # what the far face of glass adds
_RAINBOW_PATH_NM = 150.0  # thickness from which bands of colour show where it varies


def colour_uncertainty(reading: Reading) -> Uncertainty:
    """Doubts of a reading; the index has its own spread in the simulated films."""
    doubts = reading.doubts
    if reading.view == "through" and reading.how in ("word", "photo"):
        return replace(
            doubts,
            gain=max(doubts.gain, 0.3),
            white_balance_de=max(doubts.white_balance_de, _LAMP_WHITE_DE),
        )
    return doubts


def finish_chances(films: FilmSet, seen: FilmColours) -> FloatArray:
    """Chance of each of `FINISHES` in each film, shape (N, 6)."""
    mirrored = specular_share(films.sigma_nm)[:, _GREEN]
    bright = seen.front[:, 1]
    smooth = _soft_step(mirrored, 0.75, 0.08)
    dull = (1.0 - smooth) * _soft_step(mirrored, 0.30, -0.10)
    satin = (1.0 - smooth) - dull
    mirror = smooth * _soft_step(bright, 30.0, 5.0)
    sooty = (dull + 0.5 * satin) * _soft_step(bright, 6.0, -1.5)
    rest = 1.0 - sooty / np.maximum(dull + 0.5 * satin, 1e-9)
    chances = np.stack(
        [mirror, smooth - mirror, satin * (0.5 + 0.5 * rest), dull * rest, sooty,
         np.zeros(len(films))], axis=1,
    )  # fmt: skip
    chances /= chances.sum(axis=1, keepdims=True)
    banded = rainbow_chance(films)
    chances *= 1.0 - banded[:, None]
    chances[:, -1] += banded
    mixed: FloatArray = (1.0 - _CONFUSION) * chances + _CONFUSION / len(FINISHES)
    return mixed


def rainbow_chance(films: FilmSet) -> FloatArray:
    """Chance (N,) that bands of colour run over the piece.

    Clear films show them where they are thick enough for an uneven thickness to matter; so do
    gaps.
    """
    clear = np.isin(films.family, ["oxide", "oxide skin", "carbon"])
    share = np.where(clear, 0.35 * _soft_step(films.thickness_nm, _RAINBOW_PATH_NM, 40.0), 0.01)
    chance: FloatArray = np.where(films.family == "loose film", 0.40, share)
    return chance


def dark_share(films: FilmSet, seen: FilmColours) -> FloatArray:
    """Chance (N,) that the film side is called black."""
    bare = _BACK_SIDE_Y if films.ground.clear else 0.0
    through = seen.through[:, 1] if seen.through is not None else np.zeros(len(films))
    # What is seen is the light of the room behind as much as the film, unless little comes through.
    chance: FloatArray = _soft_step(seen.front[:, 1] - bare, 7.0, -2.0) * _soft_step(
        through, 15.0, -5.0
    )
    return 0.01 + 0.98 * chance


def through_chances(films: FilmSet, seen: FilmColours) -> FloatArray:
    """Chance of each of `THROUGH_WORDS` in each film, shape (N, 3)."""
    density = optical_density(seen, films.ground.text)
    opaque = _soft_step(density, 2.4, 0.2)
    clear = _soft_step(density, 0.25, -0.05)
    chances = np.stack([opaque, np.maximum(1.0 - opaque - clear, 0.0), clear], axis=1)
    shares: FloatArray = chances / chances.sum(axis=1, keepdims=True)
    return shares


def optical_density(seen: FilmColours, ground: str) -> FloatArray:
    """Luminous optical density ``-log10 T`` of each film on its base, shape (N,).

    Raises
    ------
    InputError
        If nothing can be seen through the base.
    """
    if seen.through is None:
        raise InputError(f"{ground!r} cannot be seen through; it has no optical density")
    density: FloatArray = -np.log10(np.maximum(seen.through[:, 1] / 100.0, 1e-9))
    return density


def _soft_step(value: FloatArray, middle: float, width: float) -> FloatArray:
    """A soft step up (width > 0) or down at a middle."""
    return 1.0 / (1.0 + np.exp(-np.clip((value - middle) / width, -60.0, 60.0)))
