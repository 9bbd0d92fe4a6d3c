"""Gas in a chamber as an answer."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, ClassVar, Literal

from ..deposition.gas_balance import FilmState, GasBalance
from ..deposition.gases import GASES
from ..deposition.geometry import SourceKind
from ..deposition.history import History
from ..deposition.jar import Jar
from ..result import Hidden, Result

AIR = ("N2", "O2")
"""Gases that only a leak brings."""


@dataclass(frozen=True)
class Inflow:
    """Gas that comes in by itself.

    Attributes
    ----------
    total_mbar_l_s, molecules_per_s : float
        All of it.
    leak_mbar_l_s : float or None
        Of two readings of a rise test leak and outgassing together; None where a base pressure
        is all that is known.
    leak_interval90 : tuple of float or None
        From a rise test [mbar l/s].
    outgassing_mbar_l_s : float or None
        None where it cannot be told from the leak.
    known_from : {"rise", "stated", "base pressure", "usual"}
    """

    total_mbar_l_s: float
    molecules_per_s: float
    leak_mbar_l_s: float | None
    leak_interval90: tuple[float, float] | None
    outgassing_mbar_l_s: float | None
    known_from: Literal["rise", "stated", "base pressure", "usual"]


@dataclass(frozen=True)
class FlushEffect:
    """What puffs of working gas leave of the air.

    Attributes
    ----------
    puffs : int
    low_mbar, high_mbar : float
        Pressures before and after each puff [mbar].
    share_left : float
        Of the gas that was there [-].
    left_mbar : float
        Pressure of it when the pump is back at the low pressure [mbar].
    back_after_s : float
        Time until the leak has brought back what it holds [s].
    """

    puffs: int
    low_mbar: float
    high_mbar: float
    share_left: float
    left_mbar: float
    back_after_s: float


@dataclass(frozen=True, eq=False, repr=False)
class ChamberState(Result):
    """Gas in a chamber, and what it makes of metals.

    Attributes
    ----------
    jar : Jar
    working_gas : str or None
        ``Ar``, ``N2`` or ``air``.
    reading_mbar, working_pressure_mbar : float or None
        What the gauge shows, and what is there [mbar].
    inflow : Inflow
    pumping_l_s : dict
        Speed at the chamber for each gas [l/s].
    held_mbar, held_partial_mbar
        What the pump holds without working gas [mbar].
    partial_mbar : dict
        Each gas before metal flows [mbar].
    feed_mbar_l_s : float or None
        Working gas to let in [mbar l/s].
    flush : FlushEffect or None
    rate_nm_s, duration_s : float
        Of the runs that the metals are weighed for.
    source : str
    films : tuple of GasBalance
        One for each metal.
    history : History
        With the first metal.
    """

    verb: ClassVar[str] = "chamber"
    also: ClassVar[tuple[str, ...]] = (
        "leak_mbar_l_s", "oxygen_per_metal", "oxygen_interval90", "nitrogen_per_metal",
        "states", "nitride", "branches",
    )  # fmt: skip
    rows: ClassVar[str] = "branches"

    jar: Jar
    working_gas: str | None
    reading_mbar: float | None
    working_pressure_mbar: float | None
    inflow: Inflow
    pumping_l_s: dict[str, float]
    held_mbar: float
    held_partial_mbar: dict[str, float]
    partial_mbar: dict[str, float]
    feed_mbar_l_s: float | None
    flush: FlushEffect | None
    rate_nm_s: float
    source: SourceKind
    duration_s: float
    films: Hidden[tuple[GasBalance, ...]]
    history: History

    @property
    def leak_mbar_l_s(self) -> float | None:
        """The leak [mbar l/s]; see :class:`Inflow`."""
        return self.inflow.leak_mbar_l_s

    @property
    def oxygen_per_metal(self) -> dict[str, float]:
        """Oxygen atoms in the film for each metal atom, by metal."""
        return {film.flow.name: film.oxygen_per_metal for film in self.films}

    @property
    def oxygen_interval90(self) -> dict[str, tuple[float, float]]:
        """Where that lies with 90 %, by metal."""
        return {film.flow.name: film.oxygen_interval90 for film in self.films}

    @property
    def nitrogen_per_metal(self) -> dict[str, float]:
        """Nitrogen atoms in the film for each metal atom, by metal."""
        return {film.flow.name: film.nitrogen_per_metal for film in self.films}

    @property
    def states(self) -> dict[str, dict[FilmState, float]]:
        """Probabilities of metal, grey and oxide, by metal."""
        return {film.flow.name: film.states for film in self.films}

    @property
    def nitride(self) -> dict[str, float]:
        """Probability of a golden nitride, part of metal and grey, by metal."""
        return {film.flow.name: film.nitride for film in self.films}

    @property
    def verdicts(self) -> dict[str, FilmState]:
        """The likeliest state, by metal."""
        return {film.flow.name: film.verdict for film in self.films}

    @property
    def branches(self) -> list[dict[str, Any]]:
        """The steady states of each metal, that of a clean start first."""
        return [
            {"metal": film.flow.name} | asdict(branch)
            for film in self.films
            for branch in film.branches
        ]

    @property
    def air_mbar(self) -> float:
        """Nitrogen and oxygen before metal flows [mbar]."""
        return sum(self.partial_mbar[gas] for gas in AIR)

    @property
    def working_share(self) -> float:
        """Working gas over all gas [-]; 0 without."""
        if self.working_gas not in GASES:
            return 0.0
        return self.partial_mbar[self.working_gas] / sum(self.partial_mbar.values())
