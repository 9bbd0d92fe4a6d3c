"""Where uploaded photos lie while the page runs: in a folder that goes when it ends."""

from __future__ import annotations

import secrets
import shutil
import tempfile
from collections import OrderedDict
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from ..optics.errors import InputError, LimitError

MAX_BYTES = 40_000_000
MOST_PHOTOS = 8
MOST_COMING = 6  # at once, each in its own room: more would fill the disk before any was looked at
MAP_FILES = {
    "map.png": "image/png",
    "histogram.png": "image/png",
    "thickness.tiff": "image/tiff",
    "summary.json": "application/json",
}


class Uploads:
    """Photos under names of our own making: nothing a browser says becomes part of a path."""

    def __init__(self) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="oxhue-page-"))
        self._photos: OrderedDict[str, Path] = OrderedDict()
        self._coming = 0

    @property
    def is_full(self) -> bool:
        """Whether no further photo can come in just now."""
        return self._coming >= MOST_COMING

    @asynccontextmanager
    async def receive(self, parts: AsyncIterator[bytes]) -> AsyncIterator[tuple[str, Path]]:
        """A photo as it streams in: its name and path. It goes again unless it is kept.

        Raises
        ------
        LimitError
            If it is larger than ``MAX_BYTES``.
        """
        name = secrets.token_hex(12)
        path = self._folder / name / "photo"
        self._coming += 1
        try:
            path.parent.mkdir()
            await _write(path, parts)
            yield name, path
        finally:
            self._coming -= 1
            if name not in self._photos:
                shutil.rmtree(path.parent, ignore_errors=True)

    def keep(self, name: str, path: Path) -> None:
        """Put a photo on the shelf; where too many lie there, the one longest unused goes."""
        self._photos[name] = path
        while len(self._photos) > MOST_PHOTOS:
            _, old = self._photos.popitem(last=False)
            shutil.rmtree(old.parent, ignore_errors=True)

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
