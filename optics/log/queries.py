"""Setups and runs read out of a log, each in a few queries however many there are."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from typing import Any, Literal

from ..errors import InputError, UnknownNameError, shorten, suggest_nearest
from .records import LoggedPiece, LoggedRun, LoggedSetup, Noted

Which = Literal["newest", "row"]
"""The newest version of every setup, or all versions in a row."""


def read_setups(connection: sqlite3.Connection, which: Which) -> tuple[LoggedSetup, ...]:
    """The newest version of every setup, or all versions in a row."""
    newest = "WHERE version = (SELECT max(version) FROM setup t WHERE t.name = setup.name)"
    rows = connection.execute(
        f"SELECT name, version, kind, facts FROM setup "
        f"{newest if which == 'newest' else ''} ORDER BY id"
    ).fetchall()
    _refuse_bytes(rows)
    return tuple(
        LoggedSetup(name, _check_version(version), kind, _setup_facts(facts))
        for name, version, kind, facts in rows
    )


def newest_version(connection: sqlite3.Connection, name: str) -> dict[str, Any] | None:
    """Name, number, version and kind of the newest version of a setup, None if there is none."""
    row = connection.execute(
        "SELECT id, version, kind FROM setup WHERE name = ? ORDER BY version DESC LIMIT 1", (name,)
    ).fetchone()
    if row is None:
        return None
    number, version, kind = row
    return {"name": name, "id": number, "version": _check_version(version), "kind": kind}


def find_setup(connection: sqlite3.Connection, name: str) -> dict[str, Any]:
    """As :func:`newest_version`, of a setup that must be there.

    Raises
    ------
    UnknownNameError
        If there is no setup of that name; the sentence says which there are.
    """
    held = newest_version(connection, name)
    if held is None:
        names = [row[0] for row in connection.execute("SELECT DISTINCT name FROM setup")]
        hint = suggest_nearest(name, names) or (
            f"it holds {', '.join(names[:9])}" if names else "record a setup first"
        )
        raise UnknownNameError(
            f"there is no setup {shorten(name)!r} in the log; {hint}", parameter="setup"
        )
    return held


def _check_version(version: Any) -> int:
    if not isinstance(version, int) or not 0 < version < 2**62:
        raise _damaged()
    return version


def _setup_facts(text: str) -> dict[str, Any]:
    """What a setup is, by tables and a note."""
    facts = _read_table(text)
    tables = [facts.get(name, {}) for name in ("jar", "places", "usual")]
    if not all(isinstance(one, dict) for one in tables):
        raise _damaged()
    if not all(isinstance(one, dict) for one in facts.get("places", {}).values()):
        raise _damaged()
    return facts


def _facts(text: str) -> dict[str, str]:
    """What was done, or what a piece is, in words."""
    facts = _read_table(text)
    if not all(isinstance(one, str) for one in facts.values()):
        raise _damaged()
    return facts


def _read_table(text: str) -> dict[str, Any]:
    """What was kept as a table of names and values; another program may have changed it."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError) as error:  # no JSON, endless digits, tables in tables
        raise _damaged() from error
    if not isinstance(found, dict):
        raise _damaged()
    return found


def _damaged() -> InputError:
    return InputError(
        "the log holds facts that are no table of names and values; restore it from a copy or "
        "from an export",
        parameter="log",
    )


def read_runs(
    connection: sqlite3.Connection, where: str, values: tuple[object, ...]
) -> tuple[LoggedRun, ...]:
    """Runs with all that hangs on them.

    Parameters
    ----------
    connection : sqlite3.Connection
    where : str
        A condition on the tables run and setup, or empty; our own text, never a user's.
    values : tuple
        For its question marks.
    """
    join = "JOIN setup ON setup.id = run.setup"
    runs = connection.execute(
        f"SELECT run.id, setup.name, setup.version, setup.kind, run.at, run.planned, "
        f"run.done, run.remarks, run.plan FROM run {join} {where} ORDER BY run.id",
        values,
    ).fetchall()
    pieces = connection.execute(
        f"SELECT piece.id, piece.run, piece.name, piece.facts FROM piece "
        f"JOIN run ON run.id = piece.run {join} {where} ORDER BY piece.id",
        values,
    ).fetchall()
    noted = connection.execute(
        f"SELECT observation.piece, observation.what, observation.text, observation.at "
        f"FROM observation "
        f"JOIN piece ON piece.id = observation.piece JOIN run ON run.id = piece.run "
        f"{join} {where} ORDER BY observation.id",
        values,
    ).fetchall()
    _refuse_bytes(runs, pieces, noted)
    return _assemble(runs, pieces, noted)


def count_runs(
    connection: sqlite3.Connection, where: str, values: tuple[object, ...], *, newest: int
) -> tuple[int, int]:
    """How many runs there are, and the number of the first of so many of the newest; as
    :func:`read_runs`."""
    runs = f"FROM run JOIN setup ON setup.id = run.setup {where}"
    (total,) = connection.execute(f"SELECT count(*) {runs}", values).fetchone()
    last = f"SELECT run.id {runs} ORDER BY run.id DESC LIMIT ?"
    (first,) = connection.execute(f"SELECT min(id) FROM ({last})", (*values, newest)).fetchone()
    return total, first or 0


def _refuse_bytes(*tables: Sequence[tuple[Any, ...]]) -> None:
    """Refuse bytes where words are kept, which another program can have put there."""
    if any(isinstance(cell, bytes) for rows in tables for row in rows for cell in row):
        raise _damaged()


def _assemble(
    runs: Sequence[tuple[Any, ...]],
    pieces: Sequence[tuple[Any, ...]],
    noted: Sequence[tuple[Any, ...]],
) -> tuple[LoggedRun, ...]:
    looks: dict[int, list[Noted]] = {}
    for number, what, text, at in noted:
        looks.setdefault(number, []).append(Noted(what, text, at))
    of_run: dict[int, list[LoggedPiece]] = {}
    for number, run, name, facts in pieces:
        piece = LoggedPiece(name, _facts(facts), tuple(looks.get(number, ())))
        of_run.setdefault(run, []).append(piece)
    return tuple(
        LoggedRun(
            number, setup, version, kind, at, planned, _facts(done), remarks,
            tuple(of_run.get(number, ())), _facts(plan),
        )
        for number, setup, version, kind, at, planned, done, remarks, plan in runs
    )  # fmt: skip
