"""Files written whole or not at all."""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import IO

from ..errors import InputError, shorten

try:
    import fcntl
except ImportError:  # Windows, which removes no file that is open
    fcntl = None  # type: ignore[assignment]

_ENDING = re.compile(r"\.[0-9a-f]{12}")


def write_atomically(path: Path, write: Callable[[IO[bytes]], object]) -> None:
    """Write a file under a temporary name beside its own, then put it in place.

    Parameters
    ----------
    path : Path
        The named output; an existing file is replaced, a symbolic link is followed.
    write : callable
        Takes the open binary file, which can be read back too.

    Raises
    ------
    InputError
        If the folder does not exist, the name is a folder's or a device's, or writing fails.

    Notes
    -----
    What is written is on the disk before it takes its name, so that a loss of power leaves the
    old file or the new one. Two that write one file at once leave either, whole. What a run that
    was killed left under a temporary name is removed when the same file is written again: a
    temporary file is locked by whoever writes it, so one that can be locked is nobody's.
    """
    shown = shorten(str(path), 200)
    temporary: Path | None = None
    try:
        target = _check_target(path, shown)
        _remove_leftovers(target)
        temporary, stream = _open_beside(target)
        with stream:
            write(stream)
            stream.flush()
            os.fsync(stream.fileno())
            if fcntl is None:  # there what is open cannot be renamed; here it must stay locked
                stream.close()
            os.replace(temporary, target)
            temporary = None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"cannot write {shown!r}: {reason}") from error
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def _stem(target: Path) -> str:
    return f".{target.name[:40]}"


def _open_beside(target: Path) -> tuple[Path, IO[bytes]]:
    """A new file with the usual rights and a temporary name, locked where files can be."""
    while True:
        path = target.with_name(f"{_stem(target)}.{secrets.token_hex(6)}")
        stream = open(path, "x+b")  # noqa: SIM115 -- whoever asked closes it
        _lock(stream, wait=True)
        if os.fstat(stream.fileno()).st_nlink:
            return path, stream
        stream.close()  # it was taken for a leftover before it was locked


def _lock(stream: IO[bytes], wait: bool = False) -> bool:
    """Whether the file is ours now; where files cannot be locked, none is."""
    if fcntl is None:
        return False
    try:
        fcntl.flock(stream, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True


def _remove_leftovers(target: Path) -> None:
    """Remove temporary files for this target that nobody writes any more."""
    stem = _stem(target)
    with suppress(OSError):  # it is no fault of the file to be written
        for name in os.listdir(target.parent):
            if not name.startswith(stem) or not _ENDING.fullmatch(name[len(stem) :]):
                continue
            left = target.with_name(name)
            if left.is_symlink() or not left.is_file():
                continue
            if fcntl is None:
                left.unlink()
                continue
            with open(left, "rb") as stream:
                if _lock(stream):
                    left.unlink()


def _check_target(path: Path, shown: str) -> Path:
    """The file that is meant, refused where nothing can be put in its place."""
    try:
        target = path.resolve() if path.is_symlink() else path
    except RuntimeError as error:  # up to Python 3.12
        raise InputError(f"cannot write {shown!r}: the link leads back to itself") from error
    if target.is_dir():
        raise InputError(f"cannot write {shown!r}: it is a folder; name a file")
    if not has_folder(target):
        raise InputError(f"cannot write {shown!r}: its folder does not exist")
    if target.exists() and not target.is_file():
        raise InputError(f"cannot write {shown!r}: it is a device or a pipe; name a file")
    return target


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
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"cannot make the folder {str(folder)!r}: {reason}") from error
