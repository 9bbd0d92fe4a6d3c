"""Numbers read off instruments at the spot, as likelihoods over the rows of a colour table."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np

from .._typing import FloatArray
from ..colour.illuminants import white_xyz
from ..colour.spaces import lab_to_xyz
from ..electrical.thin_film import (
    compound_ohm_cm,
    conducting_metals,
    film_metal,
    metal_sheet_ohm,
)
from ..errors import InputError, shorten, suggest_point
from ..units import NUMBER
from .posterior import Prior
from .question import FilmQuestion
from .uncertainty import Uncertainty

METER_LIMIT_OHM = 2e7
"""Resistance above which a hand meter shows nothing (common practice, no source)."""

MOST_DENSITY = 8.0
OPAQUE_FROM, CLEAR_BELOW = (2.4, 0.2), (0.25, 0.05)
"""Optical densities at which people call a piece opaque, and clear, and over how much the habit
spreads (judgements)."""

_HUE_BELOW = (3.7, 0.25)  # optical density up to which a hue is seen against a lamp (a judgement)
_READ_LOG_SD = 0.15  # of a meter and its contacts, and of what the model leaves out (a judgement)
_DENSITY_SD = (0.12, 0.06)  # of an optical density: absolute, and relative
_SLIP, _SLIP_OD, _SLIP_LOG_OHM = 0.005, 5.0, 25.0  # share of false readings, and what they
# span; of the meter's, half are open
_WORD_SLIP = 0.02
_QUANTILE_Z = np.array([-1.2816, -0.5244, 0.0, 0.5244, 1.2816])  # of 10, 30 ... 90 % of a normal
_ONE_SIDED_Z = 1.6449  # of its 95 % point
_THINNEST_NM = 0.1
_OHMS = re.compile(rf"({NUMBER})\s*(m|k|M|G)?\s*(?:ohms?|Ω|Ω)\s*(?:/\s*(?:sq|square|□))?")
_UNITS = {"": 1.0, "m": 1e-3, "k": 1e3, "M": 1e6, "G": 1e9}
_OPEN = ("open", "nothing", "insulates", "infinite", "none")
_DENSITY = re.compile(rf"od\s*=?\s*({NUMBER})", re.IGNORECASE)
_PERCENT = re.compile(rf"({NUMBER})\s*%")
_WORDS = ("opaque", "dim", "clear")


@dataclass(frozen=True)
class Measured:
    """What was measured: its name, as it was reported, and its number in ohms per square or as
    optical density; None where it is a word, infinite for an open meter."""

    what: str
    text: str
    value: float | None


class Measurement(Protocol):
    """A number read off an instrument at the spot."""

    @property
    def measured(self) -> Measured:
        """What is told of it."""
        ...

    def log_likelihood(self, question: FilmQuestion, prior: Prior) -> FloatArray:
        """Log density of the reading in every row, (J, E, D), with room for a false reading."""
        ...

    def misfit(self, question: FilmQuestion, prior: Prior) -> FloatArray:
        """Squared standard deviations the reading is off in every row, (J, E, D)."""
        ...


@dataclass(frozen=True)
class SheetResistance:
    """Ohms per square of the film; infinite where the meter shows nothing."""

    text: str
    ohm_per_square: float

    @property
    def measured(self) -> Measured:
        """Ohms per square."""
        return Measured("sheet resistance", self.text, self.ohm_per_square)

    def log_likelihood(self, question: FilmQuestion, prior: Prior) -> FloatArray:
        """By the electrical model, over the doubt of its impurities and of where islands touch."""
        log_ohm = _log_ohm_rows(question, prior)
        if math.isinf(self.ohm_per_square):
            return np.log(0.5 * _SLIP + (1.0 - _SLIP) * _open_share(log_ohm))
        away = (math.log(self.ohm_per_square) - log_ohm) / _READ_LOG_SD
        density = np.exp(-0.5 * away**2).mean(axis=0) / (_READ_LOG_SD * math.sqrt(2.0 * np.pi))
        return np.asarray(np.log((1.0 - _SLIP) * density + 0.5 * _SLIP / _SLIP_LOG_OHM))

    def misfit(self, question: FilmQuestion, prior: Prior) -> FloatArray:
        """From the nearest of the films the model gives."""
        log_ohm = _log_ohm_rows(question, prior)
        if math.isinf(self.ohm_per_square):
            return -2.0 * np.log(np.maximum(_open_share(log_ohm), 1e-30))
        away = (math.log(self.ohm_per_square) - log_ohm) / _READ_LOG_SD
        nearest: FloatArray = (away**2).min(axis=0)
        return nearest


@dataclass(frozen=True)
class LightThrough:
    """How much light the piece lets through: an optical density, or how people call it."""

    text: str
    density: float | None
    word: str = ""

    @property
    def measured(self) -> Measured:
        """The optical density, or a word for it."""
        return Measured("light through", self.text, self.density)

    def log_likelihood(self, question: FilmQuestion, prior: Prior) -> FloatArray:
        """Of the luminous optical density ``-log10 T`` of the piece with its film."""
        density = _density_rows(question, prior)
        if self.density is None:
            chance = clearness_chances(density)[..., _WORDS.index(self.word)]
            return np.log((1.0 - _WORD_SLIP) * chance + _WORD_SLIP / len(_WORDS))
        sd = np.hypot(_DENSITY_SD[0], _DENSITY_SD[1] * density)
        honest = np.exp(-0.5 * ((self.density - density) / sd) ** 2) / (sd * math.sqrt(2.0 * np.pi))
        return np.log((1.0 - _SLIP) * honest + _SLIP / _SLIP_OD)

    def misfit(self, question: FilmQuestion, prior: Prior) -> FloatArray:
        """From the density of each row, or by how rarely it is called so."""
        density = _density_rows(question, prior)
        if self.density is None:
            chance = clearness_chances(density)[..., _WORDS.index(self.word)]
            return -2.0 * np.log(np.maximum(chance, 1e-30))
        away = (self.density - density) / np.hypot(_DENSITY_SD[0], _DENSITY_SD[1] * density)
        return np.asarray(away**2)


def hue_seen_log_chance(question: FilmQuestion, prior: Prior) -> FloatArray:
    """Log chance (J, E, D) that an eye sees any hue through the piece against a lamp."""
    visible = _soft_step((_HUE_BELOW[0] - _density_rows(question, prior)) / _HUE_BELOW[1])
    return np.asarray(np.log(_SLIP + (1.0 - _SLIP) * visible))


def parse_sheet_ohms(text: str) -> SheetResistance:
    """Read ``0.6ohm/sq``, ``4.7 kohm/sq`` or ``open``.

    Raises
    ------
    InputError
        If it is none of these.
    """
    if text.strip().casefold() in _OPEN:
        return SheetResistance(text.strip(), math.inf)
    match = _OHMS.fullmatch(text.strip())
    ohm = float(match[1]) * _UNITS[match[2] or ""] if match else 0.0
    if not 0.0 < ohm < math.inf:
        raise InputError(
            f"`ohms` {shorten(text)!r} is no sheet resistance; write 0.6ohm/sq or open"
            f"{suggest_point(text)}",
            parameter="ohms",
        )
    return SheetResistance(text.strip(), ohm if ohm < METER_LIMIT_OHM else math.inf)


def parse_light_share(text: str) -> LightThrough | None:
    """Read ``OD 1.5``, ``6%``, ``opaque``, ``dim`` or ``clear``; None where it is none of these.

    Raises
    ------
    InputError
        If a density or share is out of any reach.
    """
    plain = text.strip()
    if plain.casefold() in _WORDS:
        return LightThrough(plain, None, plain.casefold())
    if match := _PERCENT.fullmatch(plain):
        share = float(match[1]) / 100.0
        if not 10.0**-MOST_DENSITY <= share <= 1.0:
            raise InputError(
                f"`through` {shorten(plain)!r} must be a share of the light up to 100%; for hardly "
                f"any, write opaque",
                parameter="through",
            )
        return LightThrough(plain, -math.log10(share))
    if match := _DENSITY.fullmatch(plain):
        value = float(match[1])
        if not 0.0 <= value <= MOST_DENSITY:
            raise InputError(
                f"`through` {shorten(plain)!r} must be an optical density of 0 to {MOST_DENSITY:g}",
                parameter="through",
            )
        return LightThrough(plain, value)
    return None


def clearness_chances(density: FloatArray) -> FloatArray:
    """Chance (..., 3) that a piece of an optical density is called opaque, dim or clear."""
    opaque = _soft_step((density - OPAQUE_FROM[0]) / OPAQUE_FROM[1])
    clear = _soft_step((CLEAR_BELOW[0] - density) / CLEAR_BELOW[1])
    return np.stack([opaque, np.maximum(1.0 - opaque - clear, 0.0), clear], axis=-1)


def _soft_step(x: FloatArray) -> FloatArray:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(x, -60.0, 60.0))))


def _open_share(log_ohm: FloatArray) -> FloatArray:
    return np.asarray((log_ohm > math.log(METER_LIMIT_OHM)).mean(axis=0))


@lru_cache(maxsize=8)
def _density_rows(question: FilmQuestion, prior: Prior) -> FloatArray:
    """Luminous optical density of the piece in each row (J, E, D), looked at straight on."""
    from .likelihood import table_for

    plain = Uncertainty(noise_de=1.0, index_spread=prior.index_spread)
    lab = table_for(question, plain, "through").lab[:, :, :, 0].astype(float)
    seen = question.conditions
    luminous = lab_to_xyz(lab, white_xyz(seen.light, seen.observer))[..., 1] / 100.0
    return np.asarray(-np.log10(np.maximum(luminous, 1e-9)))


@lru_cache(maxsize=8)
def _log_ohm_rows(question: FilmQuestion, prior: Prior) -> FloatArray:
    """Log of ohms per square, (N, J, E, D), of N films the electrical model may mean."""
    nm = np.arange(_THINNEST_NM, question.between_nm[1] * 1.2 + 1.0, 0.5)
    names = [_conductor(pair.film.label) for pair in prior.pairs]
    curves = {name: log_sheet_ohms(name, nm) for name in dict.fromkeys(names)}
    thickness = prior.scale_nm / (1.0 + prior.index_error[:, None])
    each = {
        name: np.stack([np.interp(thickness, nm, one) for one in curve])
        for name, curve in curves.items()
    }
    return np.stack([each[name] for name in names], axis=1)


def _conductor(label: str) -> str:
    """The metal of a data set; a compound keeps its phase, which may decide."""
    plain = label.partition("(")[0].strip()
    return plain if plain in conducting_metals() else label


def log_sheet_ohms(name: str, thickness_nm: FloatArray) -> FloatArray:
    """Log of ohms per square of a film by its name, (25, T) for what is in doubt about it.

    Raises
    ------
    UnknownNameError
        If how a film of it conducts is not known.
    """
    if name not in conducting_metals():
        low, high = np.log(compound_ohm_cm(name))
        middle = 0.5 * (low + high) + 0.5 * (high - low) / _ONE_SIDED_Z * _QUANTILE_Z
        log_ohm_nm = np.repeat(middle, _QUANTILE_Z.size) + math.log(1e7)  # ohm cm to ohm nm
        return np.asarray(log_ohm_nm[:, None] - np.log(thickness_nm))
    metal = film_metal(name)
    impurity, islands = (_quantiles(*ends) for ends in (metal.impurity, metal.percolation_nm))
    ohm = [
        metal_sheet_ohm(metal, thickness_nm, impurity[:, None], percolation_nm=touching)
        for touching in islands
    ]
    return np.log(np.minimum(np.concatenate(ohm), 1e30))


def _quantiles(low: float, high: float) -> FloatArray:
    """10, 30 ... 90 % points of a factor by its 5 and 95 % points, normal in its logarithm."""
    ratio = math.log(high / low) / (2.0 * _ONE_SIDED_Z)
    return np.asarray(math.sqrt(low * high) * np.exp(ratio * _QUANTILE_Z))
