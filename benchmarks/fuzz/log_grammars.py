"""Grammars of a run log: cells that were changed, words that come back, bytes of a packed log."""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile
from functools import cache, partial
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from oxhue.optics.log.exchange import LogRows, read_rows, write_rows
from oxhue.optics.log.log import Log
from oxhue.optics.log.records import LoggedPiece, LoggedRun, LoggedSetup, Noted
from oxhue.page.questions import log_file

from .atoms import json_value, seldom
from .text_grammars import refused_or

_LETTERS = "abc=+-@'\"\\,;\t\n\r\x0b\x1c\x85\u2028\u2029\u202e\ufeffé💥 "
Words = tuple[str, str]
Cell = tuple[str, object]


def draw_words(random: Random) -> Words:
    """Words of any letters, and the ending of the file that they go through."""
    words = "".join(random.choice(_LETTERS) for _ in range(random.randint(1, 8)))
    return f".{words}.", random.choice((".jsonl", ".csv"))


def check_words(drawn: Words) -> bool:
    """An export holds them as they were said, wherever they stand."""
    words, ending = drawn
    noted = Noted("remark", words)
    run = LoggedRun(
        1, "jar", 1, "chamber", "2026-03-02T10:00:00+01:00", words, {"mask": words}, words,
        (LoggedPiece("dial", {}, (noted,)),), {},
    )  # fmt: skip
    rows = LogRows((LoggedSetup("jar", 1, "chamber", {"note": words}),), (run,))
    with TemporaryDirectory(prefix="oxhue-fuzz-") as folder:
        path = Path(folder) / f"all{ending}"
        write_rows(path, rows)
        back = read_rows(path)
    assert [one.to_dict() for one in (*back.setups, *back.runs)] == [
        one.to_dict() for one in (*rows.setups, *rows.runs)
    ], f"{words!r} came back otherwise from {ending}"
    return True


_COLUMNS = (
    "setup.name", "setup.version", "setup.facts", "run.at", "run.planned", "run.done",
    "run.remarks", "run.plan", "piece.name", "piece.facts", "observation.what", "observation.text",
)  # fmt: skip


def draw_cell(random: Random) -> Cell:
    """A cell of a log with something else in it: JSON of any kind, cut or endless, or bytes."""
    value: object = json.dumps(json_value(random))
    if seldom(random, 0.2):
        value = random.choice((b"\xff\x00", "9" * 5_000, "{" * 999, "", 2**62, -1, 0.5))
    elif seldom(random, 0.3):
        value = str(value)[: random.randint(0, 9)]
    return random.choice(_COLUMNS), value


@cache
def _log() -> bytes:
    """A small log, as its file."""
    with TemporaryDirectory(prefix="oxhue-fuzz-") as folder:
        path = Path(folder) / "log.sqlite"
        with Log.open(path) as log:
            log.setup("jar", note="old")
            log.record("jar", current="4.8A", remarks="gave gold")
            log.saw(1, piece="dial", on="glass", seen="gold")
        return path.read_bytes()


def check_cell(drawn: Cell) -> bool:
    """The log is read, or refused in a sentence."""
    (table, _, column), value = drawn[0].partition("."), drawn[1]
    with TemporaryDirectory(prefix="oxhue-fuzz-") as folder:
        path = Path(folder) / "log.sqlite"
        path.write_bytes(_log())
        raw = sqlite3.connect(path)
        raw.execute("PRAGMA ignore_check_constraints = ON")
        raw.execute(f"UPDATE {table} SET {column} = ?", (value,))
        raw.commit()
        raw.close()
        with Log.open(path, write=False) as log:
            return refused_or(partial(log.export, Path(folder) / "all.jsonl")) is not None


def draw_packed(random: Random) -> bytes:
    """A packed log of which bytes were changed, left out or doubled."""
    stream = io.BytesIO()
    with zipfile.ZipFile(
        stream, "w", random.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))
    ) as made:
        made.writestr(log_file.ROWS_NAME, "".join(random.choice("ab{}\n") for _ in range(200)))
    body = bytearray(stream.getvalue())
    for _ in range(random.choice((0, 1, 1, 2, 4))):
        at = random.randrange(len(body))
        body[at : at + random.randint(0, 3)] = random.randbytes(random.randint(0, 3))
    return bytes(body)


def check_packed(body: bytes) -> bool:
    """It is unpacked, or refused in a sentence."""
    with TemporaryDirectory(prefix="oxhue-fuzz-") as folder:
        file, rows = Path(folder) / "packed", Path(folder) / log_file.ROWS_NAME
        file.write_bytes(body)
        refused_or(partial(log_file._unpack, file, rows))
        return rows.exists()
