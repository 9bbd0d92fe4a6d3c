"""The run log as one file with its photos: a log to keep, or a piece to send, and back again."""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from ...optics.errors import InputError, LimitError
from ...optics.files.atomic import is_full
from ...optics.log.database import log_path
from ...optics.log.facts import check_photo_name
from ...optics.log.log import Log
from ...optics.log.photos import kept_name, photo_folder
from ..fields import Fields
from ..uploads import MAX_LOG_BYTES

ROWS_NAME = "log.jsonl"
MOST_FILES = 2_000
_PACKED = zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED
_DAMAGED = zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError
"""What unpacking raises where bytes of a file were changed."""


def export_question(fields: Fields, file: Path | None) -> dict[str, Any]:
    """Write the log, or one ``piece`` of it, with its photos into ``file``."""
    held = log_path()
    assert file is not None
    if not held.exists():
        raise InputError("there is nothing to save yet: record a run first")
    with TemporaryDirectory(prefix="oxhue-log-") as folder, Log.open(held, write=False) as log:
        rows = Path(folder) / ROWS_NAME
        said = log.export(rows, piece=fields.text_if("piece"))
        photos = photo_folder(rows)
        # A clock that was never set is before the earliest time that such a file can state.
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, strict_timestamps=False) as packed:
            packed.write(rows, ROWS_NAME)
            for photo in sorted(photos.iterdir()) if photos.exists() else ():
                packed.write(photo, f"{photos.name}/{photo.name}", zipfile.ZIP_STORED)
    return {"answer": said.to_dict(), "trusted": True}


def import_question(_: Fields, file: Path | None) -> dict[str, Any]:
    """Add the runs and photos of a file that was saved; JSON lines alone are taken, too."""
    if file is None:
        raise InputError("there is no log to add: open a file that “Save the log” wrote")
    with TemporaryDirectory(prefix="oxhue-log-") as folder:
        rows = Path(folder) / ROWS_NAME
        if zipfile.is_zipfile(file):
            _unpack(file, rows)
        else:
            rows.write_bytes(file.read_bytes())
        with Log.open() as log:
            return {"answer": log.import_(rows).to_dict(), "trusted": True}


def _unpack(file: Path, rows: Path) -> None:
    """The rows and photos of a packed log; whatever else it holds is refused."""
    photos = photo_folder(rows)
    photos.mkdir()
    try:
        with zipfile.ZipFile(file) as packed:
            _check_entries(packed.infolist())
            for entry in packed.infolist():
                _write(packed, entry, rows if entry.filename == ROWS_NAME else photos)
    except InputError:
        raise
    except (*_DAMAGED, OSError) as error:
        if is_full(error):
            raise
        raise InputError("this file is damaged, so nothing of it was added") from error
    if not rows.exists():
        raise InputError(f"this file holds no {ROWS_NAME}; it is not one that the page saved")


def _check_entries(entries: list[zipfile.ZipInfo]) -> None:
    """Refuse what a saved log cannot be, before any of it is unpacked."""
    if len(entries) > MOST_FILES or sum(one.file_size for one in entries) > MAX_LOG_BYTES:
        raise LimitError(
            f"the log holds more than {MOST_FILES:,} files or {MAX_LOG_BYTES / 1e6:g} MB"
        )
    if len({one.filename for one in entries}) < len(entries):
        raise InputError("this file holds two files of one name; which of them counts is not said")
    if not all(one.compress_type in _PACKED for one in entries):
        raise InputError("this file is packed in another way than the page packs a log")


def _write(packed: zipfile.ZipFile, entry: zipfile.ZipInfo, place: Path) -> None:
    """One file out of a packed log: the rows to their place, a photo into its folder."""
    if not place.is_dir():
        _copy(packed, entry, place)
        return
    folder, _, name = entry.filename.rpartition("/")
    if folder != place.name:
        raise InputError(f"this file holds {entry.filename!r:.80}, which is no part of a log")
    check_photo_name(name, "the photo")
    _copy(packed, entry, place / name)
    if kept_name(place / name) != name:
        raise InputError("a photo in this file was changed since it was kept")


def _copy(packed: zipfile.ZipFile, entry: zipfile.ZipInfo, to: Path) -> None:
    left = MAX_LOG_BYTES
    with packed.open(entry) as source, to.open("wb") as target:
        while part := source.read(1 << 20):
            left -= len(part)
            if left < 0:  # its head may understate it
                raise LimitError(f"a file of the log has more than {MAX_LOG_BYTES / 1e6:g} MB")
            target.write(part)
