"""Rows of a log as answers: a setup, a run with its pieces, a list of runs."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

from ..result import Result


@dataclass(frozen=True)
class Noted:
    """One look or measurement, in the words it was reported in.

    Attributes
    ----------
    what : str
        ``seen``, ``ohms``, ``through`` and so on.
    text : str
    at : str
        When it was recorded, as that of a run; empty where that is not known.
    """

    what: str
    text: str
    at: str = ""


@dataclass(frozen=True)
class LoggedPiece:
    """What lay in the chamber or kiln, and what was noticed of it.

    Attributes
    ----------
    name : str
    facts : dict
        What it is made of (``on``), the metal if not that of the run, where it lay.
    observations : tuple of Noted
        In the order they were reported.
    """

    name: str
    facts: dict[str, str]
    observations: tuple[Noted, ...] = ()


@dataclass(frozen=True, eq=False, repr=False)
class LoggedRun(Result):
    """One run.

    Attributes
    ----------
    run : int
        Its number in the log.
    setup : str
    setup_version : int
    setup_kind : {"chamber", "kiln", "flame"}
    at : str
        When it was recorded, as ISO 8601 with its offset from UTC.
    planned : str
        The plan as given; empty where there was none.
    done : dict
        What was done, in the user's words; empty while it is planned only.
    remarks : str
    pieces : tuple of LoggedPiece
    plan : dict
        Settings that were planned.
    """

    verb: ClassVar[str] = "log"
    rows: ClassVar[str] = "pieces"

    run: int
    setup: str
    setup_version: int
    setup_kind: str
    at: str
    planned: str
    done: dict[str, str]
    remarks: str
    pieces: tuple[LoggedPiece, ...] = ()
    plan: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, eq=False, repr=False)
class LoggedSetup(Result):
    """A chamber, kiln or flame as it stood from one run on.

    Attributes
    ----------
    setup : str
        Its name.
    setup_version : int
        From 1; a change is a new version.
    setup_kind : {"chamber", "kiln", "flame"}
    facts : dict
        The jar's description and a note, as far as given.
    """

    verb: ClassVar[str] = "log"

    setup: str
    setup_version: int
    setup_kind: str
    facts: dict[str, Any]


@dataclass(frozen=True, eq=False, repr=False)
class LogList(Result):
    """The runs of a log, newest last.

    Attributes
    ----------
    log : str
        The file.
    setups : tuple of LoggedSetup
        The newest version of each.
    runs : tuple of LoggedRun
        All of them, or the newest.
    total : int
        How many there are.
    """

    verb: ClassVar[str] = "log"
    rows: ClassVar[str] = "runs"

    log: str
    setups: tuple[LoggedSetup, ...]
    runs: tuple[LoggedRun, ...]
    total: int


@dataclass(frozen=True, eq=False, repr=False)
class Recorded(Result):
    """What was just written into a log, or taken out of it.

    Attributes
    ----------
    log : str
        The file.
    did : str
        ``setup``, ``run``, ``saw``, ``import``, ``export`` or ``undo``.
    run : int or None
        The run it belongs to.
    sentence : str
        The same in words.
    """

    verb: ClassVar[str] = "log"

    log: str
    did: str
    run: int | None
    sentence: str
