"""The file of a run log: opened with care, refused in one sentence, never harmed."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import InputError, show_path
from ..files.atomic import keep_unwritten
from .schema import APPLICATION_ID, NEWEST, form_of, upgrade

DEFAULT_NAME = "oxhue-log.sqlite"
VARIABLE = "OXHUE_LOG"
_PATIENCE_S, _PAUSE_S = 5.0, 0.02
_SIDE_FILES = "-wal", "-shm"
_HEAD = b"SQLite format 3\x00"
_REASONS = (
    ("locked", "another program is writing to it; try again when that is done"),
    ("readonly", "it may not be written to"),
    ("read-only", "it may not be written to"),
    ("full", "the disk is full"),
    ("malformed", "it is damaged; restore it from a copy or from an export"),
    ("already exists", "it is damaged; restore it from a copy or from an export"),
    ("no such table", "it is damaged; restore it from a copy or from an export"),
    ("no such column", "it is damaged; restore it from a copy or from an export"),
    ("not a database", "it is not a run log, or it is damaged"),
    ("unable to open", "it cannot be opened there"),
    ("disk i/o", "the disk does not answer"),
)


def log_path(path: str | Path | None = None) -> Path:
    """The file that is meant: the one named, that of ``OXHUE_LOG``, or the usual name here.

    Raises
    ------
    InputError
        If it is neither text nor a path.
    """
    if path is None:
        return Path(os.environ.get(VARIABLE) or DEFAULT_NAME)
    if not isinstance(path, str | Path):
        raise InputError(f"`log` is the name of a file, not {path!r:.80}", parameter="log")
    return Path(path)


def is_made(path: Path) -> bool:
    """Whether there is a log already.

    Raises
    ------
    InputError
        If a file is there that is no log, or none can be.
    """
    with told_as_input(path):
        return _check_file(path, show_path(path), write=True)


def open_unmade() -> sqlite3.Connection:
    """A log that holds nothing, in memory: to be read until one is made."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    _prepare(connection, "", exists=False, write=True)
    return connection


def open_database(path: Path, *, write: bool) -> sqlite3.Connection:
    """Open a log in its present form.

    Parameters
    ----------
    path : Path
    write : bool
        Whether it is made where it does not exist, and brought to the present form.

    Returns
    -------
    sqlite3.Connection
        In autocommit mode, with foreign keys checked.

    Raises
    ------
    InputError
        If there is no such file, it is not a log, is damaged, newer, locked, or may not be written.
    """
    shown = show_path(path)
    with told_as_input(path):
        exists = _check_file(path, shown, write=write)
        connection = _open(path, shown, exists=exists, write=write)
    for one in (path, *(Path(f"{path.resolve()}{ending}") for ending in _SIDE_FILES)):
        keep_unwritten(one)
    return connection


def _open(path: Path, shown: str, *, exists: bool, write: bool) -> sqlite3.Connection:
    if write:
        return _connect(path, "mode=rwc", shown, exists=exists, write=True)
    connection = _open_to_read(path, shown, exists=exists)
    if form_of(connection) == NEWEST:
        return connection
    connection.close()
    return _connect(path, "mode=rw", shown, exists=exists, write=True)


def _open_to_read(path: Path, shown: str, *, exists: bool) -> sqlite3.Connection:
    """Open a log that is not changed; nothing is left beside it when it is closed.

    Whoever may write takes away the side files that reading needs; else they would stay, so none
    are made, which is right as long as no entry waits in one.
    """
    target = path.resolve()
    if os.access(target, os.W_OK) and os.access(target.parent, os.W_OK):
        connection = _connect(path, "mode=rw", shown, exists=exists, write=False)
        connection.execute("PRAGMA query_only = ON")
        return connection
    waiting = Path(f"{target}{_SIDE_FILES[0]}")
    if not (waiting.exists() and waiting.stat().st_size):
        return _connect(path, "mode=ro&immutable=1", shown, exists=exists, write=False)
    try:
        return _connect(path, "mode=ro", shown, exists=exists, write=False)
    except sqlite3.OperationalError as error:
        raise InputError(
            f"the log {shown!r} has entries that wait beside it, in {waiting.name!r}, and they "
            f"can be read only where it may be written to; copy both files to a folder of yours",
            parameter="log",
        ) from error


def _connect(
    path: Path, options: str, shown: str, *, exists: bool, write: bool
) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{options}",
        uri=True, timeout=_PATIENCE_S, isolation_level=None,
    )  # fmt: skip
    try:
        _prepare(connection, shown, exists=exists, write=write)
    except BaseException:
        connection.close()
        raise
    return connection


def _check_file(path: Path, shown: str, *, write: bool) -> bool:
    """Whether there is a log already; what cannot be one is refused before SQLite sees it."""
    if path.is_dir():
        raise InputError(f"the log {shown!r} is a folder; name a file", parameter="log")
    if not path.exists():
        if not write:
            raise InputError(
                f"there is no log {shown!r}; recording a setup or a run makes one", parameter="log"
            )
        if not path.parent.is_dir():
            raise InputError(f"the folder of the log {shown!r} does not exist", parameter="log")
        return False
    if not path.is_file():
        raise InputError(f"the log {shown!r} is a device or a pipe; name a file", parameter="log")
    with open(path, "rb") as stream:
        head = stream.read(100)
    if not head and write:  # as an empty file made beforehand: nothing is lost by filling it
        return False
    if not head.startswith(_HEAD) or len(head) < 100:
        what = "is not a run log" if head else "is empty, with nothing recorded in it"
        raise InputError(f"{shown!r} {what}; it is left as it is", parameter="log")
    stated = int.from_bytes(head[68:72], "big")
    if stated != APPLICATION_ID:
        raise InputError(
            f"{shown!r} is a database of another program; it is left as it is", parameter="log"
        )
    return True


def _prepare(connection: sqlite3.Connection, shown: str, *, exists: bool, write: bool) -> None:
    connection.execute("PRAGMA foreign_keys = ON")
    if exists and (found := form_of(connection)) > NEWEST:
        raise InputError(
            f"the log {shown!r} was written by a newer version (form {found}, this one reads up "
            f"to {NEWEST}); it is left as it is",
            parameter="log",
        )
    if write:
        connection.execute("PRAGMA synchronous = FULL")
        upgrade(connection)  # before there are side files: others know a log by its first page
        _let_entries_wait(connection)


def _let_entries_wait(connection: sqlite3.Connection) -> None:
    """Keep new entries beside the log until it is closed; for this change alone, SQLite does not
    wait for others that have the log open."""
    until = time.monotonic() + _PATIENCE_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            time.sleep(_PAUSE_S)


@contextmanager
def told_as_input(path: Path) -> Iterator[None]:
    """Errors of the database and the file system as one sentence of ours."""
    try:
        yield
    except (sqlite3.Error, OSError) as error:
        said = (getattr(error, "strerror", None) or str(error)).lower()
        reason = next((words for mark, words in _REASONS if mark in said), said)
        raise InputError(f"the log {show_path(path)!r}: {reason}", parameter="log") from error


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All or nothing of what is written within."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if connection.in_transaction:  # a full disk has ended it already
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")
