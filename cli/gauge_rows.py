"""``oxhue gauge --readings``: many pieces, or many spots of one."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from .options import EXIT_NO_TRUST, answer, show_progress
from .streams import say, writes_utf8

if TYPE_CHECKING:
    from ..optics.colour.conditions import ViewingConditions
    from ..optics.gauge.batch import NamedReading
    from ..optics.gauge.joint.piece import PieceEstimate
    from ..optics.gauge.result import ManyEstimates
    from .reporting import ReportTo


_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3  # their numbers in malloc.h
_KEPT_BYTES, _HEAP_BYTES = 64_000_000, 16_000_000
_MOST_NAMED = 20


@dataclass(frozen=True)
class ManyQuestion:
    """The options that say what the file is and how the answer leaves."""

    path: Path
    how: str | None
    angle: str | None
    settings: Mapping[str, float]
    one_piece: bool
    rising: bool
    in_a_row: bool
    as_csv: bool
    as_json: bool
    as_lines: bool = False
    cluster: str | None = None
    trusted: bool = False
    finish: str | None = None
    leave_out_bad: bool = False
    clear_layer: str | None = None


def gauge_rows(
    film: str,
    on: str,
    asked: ManyQuestion,
    *,
    range_nm: tuple[float, float],
    viewing: ViewingConditions,
    seed: int,
    chart: Path | None = None,
    report: ReportTo | None = None,
) -> None:
    """Gauge every row of the file; exit 3 where spots read together did not settle."""
    from ..optics.errors import InputError
    from ..optics.gauge.batch import gauge_many
    from ..optics.gauge.joint.piece import gauge_one_piece

    alone = asked.as_csv + asked.as_lines
    if alone and alone + asked.as_json + (report is not None) + (chart is not None) > 1:
        raise InputError("--csv and --lines are answers by themselves: ask for one of them alone")
    readings = _read_rows(asked)
    if asked.one_piece and asked.clear_layer is not None:
        raise InputError("--clear-layer is of pieces gauged without --one-piece")
    waited = show_progress(
        f"gauging {len(readings)} readings", asked.cluster, trusted=asked.trusted
    )
    if asked.one_piece:
        _keep_freed_memory()
        with waited:
            piece = gauge_one_piece(
                film,
                on,
                readings,
                between_nm=range_nm,
                conditions=viewing,
                finish=asked.finish,
                rising=asked.rising,
                in_a_row=asked.in_a_row,
                seed=seed,
            )
        _leave(piece, asked, chart, report, trusted=piece.converged)
        return
    if asked.rising or asked.in_a_row:
        raise InputError("--rising and --in-a-row go with --one-piece")
    with waited as tell:
        found = gauge_many(
            film, on, readings, between_nm=range_nm, conditions=viewing, finish=asked.finish,
            clear_layer=asked.clear_layer, seed=seed, report=tell,
        )  # fmt: skip
    lost = sum(not row.fits for row in found.readings)
    if lost:
        say(f"{lost} of {len(found.readings)} readings fit no film in question")
    _leave(found, asked, chart, report, trusted=lost < len(found.readings))


def _keep_freed_memory() -> None:
    """Let the C library keep some of what is freed, where it is one that can: to give megabytes
    back and take them again at every step is an eighth of the work on a piece."""
    import ctypes

    try:
        tell = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):  # not glibc
        return
    tell(_TRIM_THRESHOLD, _KEPT_BYTES)
    tell(_MMAP_THRESHOLD, _HEAP_BYTES)


def _read_rows(asked: ManyQuestion) -> list[NamedReading]:
    """The rows of the file; those that are no readings are named where they may be left out."""
    from ..optics.gauge.batch import read_readings

    left_out: list[str] | None = [] if asked.leave_out_bad else None
    readings = read_readings(
        asked.path, asked.how, asked.settings, angle=asked.angle, left_out=left_out
    )
    for said in (left_out or [])[:_MOST_NAMED]:
        say(f"left out: {said}")
    if left_out:
        say(f"rows left out: {len(left_out)}; gauged: {len(readings)}")
    return readings


def _leave(
    found: ManyEstimates | PieceEstimate,
    asked: ManyQuestion,
    chart: Path | None,
    report: ReportTo | None,
    *,
    trusted: bool = True,
) -> None:
    """The answer in the form asked for; rows leave one by one, so that no reader holds all."""
    if asked.as_csv:
        from ..optics.gauge.result import csv_of

        sys.stdout.write(csv_of(found.readings))
    elif asked.as_lines:
        escaped = not writes_utf8(sys.stdout)
        for row in found.readings:
            json.dump(row.to_dict(), sys.stdout, ensure_ascii=escaped, allow_nan=False)
            sys.stdout.write("\n")
    else:
        answer(found, asked.as_json, chart, report, trusted=trusted)
        return
    if not trusted:
        raise typer.Exit(EXIT_NO_TRUST)
