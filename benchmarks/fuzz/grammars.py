"""Inputs by their structure: a grammar for each kind of input, and what its readers must do.

A reader may answer, then with what the input means, or raise ``InputError`` with one sentence;
anything else is a bug of ours. Hypothesis draws from the grammars in the tests and shrinks what
fails. ``python -m benchmarks.fuzz.grammars notations=1000000 goals=100000`` draws plainly numbered
ones, quickly, goes on where the record stops, and keeps the counts in ``benchmarks/fuzz.md``;
``notations:17`` shows and checks one draw again.
"""

from __future__ import annotations

import hashlib
import re
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from random import Random
from typing import Any

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from . import face_grammars as faces
from . import log_grammars as runs
from . import photo_grammars as photos
from . import saved_grammars as kept
from . import table_grammars as tables
from . import text_grammars as texts

RECORD = Path(__file__).parents[1] / "fuzz.md"
_EVERY = 5_000
_ROW = re.compile(
    r"\| \S+ \| (?P<name>[a-z ]+) \| (?P<state>\w{8}) \| 0\.\.(?P<last>\d+) \| (?P<read>[\d,]+) "
    r"\| (?P<failed>\d+) \| (?P<seconds>[\d.]+) s \|"
)


@dataclass(frozen=True)
class Grammar:
    """How an input is drawn, and a check that tells whether it was answered and not refused."""

    draw: Callable[[Random], Any]
    check: Callable[[Any], bool]


GRAMMARS = {
    "notations": Grammar(texts.draw_notation, texts.read_notation),
    "goals": Grammar(texts.draw_goal, texts.read_goal),
    "quantities": Grammar(texts.draw_quantity, texts.read_quantity),
    "meters": Grammar(texts.draw_meter, texts.read_meter),
    "colours": Grammar(texts.draw_colour, texts.read_colour),
    "readings": Grammar(tables.draw_readings, tables.check_readings),
    "pieces": Grammar(tables.draw_pieces, tables.check_pieces),
    "heat logs": Grammar(tables.draw_heat_log, tables.check_heat_log),
    "spectra": Grammar(tables.draw_spectrum, tables.check_spectrum),
    "constants": Grammar(tables.draw_constants, tables.check_constants),
    "photos": Grammar(photos.draw_photo, photos.check_photo),
    "saved": Grammar(kept.draw_saved, kept.check_saved),
    "jars": Grammar(kept.draw_jar, kept.check_jar),
    "logs": Grammar(kept.draw_log, kept.check_log),
    "stacks": Grammar(kept.draw_stack, kept.check_stack),
    "memory": Grammar(kept.draw_memory, kept.check_memory),
    "words": Grammar(runs.draw_words, runs.check_words),
    "cells": Grammar(runs.draw_cell, runs.check_cell),
    "packed logs": Grammar(runs.draw_packed, runs.check_packed),
    "names": Grammar(faces.draw_name, faces.check_name),
    "titles": Grammar(faces.draw_name, faces.check_name_in_chart),
    "cookies": Grammar(faces.draw_cookies, faces.check_cookies),
    "fields": Grammar(faces.draw_field, faces.check_field),
    "hosts": Grammar(faces.draw_host, faces.check_host),
    "paths": Grammar(faces.draw_path, faces.check_path),
}


def draw_many(name: str, count: int, start: int = 1) -> None:
    """Let hypothesis draw so many of a grammar; what fails is shrunk and raised."""
    grammar = GRAMMARS[name]

    @seed(start)
    @settings(
        max_examples=count, deadline=None, database=None, report_multiple_bugs=False,
        phases=(Phase.generate, Phase.shrink), suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(st.randoms(use_true_random=False))
    def read(random: Random) -> None:
        grammar.check(grammar.draw(random))

    read()


def draw_one(name: str, number: int) -> Any:
    """The draw of a number: the same ones as long as the grammars stay as they are."""
    return GRAMMARS[name].draw(Random(f"{name} {number}"))


def draw_plainly(name: str, first: int, count: int) -> tuple[int, list[tuple[int, str]]]:
    """Draws of a row of numbers: how many were answered, and the numbers and faults that failed."""
    answered, failed = 0, []
    for number in range(first, first + count):
        try:
            answered += GRAMMARS[name].check(draw_one(name, number))
        except Exception as error:
            failed.append((number, f"{type(error).__name__}: {error}"[:200]))
    return answered, failed


def state(name: str) -> str:
    """A mark of a grammar as it is: draws of another state are other draws."""
    of_draws = GRAMMARS[name].draw.__module__.rpartition(".")[2]
    sources = [Path(__file__).with_name(f"{one}.py") for one in ("atoms", of_draws)]
    return hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()[:8]


def _recorded(name: str) -> re.Match[str] | None:
    """The row of a grammar in its present state."""
    rows = map(_ROW.fullmatch, RECORD.read_text(encoding="utf-8").splitlines())
    return next(
        (row for row in rows if row and (row["name"], row["state"]) == (name, state(name))), None
    )


def _keep(row: str, old: re.Match[str] | None) -> None:
    text = RECORD.read_text(encoding="utf-8")
    text = text.replace(old[0], row) if old else f"{text}{row}\n"
    RECORD.write_text(text, encoding="utf-8")


def draw_up_to(name: str, count: int) -> None:
    """Draw on until so many are recorded; the record is kept after every few thousand."""
    while True:
        old = _recorded(name)
        first = int(old["last"]) + 1 if old else 0
        if first >= count:
            return
        begun = time.process_time()
        answered, failed = draw_plainly(name, first, min(_EVERY, count - first))
        seconds = time.process_time() - begun
        for number, said in failed:
            print(f"{name}:{number}: {said}", flush=True)
        before = (
            [float(old[one].replace(",", "")) for one in ("read", "failed", "seconds")]
            if old
            else [0] * 3
        )
        last = min(first + _EVERY, count) - 1
        _keep(
            f"| {date.today()} | {name} | {state(name)} | 0..{last} | {before[0] + answered:,.0f} "
            f"| {before[1] + len(failed):.0f} | {before[2] + seconds:.1f} s |",
            old,
        )


def main() -> None:
    """Draw what is asked for, or show one draw."""
    for asked in sys.argv[1:]:
        name, mark, count = asked.partition("=" if "=" in asked else ":")
        if mark == ":":
            drawn = draw_one(name, int(count))
            print(repr(drawn)[:3_000], GRAMMARS[name].check(drawn))
        else:
            draw_up_to(name, int(count))


if __name__ == "__main__":
    main()
