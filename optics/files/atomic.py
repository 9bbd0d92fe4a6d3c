"""Files written whole or not at all."""

from __future__ import annotations

import errno
import os
import shutil
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from functools import partial
from pathlib import Path
from typing import IO

from ..errors import InputError, show_path

_inputs: ContextVar[set[tuple[int, int]] | None] = ContextVar("files that were read", default=None)
_claimed: ContextVar[set[Path | tuple[int, int]] | None] = ContextVar("outputs", default=None)
_piped: ContextVar[dict[tuple[int, int], bytes] | None] = ContextVar("pipes read", default=None)
_within: ContextVar[Path | None] = ContextVar("the folder that may be read", default=None)


@contextmanager
def keep_inputs() -> Iterator[None]:
    """Within this no file that was read is written over, by whatever name or link it goes.

    Nor do two parts of an answer go to one file. What came through a pipe is kept until then, so
    that it can be asked for again.
    """
    before, unread, unwritten = _inputs.set(set()), _piped.set({}), _claimed.set(set())
    try:
        yield
    finally:
        _inputs.reset(before)
        _claimed.reset(unwritten)
        _piped.reset(unread)


@contextmanager
def read_within(folder: Path) -> Iterator[None]:
    """Within this only files of one folder are read: for names that came from elsewhere."""
    before = _within.set(folder.resolve())
    try:
        yield
    finally:
        _within.reset(before)


def note_input(path: Path) -> None:
    """Remember a file that is read, where inputs are kept; every reader calls this first.

    Raises
    ------
    InputError
        If only files of one folder may be read, and this is none of them.
    """
    folder = _within.get()
    named = folder is None or (str(path) != "-" and path.resolve().is_relative_to(folder))
    if not named:
        raise InputError("files of this machine cannot be named here; send the file itself")
    keep_unwritten(path)


def keep_unwritten(path: Path) -> None:
    """Remember a file that no answer may be written over, where inputs are kept."""
    read = _inputs.get()
    if read is not None:
        with suppress(OSError, ValueError):  # whoever opens it says what is wrong
            read.add(_identity(path.stat()))


def _identity(kind: os.stat_result) -> tuple[int, int]:
    """What all names of one file, and links to it, have alike."""
    return kind.st_dev, kind.st_ino


def read_once(pipe: tuple[int, int], read: Callable[[], bytes]) -> bytes:
    """What comes through a pipe, kept where inputs are: it comes only once."""
    kept = _piped.get()
    if kept is None:
        return read()
    if pipe not in kept:
        kept[pipe] = read()
    return kept[pipe]


def write_atomically(path: Path, write: Callable[[IO[bytes]], object]) -> None:
    """Write a file under a temporary name next to its own, then put it in place.

    Parameters
    ----------
    path : Path
        The named output; an existing file is replaced and keeps its rights and its owner, a
        symbolic link is followed.
    write : callable
        Takes the open binary file, which can be read back too.

    Raises
    ------
    InputError
        If the folder does not exist, the name is a folder's or a device's, the file is an input
        that is kept or write-protected, or writing fails.

    Notes
    -----
    What is written is on the disk before it takes its name, so that a loss of power leaves the
    old file or the new one. Two that write one file at once leave either, whole. A run that is
    killed leaves one hidden file next to it, named like it with twelve hexadecimal digits.

    A file that has further names (hard links) is filled in place from the new one, so that all
    of its names show it; a loss of power in that moment leaves the hidden file whole, not this.
    """
    shown = show_path(path)
    temporary: Path | None = None
    try:
        target = check_target(path)
        old = target.stat() if target.exists() else None
        temporary = target.with_name(f".{target.name[:40]}.{os.urandom(6).hex()}")
        # Not tempfile, whose files nobody else may read.
        with open(temporary, "x+b", opener=partial(os.open, mode=_rights(old))) as stream:
            write(stream)
            stream.flush()
            if old is not None:
                _take_over(stream.fileno(), old)
            os.fsync(stream.fileno())
        if old is not None and old.st_nlink > 1:
            _fill(target, temporary)
        else:
            os.replace(temporary, target)
            temporary = None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"cannot write {shown!r}: {reason}") from error
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def _rights(old: os.stat_result | None) -> int:
    """The rights that a file is made with: never more than those of the one it replaces."""
    return 0o666 if old is None else stat.S_IMODE(old.st_mode) & 0o777


