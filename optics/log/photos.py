"""Photos of a log: copied beside it, named by their content, never changed or taken away."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from ..errors import InputError, shorten, show_path
from ..files.atomic import make_folder, write_atomically
from .facts import PHOTO_ENDINGS, check_photo_name

_MOST_BYTES = 100_000_000


def photo_folder(log: Path) -> Path:
    """The folder next to a log, or next to its export, that holds its photos."""
    return log.with_name(f"{log.stem}-photos")


def keep_photo(photo: Path, log: Path) -> str:
    """Copy a photo into the folder of a log; its name there, the hash of its content.

    Raises
    ------
    InputError
        If it cannot be read, is empty or very large, is no photo by its ending, or the folder
        cannot be written to.
    """
    if photo.suffix.lower() not in PHOTO_ENDINGS:
        raise InputError(
            f"the photo {shorten(photo.name)!r} ends in none of {', '.join(PHOTO_ENDINGS)}",
            parameter="photo",
        )
    try:
        size = photo.stat().st_size
        if not 0 < size <= _MOST_BYTES:
            raise InputError(
                f"the photo {shorten(photo.name)!r} has {size:,} bytes; it must have 1 to "
                f"{_MOST_BYTES:,}",
                parameter="photo",
            )
        content = photo.read_bytes()
    except (OSError, ValueError) as error:  # a name no file can have is a ValueError
        reason = getattr(error, "strerror", None) or error
        raise InputError(
            f"the photo {show_path(photo)!r} cannot be read: {reason}",
            parameter="photo",
        ) from error
    name = _name_of(content, photo.suffix)
    kept = photo_folder(log) / name
    if not kept.exists():
        make_folder(kept.parent)
        write_atomically(kept, lambda stream: stream.write(content))
    return name


def kept_name(photo: Path) -> str:
    """The name a photo has once a log keeps it."""
    return _name_of(photo.read_bytes(), photo.suffix)


def _name_of(content: bytes, ending: str) -> str:
    name = f"{hashlib.sha256(content).hexdigest()}{ending.lower()}"
    check_photo_name(name, "the photo")
    return name


def read_spot(photo: Path, patch: str, *, white: str | None = None) -> str:
    """The colour of a spot of a photo as ``L,a,b how=photo``, in the words of a log.

    Raises
    ------
    InputError
        If the photo or a place on it is refused.
    """
    from ..gauge.photo import reading_from_photo
    from ..images.white_balance import parse_patch
    from ..inference.reading import write_reading

    card = None if white is None else parse_patch(white)
    return write_reading(reading_from_photo(photo, parse_patch(patch), "glass", white=card))


def copy_photos(names: Iterable[str], source: Path, to: Path) -> int:
    """Copy photos from the folder of one log or export to that of another; how many lack.

    Raises
    ------
    InputError
        If one that is there cannot be read, a name is none of a photo that a log keeps, or the
        folder cannot be written to.
    """
    missing = 0
    for name in dict.fromkeys(names):
        check_photo_name(name, "the photo")  # another program may have changed the log
        photo = photo_folder(source) / name
        if not photo.is_file():
            missing += 1
        elif keep_photo(photo, to) != name:
            raise InputError(f"the photo {name!r} was changed since it was kept; it is left out")
    return missing


def say_missing(count: int) -> str:
    """A sentence on photos that were not there, after another; nothing where all were."""
    if not count:
        return ""
    return f" {'A photo is' if count == 1 else f'{count} photos are'} not there."
