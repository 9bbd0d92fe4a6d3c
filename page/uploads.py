"""Where uploaded photos lie while the page runs: in a folder that goes when it ends."""

from __future__ import annotations

import asyncio
import secrets
import shutil
import tempfile
from collections import OrderedDict
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from ..optics.errors import InputError, LimitError

MAX_BYTES = 40_000_000
MAX_LOG_BYTES = 500_000_000
"""Of a run log with its photos, as it comes in and when it is unpacked."""
MOST_PHOTOS = 8
STILL_S = 20.0
"""Longest time in which no part of a body comes in [s]."""
BODY_S = 300.0
"""Longest time for a whole body [s]; a photo of 40 MB takes minutes on a slow network."""
MOST_COMING = 6  # at once, each in its own room: more would fill the disk before any was looked at
PREVIEW_NAME = "preview.jpg"
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

    def scratch(self) -> Path:
        """A place for a file that is made to be fetched."""
        return self._folder / secrets.token_hex()

    @asynccontextmanager
    async def receive(
        self, parts: AsyncIterator[bytes], most_bytes: int = 0
    ) -> AsyncIterator[tuple[str, Path]]:
        """A photo as it streams in: its name and path. It goes again unless it is kept.

        Raises
        ------
        LimitError
            If it is larger than ``most_bytes``; ``MAX_BYTES`` where that is 0.
        TimeoutError
            If it does not come in whole in time.
        """
        name = secrets.token_hex()
        path = self._folder / name / "photo"
        self._coming += 1
        try:
            path.parent.mkdir()
            with path.open("wb") as stream:
                await read_body(parts, stream.write, most_bytes or MAX_BYTES)
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

    def make_room(self) -> None:
        """Let all photos go that lie on the shelf, where the disk is full."""
        while self._photos:
            _, old = self._photos.popitem(last=False)
            shutil.rmtree(old.parent, ignore_errors=True)

    def holds(self, name: object) -> bool:
        """Whether a photo of that name is on the shelf."""
        return isinstance(name, str) and name in self._photos

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


async def read_body(
    parts: AsyncIterator[bytes], take: Callable[[bytes], object], most_bytes: int
) -> None:
    """Hand over the body of a request part by part.

    Raises
    ------
    LimitError
        If it has more bytes.
    TimeoutError
        If nothing comes for ``STILL_S``, or not all of it within ``BODY_S``.
    """
    loop = asyncio.get_running_loop()
    end, size = loop.time() + BODY_S, 0
    async with asyncio.timeout(STILL_S) as limit:
        async for part in parts:
            size += len(part)
            if size > most_bytes:
                raise LimitError(f"it has more than {most_bytes / 1e6:g} MB; save it smaller")
            take(part)
            limit.reschedule(min(end, loop.time() + STILL_S))
