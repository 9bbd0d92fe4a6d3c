"""Likelihoods and draws kept in the log, so that each is worked out once; never stored as facts."""

from __future__ import annotations

import json
import sqlite3
import struct
from base64 import b64decode, b64encode
from collections.abc import Iterator, MutableMapping
from zlib import crc32

MODEL = "steps 7"
"""Changed with what is computed; what an older program kept is not used."""

Kept = MutableMapping[str, list[list[float]]]
"""What was worked out before, by what was asked."""


class Derived(Kept):
    """Answers kept in a log under the version of the program and of the model.

    What a log that may not be written to cannot keep is worked out again the next time, and so is
    what another program, or a damaged disk, has changed: each is kept with its checksum.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        from importlib.metadata import version

        self._connection = connection
        self._model = f"{version('oxhue')} {MODEL}"

    def __getitem__(self, question: str) -> list[list[float]]:
        row = self._connection.execute(
            "SELECT answer FROM derived WHERE model = ? AND question = ?", (self._model, question)
        ).fetchone()
        if row is None:
            raise KeyError(question)
        check, _, text = str(row[0])[1:-1].partition(", ")
        if check != _checksum(text):
            raise KeyError(question)
        return [_unpack(row) for row in json.loads(text)]

    def __setitem__(self, question: str, answer: list[list[float]]) -> None:
        text = json.dumps([_pack(one) for one in answer])
        whole = f"[{_checksum(text)}, {text}]"
        try:
            self._connection.execute(
                "INSERT OR REPLACE INTO derived VALUES (?, ?, ?)", (self._model, question, whole)
            )
        except sqlite3.OperationalError:  # read-only, locked or full: nothing is lost
            return

    def __delitem__(self, question: str) -> None:
        self._connection.execute(
            "DELETE FROM derived WHERE model = ? AND question = ?", (self._model, question)
        )

    def __iter__(self) -> Iterator[str]:
        rows = self._connection.execute(
            "SELECT question FROM derived WHERE model = ?", (self._model,)
        ).fetchall()
        return iter([row[0] for row in rows])

    def __len__(self) -> int:
        return sum(1 for _ in self)


def _pack(numbers: list[float]) -> str:
    """Numbers with every digit, so that what was kept gives the same answer; to write thousands in
    decimals takes ten times as long."""
    return b64encode(struct.pack(f"<{len(numbers)}d", *numbers)).decode()


def _unpack(text: str) -> list[float]:
    packed = b64decode(text)
    return list(struct.unpack(f"<{len(packed) // 8}d", packed))


def _checksum(text: str) -> str:
    return str(crc32(text.encode("utf-8", "replace")))
