"""The answer to "how thick?": candidates, intervals, and what they rest on."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO
from typing import ClassVar

import numpy as np

from .._typing import FloatArray
from ..colour.colour import Colour, xyz_to_colour
from ..colour.conditions import ViewingConditions
from ..inference.hypotheses import FilmModel
from ..inference.measured import Measured
from ..inference.next_look import NextLook
from ..inference.reading import Reading
from ..inference.simulate import SampledFilms, film_xyz
from ..inference.uncertainty import Uncertainty
from ..report.csv import cell_of
from ..report.provenance import labels_of_pairs
from ..result import Hidden, Result
from .doubts import WideningDoubt
from .held import HeldRows, phrase_check

_CSV_COLUMNS = (
    "id", "seen", "thickness_nm", "low90_nm", "high90_nm", "probability", "order", "film",
    "srgb_hex", "name", "fits", "fit_p",
)  # fmt: skip
_SETTLED = 0.9


@dataclass(frozen=True)
class FilmShare:
    """A kind of film within a candidate: its share of it, and its own median [nm]."""

    film: str
    share: float
    thickness_nm: float


@dataclass(frozen=True)
class Candidate:
    """One thickness the reading allows.

    Attributes
    ----------
    thickness_nm : float
        Where the interval has no upper end, its lower one: "at least".
    interval90_nm : tuple of float
        Equal-tailed 90 % interval if this candidate is the right one [nm]; infinite above where
        an opaque film tells no more.
    probability : float
    order : int or None
        Interference order, 1 for the first sequence of colours; None for a film that has none,
        such as a metal.
    film : str
        The likeliest film hypothesis here.
    srgb_hex, name : str
        The colour such a film has, at normal incidence.
    region90_nm : tuple of tuple
        The shortest set of intervals with 90 % of it [nm]; empty where many are gauged at once.
    by_film : tuple of FilmShare
        What each kind of film says of it, the likeliest first; empty where many are gauged at once.
    """

    thickness_nm: float
    interval90_nm: tuple[float, float]
    probability: float
    order: int | None
    film: str
    srgb_hex: str
    name: str
    region90_nm: Hidden[tuple[tuple[float, float], ...]] = ()
    by_film: Hidden[tuple[FilmShare, ...]] = ()

    @property
    def open_upward(self) -> bool:
        """Whether it is "at least" that thick."""
        return math.isinf(self.interval90_nm[1])


@dataclass(frozen=True, eq=False, repr=False)
class Estimate(Result):
    """What is held about the thickness after the readings.

    Attributes
    ----------
    thickness_nm : float
        Middle of the likeliest candidate [nm].
    interval90_nm : tuple of float
        Equal-tailed 90 % interval over all candidates together [nm].
    region90_nm : list of tuple
        The shortest set of intervals holding 90 % [nm].
    candidates : tuple of Candidate
        Likeliest first.
    films : dict
        Probability of each film hypothesis.
    fits : bool
        False when no film in question shows such a colour.
    fit_p : float
        Share of simulated readings at least as unusual; with earlier colours that of the most
        unusual of them all, times their number.
    plain_p : float
        How ordinary it is among films without a fault, flat, clear, in the stated light: share of
        their simulated readings that films with one explain at least as much better.
    faults : dict
        Probability of each fault of surface, oxide, camera or light; ``none`` is one of them.
    grid_nm, density : ndarray, shape (T,)
        Posterior density per nanometre.
    seen, before : tuple of Reading
        Looks at the spot, and colours it had when it was thinner.
    measured : tuple of Measured
        Sheet resistance and light through, where they were measured.
    warnings : tuple of str
        What weakens the answer.
    pairs : tuple of FilmModel
    between_nm : tuple of float
    conditions : ViewingConditions
    seed : int
    held : HeldRows
        What the rest follows from when it is asked for.
    """

    verb: ClassVar[str] = "gauge"
    rows: ClassVar[str] = "candidates"
    also: ClassVar[tuple[str, ...]] = (
        "optical_thickness_nm", "optical_interval90_nm", "widened_by", "next_check", "next_checks",
        "light", "observer", "data_sets",
    )  # fmt: skip

    thickness_nm: float
    interval90_nm: tuple[float, float]
    region90_nm: list[tuple[float, float]]
    candidates: tuple[Candidate, ...]
    films: dict[str, float]
    fits: bool
    fit_p: float
    plain_p: float
    faults: dict[str, float]
    grid_nm: Hidden[FloatArray]
    density: Hidden[FloatArray]
    seen: tuple[Reading, ...]
    before: tuple[Reading, ...]
    measured: tuple[Measured, ...]
    warnings: tuple[str, ...]
    pairs: Hidden[tuple[FilmModel, ...]]
    between_nm: tuple[float, float]
    conditions: Hidden[ViewingConditions]
    seed: int
    held: Hidden[HeldRows]

    @property
    def optical_thickness_nm(self) -> float:
        """Thickness times index at 550 nm [nm], known better than the thickness itself."""
        return self.held.optical_nm[1]

    @property
    def optical_interval90_nm(self) -> tuple[float, float]:
        """Equal-tailed 90 % interval of it [nm]."""
        low, _, high = self.held.optical_nm
        return low, math.inf if math.isinf(self.interval90_nm[1]) else high

    @property
    def widened_by(self) -> WideningDoubt | None:
        """The fault whose possibility widens the answer most, sought when first asked for."""
        return self.held.widened_by if self.fits else None

    @property
    def next_checks(self) -> tuple[NextLook, ...]:
        """Further looks, the most telling first, simulated when first asked for."""
        return self.held.next_looks if self.fits else ()

    @property
    def next_check(self) -> str:
        """The first of them in words."""
        return phrase_check(self.next_checks, self.interval90_nm, self.fits)

    @property
    def light(self) -> str:
        """Name of the light the piece was seen under."""
        return self.conditions.light

    @property
    def observer(self) -> int:
        """Field of view of the observer, 2 or 10 [°]."""
        return self.conditions.observer

    @property
    def data_sets(self) -> tuple[str, ...]:
        """The optical data it rests on, films before substrates."""
        return labels_of_pairs(self.pairs)


@dataclass(frozen=True, eq=False, repr=False)
class RowEstimate(Result):
    """The estimate of one reading of many; fields as in `Estimate`, ``seen`` as reported."""

    also: ClassVar[tuple[str, ...]] = ("next_check",)
    rows: ClassVar[str] = "candidates"

    id: str
    seen: str
    thickness_nm: float
    interval90_nm: tuple[float, float]
    region90_nm: list[tuple[float, float]]
    candidates: tuple[Candidate, ...]
    fits: bool
    fit_p: float
    plain_p: float

    @property
    def next_check(self) -> str:
        """What to do about this piece, by its candidates alone; `gauge` simulates it for one."""
        if not self.fits:
            return "make sure of the reading, and of what film and metal it is"
        if len(self.candidates) > 1 and self.candidates[0].probability < _SETTLED:
            return "gauge this piece by itself for the look that would settle its order"
        return "none is needed for its order"


@dataclass(frozen=True, eq=False, repr=False)
class ManyEstimates(Result):
    """Estimates of many readings, each of a piece of its own.

    Attributes
    ----------
    readings : list of RowEstimate
        In the order given.
    data_sets : tuple of str
        The optical data they rest on.
    ways : tuple of (str, Uncertainty)
        The kinds of reading there were, each with its uncertainty.
    """

    verb: ClassVar[str] = "gauge"
    rows: ClassVar[str] = "readings"

    readings: list[RowEstimate]
    data_sets: Hidden[tuple[str, ...]]
    ways: Hidden[tuple[tuple[str, Uncertainty], ...]]


def csv_of(rows: Sequence[RowEstimate]) -> str:
    """One line for each estimate, the likeliest candidate of each."""
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_CSV_COLUMNS)
    for row in rows:
        best = row.candidates[0]
        low, high = row.interval90_nm
        end = f"{high:.2f}" if math.isfinite(high) else ""
        writer.writerow(
            [
                cell_of(row.id), cell_of(row.seen), f"{row.thickness_nm:.2f}", f"{low:.2f}", end,
                f"{best.probability:.4f}", best.order, best.film, best.srgb_hex, best.name,
                "yes" if row.fits else "no", f"{row.fit_p:.4f}",
            ]
        )  # fmt: skip
    return stream.getvalue()


def ramp_of(estimate: Estimate) -> tuple[FloatArray, Colour]:
    """Thickness [nm] and the colours of the likeliest film there, at normal incidence."""
    likeliest = estimate.candidates[0].film
    j = next(i for i, pair in enumerate(estimate.pairs) if pair.film_name == likeliest)
    nm = np.arange(estimate.between_nm[0], estimate.between_nm[1] + 0.5)
    films = SampledFilms(np.full(nm.size, j), nm, np.zeros(nm.size))
    xyz = film_xyz(films, estimate.pairs, np.asarray(0.0), viewing=estimate.conditions)
    return nm, xyz_to_colour(xyz, estimate.conditions.light, estimate.conditions.observer)
