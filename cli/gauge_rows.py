"""``oxhue gauge --readings``: many pieces, or many spots of one."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from .options import EXIT_NO_TRUST, answer_parts, show_progress
from .streams import writes_utf8

if TYPE_CHECKING:
    from ..optics.colour.conditions import ViewingConditions
    from ..optics.gauge.batch import RowEstimate
    from .reporting import ReportTo


@dataclass(frozen=True)
class ManyQuestion:
    """The options that say what the file is and how the answer leaves."""

    path: Path
    how: str | None
    settings: Mapping[str, float]
    one_piece: bool
    rising: bool
    in_a_row: bool
    as_csv: bool
    as_json: bool
    as_lines: bool = False
    cluster: str | None = None


def gauge_rows(
    films: list[str],
    on: str,
    asked: ManyQuestion,
    range_nm: tuple[float, float],
    viewing: ViewingConditions,
    seed: int,
    report: ReportTo | None = None,
) -> None:
    """Gauge every row of the file; exit 3 where spots read together did not settle."""
    # long: options handed on, one a line
    from ..optics.errors import InputError
    from ..optics.gauge.batch import gauge_many, read_readings
    from ..optics.gauge.joint.piece import gauge_one_piece
    from ..optics.show.many import many_plain, piece_plain, show_many, show_piece
    from .reporting import provenance_of, rows_provenance

    alone = asked.as_csv + asked.as_lines
    if alone and alone + asked.as_json + (report is not None) > 1:
        raise InputError("--csv and --lines are answers by themselves: ask for one of them alone")
    readings = read_readings(asked.path, asked.how, asked.settings)
    waited = show_progress(f"gauging {len(readings)} readings", asked.cluster)
    if asked.one_piece:
        with waited:
            piece = gauge_one_piece(
                films, on, readings, range_nm, viewing, asked.rising, asked.in_a_row, seed
            )
        if asked.as_csv or asked.as_lines:
            _write_rows(piece.rows, asked.as_csv)
        else:
            answer_parts(
                lambda: piece_plain(piece),
                lambda out: show_piece(piece, out),
                asked.as_json,
                report=report,
                grounds=lambda: provenance_of(piece),
            )
        if not piece.joint.converged:
            raise typer.Exit(EXIT_NO_TRUST)
        return
    if asked.rising or asked.in_a_row:
        raise InputError("--rising and --in-a-row go with --one-piece")
    with waited as tell:
        rows = gauge_many(films, on, readings, range_nm, viewing, seed, tell)
    if asked.as_csv or asked.as_lines:
        _write_rows(rows, asked.as_csv)
        return
    answer_parts(
        lambda: many_plain(rows),
        lambda out: show_many(rows, out),
        asked.as_json,
        report=report,
        grounds=lambda: rows_provenance(films, on, readings),
    )


def _write_rows(rows: list[RowEstimate], as_csv: bool) -> None:
    """One line for each row, so that what reads them need not hold all."""
    from ..optics.show.many import many_csv, row_plain

    if as_csv:
        sys.stdout.write(many_csv(rows))
        return
    escaped = not writes_utf8(sys.stdout)
    for row in rows:
        json.dump(row_plain(row), sys.stdout, ensure_ascii=escaped, allow_nan=False)
        sys.stdout.write("\n")
