"""Where uploaded photos lie while the page runs: in a folder that goes when it ends."""

from __future__ import annotations

import secrets
import shutil
import tempfile
from collections import OrderedDict
from collections.abc import AsyncIterator
from pathlib import Path

from ..optics.errors import InputError, LimitError

MAX_BYTES = 40_000_000
MOST_PHOTOS = 8
MAP_FILES = {
    "map.png": "image/png",
    "histogram.png": "image/png",
    "thickness.tiff": "image/tiff",
    "summary.json": "application/json",
}


class Shelf:
    """Photos under names of our own making: nothing a browser says becomes part of a path."""

    def __init__(self) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="oxhue-page-"))
        self._photos: OrderedDict[str, Path] = OrderedDict()

    async def put(self, parts: AsyncIterator[bytes]) -> tuple[str, Path]:
        """Keep a photo as it streams in; its name on the shelf, and its path.

        Raises
        ------
        LimitError
            If it is larger than ``MAX_BYTES``.
        """
        name = secrets.token_hex(12)
        path = self._folder / name / "photo"
        path.parent.mkdir()
        try:
            await _write(path, parts)
        except BaseException:
            shutil.rmtree(path.parent, ignore_errors=True)
            raise
        self._photos[name] = path
        while len(self._photos) > MOST_PHOTOS:
            self.drop(next(iter(self._photos)))
        return name, path

    def path(self, name: object) -> Path:
        """The path of a photo.

        Raises
        ------
        InputError
            If no photo of that name is on the shelf.
        """
        if not isinstance(name, str) or name not in self._photos:
            raise InputError("this photo is no longer kept here; drop it on the page again")
        self._photos.move_to_end(name)
        return self._photos[name]

    def drop(self, name: str) -> None:
        """Take a photo and all made of it off the shelf."""
        shutil.rmtree(self._photos.pop(name).parent, ignore_errors=True)

    def clear(self) -> None:
        """Remove everything."""
        self._photos.clear()
        shutil.rmtree(self._folder, ignore_errors=True)


async def _write(path: Path, parts: AsyncIterator[bytes]) -> None:
    size = 0
    with path.open("wb") as stream:
        async for part in parts:
            size += len(part)
            if size > MAX_BYTES:
                raise LimitError(
                    f"the photo has more than {MAX_BYTES // 1_000_000} MB; save it smaller"
                )
            stream.write(part)
