"""The photo asked about last, kept as light: a mark that is dragged asks of it many times."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from ...optics.images.linear_light import Picture, load_picture


def picture_of(photo: Path) -> Picture:
    """A photo as linear light, read again only where it is another than the last one.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    kind = photo.stat()
    return _read(photo, kind.st_mtime_ns, kind.st_size)


@lru_cache(maxsize=1)  # one of 12 megapixels takes 200 MB
def _read(photo: Path, _changed_ns: int, _size: int) -> Picture:
    return load_picture(photo)
