"""What a log teaches of a jar, and the run it advises, as answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ...result import Hidden, Result
from ..jar_posterior import JarDraws

Span = tuple[float, float]


@dataclass(frozen=True)
class LearntNumber:
    """One unknown of a jar.

    Attributes
    ----------
    name : str
    value : float
        Median of the draws.
    interval90 : tuple of float
    before90 : tuple of float
        The same before any run.
    unit : str
        Empty for a factor.
    """

    name: str
    value: float
    interval90: Span
    before90: Span
    unit: str = ""


@dataclass(frozen=True)
class RunCheck:
    """What the other runs make one expect of a run, against what came of it.

    Attributes
    ----------
    run : int
    predicted_nm : float
        Thickness of the metal, median, from the other runs [nm].
    predicted90_nm : tuple of float
    made_nm : float or None
        Median of what its pieces say by themselves [nm]; None where nothing was noticed.
    made90_nm : tuple of float or None
    states : dict
        Probability of ``metal``, ``grey`` and ``oxide`` with all runs, its own looks too.
    odds_same_jar : float
        How many times likelier its looks are if it is the same jar as in the others than if it
        were a new one.
    astray : float
        Probability that something else than the jar made it come out so.
    fits : bool
    states_before : dict
        Probability of the states from the other runs alone.
    """

    run: int
    predicted_nm: float
    predicted90_nm: Span
    made_nm: float | None
    made90_nm: Span | None
    states: dict[str, float]
    odds_same_jar: float
    astray: float
    fits: bool
    states_before: dict[str, float]


@dataclass(frozen=True)
class Cause:
    """Why a run came out as no other makes one expect.

    Attributes
    ----------
    name : str
    probability : float
    remedy : str
    """

    name: str
    probability: float
    remedy: str


@dataclass(frozen=True)
class JarChange:
    """A change of the jar between two runs.

    Attributes
    ----------
    from_run : int
        The first run after it.
    odds : float
        Likelier so many times than that nothing changed, a prior of one in twenty counted.
    what : str
        What moved most, and by what factor.
    """

    from_run: int
    odds: float
    what: str


@dataclass(frozen=True)
class JarThen:
    """A jar as one run found it, with all runs known.

    Attributes
    ----------
    run : int
    leak, rate : float
        Over what is assumed and computed, the median.
    leak90, rate90 : tuple of float
    """

    run: int
    leak: float
    leak90: Span
    rate: float
    rate90: Span


@dataclass(frozen=True, eq=False, repr=False)
class JarLearnt(Result):
    """What the runs of a jar teach.

    Attributes
    ----------
    setup, setup_kind : str
    runs : int
        How many taught something.
    skipped : tuple of str
        Why the others did not.
    numbers : tuple of LearntNumber
    checks : tuple of RunCheck
    change : JarChange or None
    causes : dict
        For each run that does not fit, its causes by their odds.
    draws : JarDraws
    drift : tuple of JarThen
        Leak and rate run by run.
    """

    verb: ClassVar[str] = "log"
    rows: ClassVar[str] = "checks"

    setup: str
    setup_kind: str
    runs: int
    skipped: tuple[str, ...]
    numbers: tuple[LearntNumber, ...]
    checks: tuple[RunCheck, ...]
    change: JarChange | None
    causes: dict[int, tuple[Cause, ...]]
    draws: Hidden[JarDraws]
    drift: tuple[JarThen, ...] = ()


@dataclass(frozen=True)
class Notch:
    """A knob turned by one notch.

    Attributes
    ----------
    knob : str
    chance : float
        Of what is wanted, with it.
    """

    knob: str
    chance: float


@dataclass(frozen=True, eq=False, repr=False)
class NextRun(Result):
    """The run that a log advises.

    Attributes
    ----------
    setup : str
    want : str
    done : dict
        Its settings, in the words of a log.
    chance : float
        Of thickness and state together.
    chance_before : float
        That of the same settings in a jar that no run is known of.
    in_thickness, in_state, melts : float
        Chance of each alone; the last of a melted wire.
    within : float
        Share by which the thickness may be off.
    limited_by : str
        What keeps the chance from being better.
    notches : tuple of Notch
    teaches : dict or None
        Settings of the run that would teach most.
    runs : int
        How many runs it rests on.
    base_pressure : str or None
        What the gauge read before it, where that was told.
    """

    verb: ClassVar[str] = "log"
    rows: ClassVar[str] = "notches"

    setup: str
    want: str
    done: dict[str, str]
    chance: float
    chance_before: float
    in_thickness: float
    in_state: float
    melts: float
    within: float
    limited_by: str
    notches: tuple[Notch, ...]
    teaches: dict[str, str] | None
    runs: int
    base_pressure: str | None = None
