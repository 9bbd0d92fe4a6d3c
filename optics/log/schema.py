"""Tables of a run log, and the steps from each older form to the present one.

Rows are only ever added: a new pump is a new version of its setup, and what was recorded last can
be taken back as a whole, since every row belongs to the entry it came with.
"""

from __future__ import annotations

import sqlite3

APPLICATION_ID = 0x6F786875
"""Written into the file's head, so that no other database is taken for a log."""

_FIRST = """
CREATE TABLE entry (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    what TEXT NOT NULL
);
CREATE TABLE setup (
    id INTEGER PRIMARY KEY,
    entry INTEGER NOT NULL REFERENCES entry ON DELETE CASCADE,
    name TEXT NOT NULL,
    version INTEGER NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('chamber', 'kiln', 'flame')),
    facts TEXT NOT NULL CHECK (json_valid(facts)),
    UNIQUE (name, version)
);
CREATE TABLE run (
    id INTEGER PRIMARY KEY,
    entry INTEGER NOT NULL REFERENCES entry ON DELETE CASCADE,
    setup INTEGER NOT NULL REFERENCES setup ON DELETE CASCADE,
    at TEXT NOT NULL,
    planned TEXT NOT NULL,
    done TEXT NOT NULL CHECK (json_valid(done)),
    remarks TEXT NOT NULL
);
CREATE TABLE piece (
    id INTEGER PRIMARY KEY,
    entry INTEGER NOT NULL REFERENCES entry ON DELETE CASCADE,
    run INTEGER NOT NULL REFERENCES run ON DELETE CASCADE,
    name TEXT NOT NULL,
    facts TEXT NOT NULL CHECK (json_valid(facts)),
    UNIQUE (run, name)
);
CREATE TABLE observation (
    id INTEGER PRIMARY KEY,
    entry INTEGER NOT NULL REFERENCES entry ON DELETE CASCADE,
    piece INTEGER NOT NULL REFERENCES piece ON DELETE CASCADE,
    what TEXT NOT NULL,
    text TEXT NOT NULL
);
CREATE INDEX setup_entry ON setup (entry);
CREATE INDEX run_entry ON run (entry);
CREATE INDEX run_setup ON run (setup);
CREATE INDEX piece_entry ON piece (entry);
CREATE INDEX observation_entry ON observation (entry);
CREATE INDEX observation_piece ON observation (piece);
"""

_SECOND = """
CREATE TABLE derived (
    model TEXT NOT NULL,
    question TEXT NOT NULL,
    answer TEXT NOT NULL CHECK (json_valid(answer)),
    PRIMARY KEY (model, question)
);
"""

_THIRD = """
ALTER TABLE run ADD COLUMN plan TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(plan));
"""

_FOURTH = """
ALTER TABLE observation ADD COLUMN at TEXT NOT NULL DEFAULT '';
UPDATE observation SET at = (SELECT at FROM entry WHERE entry.id = observation.entry)
    WHERE entry IN (SELECT id FROM entry WHERE what <> 'import');
"""

STEPS = (_FIRST, _SECOND, _THIRD, _FOURTH)
"""The n-th makes form n out of form n - 1; the first starts from nothing."""

NEWEST = len(STEPS)


def form_of(connection: sqlite3.Connection) -> int:
    """Number of the form a file has; 0 for an empty one."""
    (number,) = connection.execute("PRAGMA user_version").fetchone()
    return int(number)


def upgrade(connection: sqlite3.Connection) -> None:
    """Bring a log to the present form in one transaction.

    Parameters
    ----------
    connection : sqlite3.Connection
        In autocommit mode.
    """
    old = form_of(connection)
    if old == NEWEST:
        return
    steps = "".join(STEPS[old:])
    try:
        connection.executescript(
            f"BEGIN IMMEDIATE; {steps} PRAGMA application_id = {APPLICATION_ID};"
            f" PRAGMA user_version = {NEWEST}; COMMIT;"
        )
    except sqlite3.OperationalError:
        if connection.in_transaction:
            connection.rollback()
        if form_of(connection) != NEWEST:  # another program may have done it meanwhile
            raise
