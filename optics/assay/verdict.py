"""The answer to "what is it?" as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ..remedies.remedies import Remedy
from ..result import Hidden, Result

Span = tuple[float, float]


@dataclass(frozen=True)
class ThicknessShare:
    """A separate candidate for the thickness [nm] and its share of the probability."""

    thickness_nm: float
    share: float


@dataclass(frozen=True)
class Hypothesis:
    """One family of things the film may be.

    Attributes
    ----------
    name : str
        Its key, such as ``oxide``.
    title, words : str
        In a few words for a table, and as the verdict says it.
    probability : float
    variants, metals : dict
        Share of each variant and each metal within it.
    thickness_nm : float
        Median if this is what it is [nm].
    interval90_nm : tuple of float
        Equal tails [nm].
    region90_nm : list of tuple
        The set of intervals holding 90 % that is shortest in ratio [nm].
    candidates : tuple of ThicknessShare
    looks : dict
        Hex and name of the colours of the film that agrees best, by side: front, back, through.
    example_nm, example_ohm : float
        Thickness [nm] and typical ohms per square of that film.
    """

    also: ClassVar[tuple[str, ...]] = ("example",)

    name: str
    title: Hidden[str]
    words: str
    probability: float
    variants: dict[str, float]
    metals: dict[str, float]
    thickness_nm: float
    interval90_nm: Span
    region90_nm: list[Span]
    candidates: tuple[ThicknessShare, ...]
    looks: Hidden[dict[str, tuple[str, str]]]
    example_nm: Hidden[float]
    example_ohm: Hidden[float]

    @property
    def example(self) -> dict[str, Any]:
        """The film that agrees best: thickness, ohms per square, and its colour on each side."""
        looks = {side: {"srgb_hex": h, "name": name} for side, (h, name) in self.looks.items()}
        return {"thickness_nm": self.example_nm, "ohm_sq": self.example_ohm, **looks}


@dataclass(frozen=True)
class Statement:
    """What is said of a film in one breath: a family of hypotheses, or several told as one.

    Attributes
    ----------
    name, title, words : str
        Its key; in a few words, and as the verdict says it.
    probability : float
    parts : dict
        Probability of each family in it.
    thickness_nm, interval90_nm, region90_nm
        As of a `Hypothesis`; of the metal where a skin is on it, unless that is what is stated.
    at_least_nm : float or None
        Where a film is so thick that nothing noticed tells how thick: what it is at least [nm].
    thickness_told : bool
        False where texture hides it.
    """

    name: str
    title: Hidden[str]
    words: str
    probability: float
    parts: dict[str, float]
    thickness_nm: float
    interval90_nm: Span
    region90_nm: list[Span]
    at_least_nm: float | None
    thickness_told: bool


@dataclass(frozen=True)
class Evidence:
    """What one observation brought.

    Attributes
    ----------
    observation, found : str
        What was looked at, and what was found.
    decibans : float
        Ten times the decimal logarithm of the factor by which it moves the odds of the leading
        statement, the other observations given.
    words : str
    """

    observation: str
    found: str
    decibans: float
    words: str


@dataclass(frozen=True)
class NextCheck:
    """Something that could be looked at next.

    Attributes
    ----------
    look : str
        What to do.
    expected_bits : float
        What it is expected to tell about the statement [bit].
    expected_surety : float
        Mean probability of the leading statement after it.
    sentence : str
    """

    look: str
    expected_bits: float
    expected_surety: float
    sentence: Hidden[str]


@dataclass(frozen=True, eq=False, repr=False)
class Verdict(Result):
    """What is held of a film after all observations.

    Attributes
    ----------
    verdict : str
        One sentence.
    groups : dict
        Probability that it is made of ``metal``, of ``oxide``, or of something ``other``.
    statements : tuple of Statement
        What the verdict may say, likeliest first.
    probabilities : dict
        Of each family, likeliest first.
    hypotheses : tuple of Hypothesis
        All families, likeliest first.
    thickness_nm, interval90_nm
        Of the likeliest statement [nm].
    fits : bool
        False when no film in question shows all this.
    fit_p : float
        Share of simulated films whose observations are at least as unusual, in the family for
        which it is greatest.
    why : tuple of Evidence
        Weightiest first.
    would_change : tuple of str
        What would turn the verdict.
    checks : tuple of NextCheck
        Most telling first; ``next_check`` says the first.
    remedies : tuple of Remedy
        What to do at the next run, most promising first.
    effective_films : float
        Simulated films the leading family rests on.
    light, observer
        Under which it was seen; the observer's field of view is 2 or 10 [°].
    """

    verb: ClassVar[str] = "assay"
    rows: ClassVar[str] = "hypotheses"

    verdict: str
    groups: dict[str, float]
    statements: tuple[Statement, ...]
    probabilities: dict[str, float]
    hypotheses: tuple[Hypothesis, ...]
    thickness_nm: float
    interval90_nm: Span
    fits: bool
    fit_p: float
    why: tuple[Evidence, ...]
    would_change: tuple[str, ...]
    next_check: str
    checks: tuple[NextCheck, ...]
    remedies: tuple[Remedy, ...]
    contradictions: tuple[str, ...]
    warnings: tuple[str, ...]
    effective_films: float
    metal: str
    on: str
    observations: tuple[str, ...]
    seed: int
    light: str
    observer: int
