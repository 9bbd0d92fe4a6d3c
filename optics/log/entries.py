"""Rows put into a log, each with the entry it came by, and taken back with it.

Every function here is called inside a transaction, so that an entry is there as a whole or not.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from typing import Any

from ..errors import InputError
from .records import LoggedSetup, Noted


def now_words() -> str:
    """This moment, with the offset of the clock on the wall."""
    now = datetime.now(UTC)
    with suppress(ValueError):  # no clock is a day or more off, whatever TZ says
        now = now.astimezone()
    return now.isoformat(timespec="seconds")


def add_entry(connection: sqlite3.Connection, what: str) -> int:
    """Begin an entry, ``setup``, ``run``, ``saw`` or ``import``; its number."""
    return _insert(connection, "entry (at, what)", now_words(), what)


def add_setup(connection: sqlite3.Connection, entry: int, setup: LoggedSetup) -> int:
    """Add a version of a setup; its number."""
    return _insert(
        connection, "setup (entry, name, version, kind, facts)",
        entry, setup.setup, setup.setup_version, setup.setup_kind, _json(setup.facts),
    )  # fmt: skip


def add_run(
    connection: sqlite3.Connection,
    entry: int,
    setup: int,
    *,
    done: Mapping[str, str],
    plan: Mapping[str, str],
    planned: str,
    remarks: str,
    at: str,
) -> int:
    """Add a run of a setup, by the setup's number; its own."""
    return _insert(
        connection, "run (entry, setup, at, planned, done, remarks, plan)",
        entry, setup, at, planned, _json(done), remarks, _json(plan),
    )  # fmt: skip


def add_piece(
    connection: sqlite3.Connection,
    entry: int,
    run: int,
    *,
    name: str,
    facts: Mapping[str, str],
    noted: Sequence[Noted],
) -> None:
    """Add looks at a piece of a run, and the piece where the run does not hold it yet.

    Raises
    ------
    InputError
        If the piece is held and other facts are told of it.
    """
    row = connection.execute(
        "SELECT id, facts FROM piece WHERE run = ? AND name = ?", (run, name)
    ).fetchone()
    if row is None:
        number = _insert(connection, "piece (entry, run, name, facts)", entry, run, name,
                         _json(facts))  # fmt: skip
    else:
        number = int(row[0])
        _check_same(facts, json.loads(row[1]), f"{name!r} in run {run}")
    connection.executemany(
        "INSERT INTO observation (entry, piece, what, text, at) VALUES (?, ?, ?, ?, ?)",
        [(entry, number, one.what, one.text, one.at) for one in noted],
    )


def _check_same(facts: Mapping[str, str], held: Mapping[str, str], which: str) -> None:
    for what, text in facts.items():
        if held.get(what, text) != text:
            raise InputError(
                f"`{what}` of {which} is {held[what]} already, not {text}", parameter=what
            )
    if missing := [what for what in facts if what not in held]:
        raise InputError(
            f"{which} was recorded without `{missing[0]}`; undo that, or give this piece another "
            f"name",
            parameter=missing[0],
        )


def take_back(connection: sqlite3.Connection) -> tuple[int | None, str]:
    """Take the newest entry back, whole; the run that it was of, and a sentence that says so.

    Raises
    ------
    InputError
        If nothing is recorded.
    """
    row = connection.execute("SELECT id, what, at FROM entry ORDER BY id DESC LIMIT 1").fetchone()
    if row is None:
        raise InputError("there is nothing in the log to take back")
    number, what, at = row
    run = _run_of(connection, number)
    connection.execute("DELETE FROM entry WHERE id = ?", (number,))
    of = "" if run is None else f" of run {run}"
    words = {"saw": f"the looks{of}", "run": f"run {run}", "setup": "the setup"}
    return run, f"Taken back: {words.get(what, 'the import')}, recorded {at}."


def _run_of(connection: sqlite3.Connection, entry: int) -> int | None:
    row = connection.execute(
        "SELECT run.id FROM run WHERE entry = :e UNION SELECT run FROM piece WHERE entry = :e "
        "UNION SELECT piece.run FROM observation JOIN piece ON piece.id = observation.piece "
        "WHERE observation.entry = :e LIMIT 1",
        {"e": entry},
    ).fetchone()
    return None if row is None else int(row[0])


def _insert(connection: sqlite3.Connection, into: str, *values: object) -> int:
    """The number of a new row; the table and its columns are our own text, never a user's."""
    marks = ", ".join("?" * len(values))
    table, _, columns = into.partition(" ")
    made = connection.execute(f"INSERT INTO {table} {columns} VALUES ({marks})", values)
    return int(made.lastrowid or 0)


def _json(value: Any) -> str:
    return json.dumps(dict(value), ensure_ascii=False)
