"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import IO

from ..errors import InputError


def write_whole(path: Path, write: Callable[[IO[bytes]], object]) -> None:
    """Write a file under a temporary name beside its own, then put it in place.

    Parameters
    ----------
    path : Path
        The named output; an existing file is replaced, a symbolic link is followed.
    write : callable
        Takes the open binary file.

    Raises
    ------
    InputError
        If the folder does not exist, the name is a folder's, or writing fails.
    """
    target = path.resolve() if path.is_symlink() else path
    if target.is_dir():
        raise InputError(f"cannot write {str(path)!r}: it is a folder; name a file")
    if not target.parent.is_dir():
        raise InputError(f"cannot write {str(path)!r}: its folder does not exist")
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        with os.fdopen(handle, "wb") as stream:
            write(stream)
        # A temporary file is private; what is written for people gets the usual rights.
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(temporary, 0o666 & ~mask)
        os.replace(temporary, target)
        temporary = None
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(f"cannot write {str(path)!r}: {reason.lower()}") from error
    finally:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)


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
