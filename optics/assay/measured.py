"""Numbers read off instruments, each as a likelihood over simulated films."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray, IndexArray
from ..colour.conditions import ViewingConditions
from ..numerics.normal_law import normal_cdf
from .colours import FilmSet, colours_of
from .visual import optical_density

Rng = np.random.Generator

METER_LIMIT_OHM = 2e7
"""Resistance above which a hand meter shows nothing (common practice, no source)."""

BLUNDER = 0.005
"""Share of readings that have nothing to do with the film; of the meter's, half are open."""

BLUNDER_LOG_WIDTH = 25.0
"""Span a slip of the meter falls into, from milliohms to the limit, in natural logarithms."""

_CONTACT_OHM = 1.0  # of two probes and their leads, within a factor of e (common practice)
_READ_LOG_SD = 0.12
_GUESS_LOG_SD = 0.4
BALANCE_MG = 0.1
"""Doubt of a small balance (common practice, no source)."""

_DENSITY_OD_SD = (0.12, 0.06)  # of an optical density: absolute, and relative
_QUANTITIES = {
    "mass": ("the mass gained", "gained {text}", 300.0),
    "density": ("the optical density", "has optical density {value:.4g}", 5.0),
    "guess": ("the thickness meant", "was meant to be {text}", 6.0),
}
"""What each is called, how it is told, and the width a slip may land in, in its unit."""


@dataclass(frozen=True)
class ResistanceObservation:
    """What a meter showed.

    Attributes
    ----------
    text : str
    ohm : float
        Shown [ohm]; infinite where it shows nothing.
    squares : float
        Squares of film between the contacts; 1 for ohms per square.
    squares_log_sd : float
        Doubt about them.
    contact_ohm : float
        Typical resistance of contacts and leads [ohm]; 0 for four points.
    """

    text: str
    ohm: float
    squares: float = 1.0
    squares_log_sd: float = 0.0
    contact_ohm: float = 0.0
    given: bool = False

    @property
    def name(self) -> str:
        """The meter."""
        return "the ohmmeter"

    @property
    def is_open(self) -> bool:
        """Whether it showed nothing."""
        return bool(np.isinf(self.ohm))

    @property
    def clause(self) -> str:
        """What it showed."""
        return "does not conduct" if self.is_open else f"conducts ({self.text})"

    def spread(self, films: FilmSet) -> tuple[FloatArray, FloatArray]:
        """Mean and standard deviation (N,) of the logarithm of what a meter would show."""
        film = np.exp(np.minimum(films.log_ohm, 600.0)) * self.squares
        own = film / (film + self.contact_ohm)
        square = np.hypot(films.log_ohm_sd, self.squares_log_sd) * own
        sd = np.sqrt(square**2 + (1.0 - own) ** 2 + _READ_LOG_SD**2)
        return np.log(film + self.contact_ohm), sd

    def below_chance(self, films: FilmSet, ohm: float) -> FloatArray:
        """Chance (N,) that the meter shows less than a resistance."""
        mean, sd = self.spread(films)
        chance: FloatArray = (1.0 - films.blind) * normal_cdf((np.log(ohm) - mean) / sd)
        return chance

    def open_chance(self, films: FilmSet, blunder: float = BLUNDER) -> FloatArray:
        """Chance (N,) that the meter shows nothing."""
        return 0.5 * blunder + (1.0 - blunder) * (1.0 - self.below_chance(films, METER_LIMIT_OHM))

    def log_likelihood(self, films: FilmSet, blunders: bool = True) -> FloatArray:
        """Log chance of an open meter, or log density of the logarithm it showed."""
        slip = BLUNDER if blunders else 0.0
        if self.is_open:
            return np.log(np.maximum(self.open_chance(films, slip), 1e-300))
        density: FloatArray = self._log_density(films, np.log([self.ohm]), slice(None), slip)[0]
        return density

    def _log_density(
        self, films: FilmSet, shown: FloatArray, rows: IndexArray | slice, slip: float = BLUNDER
    ) -> FloatArray:
        mean, sd = self.spread(films)
        away = (shown[:, None] - mean[rows]) / sd[rows]
        scale = (1.0 - slip) * (1.0 - films.blind[rows]) / (sd[rows] * np.sqrt(2.0 * np.pi))
        honest: FloatArray = np.log(scale) - 0.5 * away**2
        if slip == 0.0:
            return honest
        mixed: FloatArray = np.logaddexp(honest, np.log(0.5 * slip / BLUNDER_LOG_WIDTH))
        return mixed

    def simulate(
        self, films: FilmSet, truth: IndexArray, rows: IndexArray, *, rng: Rng
    ) -> FloatArray:
        """What the meter would have shown on other films."""
        mean, sd = self.spread(films)
        shown = mean[truth] + sd[truth] * rng.standard_normal(truth.size)
        beyond = shown > np.log(METER_LIMIT_OHM)
        silent = (rng.random(truth.size) < films.blind[truth]) | beyond
        open_log = np.log(self.open_chance(films))[rows]
        seen = self._log_density(films, shown, rows)
        return np.where(silent[:, None], open_log, seen)