def _take_over(handle: int, old: os.stat_result) -> None:
    """Give an open file the rights of the one it replaces, and its owner where that is allowed."""
    if hasattr(os, "fchown"):
        with suppress(OSError):
            os.fchown(handle, old.st_uid, old.st_gid)
        os.fchmod(handle, stat.S_IMODE(old.st_mode))  # last: a new owner takes rights away


def _fill(target: Path, whole: Path) -> None:
    """Put the content of one file into another that stays the same to all of its names."""
    with whole.open("rb") as new, target.open("r+b") as stream:
        shutil.copyfileobj(new, stream)
        stream.truncate()
        stream.flush()
        os.fsync(stream.fileno())


def check_target(path: Path) -> Path:
    """The file that is written under a name; refused, before any work, where none can be.

    Raises
    ------
    InputError
        As `write_atomically` would.
    """
    shown = show_path(path)
    try:
        return _check_target(path, shown)
    except InputError:
        raise
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise InputError(f"cannot write {shown!r}: {reason}") from error


def _check_target(path: Path, shown: str) -> Path:
    """The file that is meant, refused where nothing can be put in its place."""
    if b"\0" in os.fsencode(path):  # or it has letters no name of a file can have, a ValueError
        raise InputError(f"cannot write {shown!r}: no file can have this name")
    target = path
    if path.is_symlink():
        with suppress(RuntimeError):  # of a ring of links, up to Python 3.12; later it is no error
            target = path.resolve()
    if target.is_symlink():
        raise InputError(f"cannot write {shown!r}: the link leads back to itself")
    if target.is_dir():
        raise InputError(f"cannot write {shown!r}: it is a folder; name a file")
    if not has_folder(target):
        raise InputError(f"cannot write {shown!r}: its folder does not exist")
    if target.exists() and not target.is_file():
        raise InputError(f"cannot write {shown!r}: it is a device or a pipe; name a file")
    if target.exists():
        kind = target.stat()
        if _identity(kind) in (_inputs.get() or ()):
            raise InputError(f"cannot write {shown!r}: the answer rests on it; name another file")
        if not kind.st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH):
            raise InputError(f"cannot write {shown!r}: it is write-protected; name another file")
    return target


def claim_target(path: Path) -> None:
    """Check, before any work, a file that one part of an answer is written to, and no other part.

    Raises
    ------
    InputError
        As `write_atomically` would, or if another part is written there, by whatever name.
    """
    target, claimed = check_target(path), _claimed.get()
    if claimed is None:
        return
    names: set[Path | tuple[int, int]] = {target.resolve()}
    if target.exists():
        names.add(_identity(target.stat()))
    if names & claimed:
        raise InputError(f"cannot write {show_path(path)!r}: another part of the answer goes there")
    claimed |= names


def is_full(error: Exception) -> bool:
    """Whether it failed since the disk, or the person's share of it, is full."""
    full = errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)
    return isinstance(error, OSError) and error.errno in full


def has_folder(path: Path) -> bool:
    """Whether the folder that a file is to lie in exists."""
    try:
        return path.parent.is_dir()
    except OSError:  # no folder can have such a name, or nobody may look
        return False


def make_folder(folder: Path) -> None:
    """Make a folder and those above it where they do not exist.

    Raises
    ------
    InputError
        If it cannot be made, or a file has its name.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise InputError(f"cannot make the folder {str(folder)!r}: {reason}") from error
