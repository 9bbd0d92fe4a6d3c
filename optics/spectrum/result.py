"""What is held about a film after its spectrum."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from .._typing import ComplexArray, FloatArray
from ..report.format import format_region
from ..result import Hidden, Result
from .posterior import FitDraws
from .summaries import FittedNumber, Interval, Minimum
from .widening import CHECKS, WORDS


@dataclass(frozen=True, eq=False, repr=False)
class SpectrumFit(Result):
    """What is held about a film after its spectrum.

    Attributes
    ----------
    thickness_nm : float
        Middle of the likeliest candidate [nm]; a rough surface counts with half its depth.
    interval90_nm : tuple of float
        Equal-tailed 90 % interval over all candidates [nm].
    doubts : dict
        Probability of each doubt about piece or instrument; of ``none`` of them.
    widened_by : str
        The doubt that widens the interval most, or that the spectrum shows; empty where none does.
    interval90_without_nm : tuple of float
        The interval if that doubt were ruled out [nm].
    index_at_nm : float
        Where the index is quoted: 550 nm, or the middle of a band that lacks it.
    n, k : float
        Index and extinction coefficient of the film there (medians).
    n_interval90, k_interval90 : tuple of float
    parameters : tuple of FittedNumber
        Of the likeliest index model, then roughness and haze, then those of the likeliest doubt.
    model : str
        The likeliest index model.
    models : dict
        Probability of each index model.
    candidates : tuple of Minimum
        All distinct minima within 12 nats of the best, likeliest first.
    fits : bool
        False when even the best model misses the spectrum by more than 0.02, noise apart.
    rms_residual, noise, misfit : float
        Of the best fit; the rms noise and connected misses that explain it best [-].
    no_film_needed : bool
        Whether the bare base, or a film too thick to see through, explains the spectrum as well.
    explained_by : str
        ``film``, ``bare base`` or ``opaque film``.
    alternatives : dict
        Probability of each of these three, before the measurement 1/2, 1/4, 1/4.
    wavelength_nm, value, curve, residual : ndarray, shape (W,)
        Readings used, best model, and their difference.
    film_index : ndarray of complex, shape (W,)
        Film index of the best model.
    descents, effective_draws : int, float
        Starts tried, and how many independent draws the intervals are worth.
    data_sets, notes : tuple of str
    seed : int
    draws : tuple of FitDraws
        What all intervals rest on: weighted draws of every world with a film.
    """

    verb: ClassVar[str] = "spectrum"
    rows: ClassVar[str] = "candidates"
    also: ClassVar[tuple[str, ...]] = ("region90_nm", "index", "fit_p", "next_check")

    thickness_nm: float
    interval90_nm: Interval
    doubts: dict[str, float]
    widened_by: str
    interval90_without_nm: Interval
    index_at_nm: float
    n: float
    n_interval90: Interval
    k: float
    k_interval90: Interval
    parameters: tuple[FittedNumber, ...]
    model: str
    models: dict[str, float]
    candidates: tuple[Minimum, ...]
    fits: bool
    rms_residual: float
    noise: float
    misfit: float
    no_film_needed: bool
    explained_by: str
    alternatives: dict[str, float]
    wavelength_nm: Hidden[FloatArray]
    value: Hidden[FloatArray]
    curve: Hidden[FloatArray]
    residual: Hidden[FloatArray]
    film_index: Hidden[ComplexArray]
    descents: int
    effective_draws: float
    data_sets: tuple[str, ...]
    notes: tuple[str, ...]
    seed: int
    draws: Hidden[tuple[FitDraws, ...]]

    @property
    def region90_nm(self) -> list[Interval]:
        """Intervals of the likeliest candidates that together hold 90 % [nm]."""
        held, kept = 0.0, []
        for one in self.candidates:
            kept.append(one.interval90_nm)
            held += one.probability
            if held >= 0.9:
                break
        return kept

    @property
    def index(self) -> dict[str, float | Interval]:
        """Index and extinction of the film where they are quoted, with 90 % intervals."""
        return {
            "wavelength_nm": self.index_at_nm,
            "n": self.n,
            "n_interval90": self.n_interval90,
            "k": self.k,
            "k_interval90": self.k_interval90,
        }

    @property
    def fit_p(self) -> None:
        """A spectrum is judged by its residual, not by a share of simulated readings."""

    @property
    def _gain(self) -> str:
        """What a check of the widest doubt would change, in words."""
        low, high = self.interval90_without_nm
        if self.interval90_without_nm == self.interval90_nm:
            return f"the spectrum shows {WORDS[self.widened_by]}"
        return (
            f"without {WORDS[self.widened_by]}, 90 % would lie within "
            f"{format_region([(low, high)], 1)}"
        )

    @property
    def next_check(self) -> str:
        """What to do next, in words."""
        if not self.fits:
            return (
                "make sure of film and base, and of the instrument's reference, then measure again"
            )
        if self.no_film_needed:
            return "measure a bare piece next to it: a film is there if the two spectra differ"
        if self.candidates[0].probability < 0.9:
            return (
                "measure a wider band, or the same spot tilted to 45°, to separate the candidates"
            )
        if self.widened_by:
            return f"{CHECKS[self.widened_by]}: {self._gain}"
        return "none is needed for the thickness; a second spot tells how even the film is"