@dataclass(frozen=True)
class NumberObservation:
    """A number with a spread: mass gained, optical density, a guess of the thickness.

    Attributes
    ----------
    what : str
        ``mass``, ``density`` or ``guess``.
    text : str
    value : float
        [µg/cm²], [-] or [nm].
    sd : float
        Standard deviation of the reading, in the same unit.
    viewing : ViewingConditions
    """

    what: str
    text: str
    value: float
    sd: float
    viewing: ViewingConditions

    @property
    def given(self) -> bool:
        """A thickness meant is a circumstance, not found on the film."""
        return self.what == "guess"

    @property
    def name(self) -> str:
        """What was measured."""
        return _QUANTITIES[self.what][0]

    @property
    def clause(self) -> str:
        """What was found."""
        return _QUANTITIES[self.what][1].format(text=self.text, value=self.value)

    def _expected(self, films: FilmSet) -> tuple[FloatArray, FloatArray]:
        """Mean and standard deviation of the reading in each film, both (N,)."""
        if self.what == "mass":
            return films.mass_ug_cm2, np.hypot(self.sd, 0.05 * films.mass_ug_cm2)
        if self.what == "density":
            density = optical_density(colours_of(films, self.viewing), films.ground.text)
            fixed, relative = _DENSITY_OD_SD
            return density, np.hypot(fixed, relative * density)
        log_nm = np.log(np.maximum(films.thickness_nm, 0.5))
        return log_nm, np.full(len(films), _GUESS_LOG_SD)

    def _log_density(
        self, films: FilmSet, read: FloatArray, rows: IndexArray | slice
    ) -> FloatArray:
        mean, sd = (part[rows] for part in self._expected(films))
        away = (read[:, None] - mean) / sd
        honest: FloatArray = -0.5 * away**2 - np.log(sd * np.sqrt(2.0 * np.pi))
        return honest

    def log_likelihood(self, films: FilmSet, blunders: bool = True) -> FloatArray:
        """Log density of the reading in each film."""
        read = np.log(self.value) if self.what == "guess" else self.value
        honest: FloatArray = self._log_density(films, np.array([read]), slice(None))[0]
        if not blunders:
            return honest
        mixed: FloatArray = np.logaddexp(honest, np.log(BLUNDER / _QUANTITIES[self.what][2]))
        return mixed

    def simulate(
        self, films: FilmSet, truth: IndexArray, rows: IndexArray, *, rng: Rng
    ) -> FloatArray:
        """What would have been read off other films."""
        mean, sd = (part[truth] for part in self._expected(films))
        return self._log_density(films, mean + sd * rng.standard_normal(truth.size), rows)


def two_probe_reading(
    text: str, ohm: float, squares_between: float | None = None
) -> ResistanceObservation:
    """Two contacts across the ends of a strip, or put down somewhere: 1 to 4 squares between."""
    if squares_between is None:
        return ResistanceObservation(text, ohm, 2.0, 0.7, _CONTACT_OHM)
    return ResistanceObservation(text, ohm, squares_between, 0.05, _CONTACT_OHM)
