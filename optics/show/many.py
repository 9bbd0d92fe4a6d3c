"""Estimates of many readings: as JSON, as CSV, as a table for people."""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING, Any

from ..jobs.batch import RowEstimate
from .plain import candidate_plain
from .text import ordinal, percent, plain_table, span, swatch

if TYPE_CHECKING:
    from rich.console import Console

_COLUMNS = (
    "id", "seen", "thickness_nm", "low90_nm", "high90_nm", "probability", "order", "film",
    "srgb_hex", "name", "fits", "fit_p",
)  # fmt: skip
_MOST_ROWS = 200


def many_plain(rows: list[RowEstimate]) -> dict[str, Any]:
    """All estimates as plain data."""
    return {
        "readings": [
            {
                "id": row.id,
                "seen": row.text,
                "thickness_nm": row.thickness_nm,
                "interval90_nm": list(row.interval90_nm),
                "region90_nm": [list(part) for part in row.region90_nm],
                "candidates": [candidate_plain(candidate) for candidate in row.candidates],
                "fits": row.fits,
                "fit_p": row.fit_p,
                "next_check": row.next_check,
            }
            for row in rows
        ]
    }


def many_csv(rows: list[RowEstimate]) -> str:
    """One line for each estimate, the likeliest candidate of each."""
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for row in rows:
        best = row.candidates[0]
        low, high = row.interval90_nm
        writer.writerow(
            [
                row.id, row.text, f"{row.thickness_nm:.2f}", f"{low:.2f}", f"{high:.2f}",
                f"{best.probability:.4f}", best.order, best.film, best.srgb_hex, best.name,
                "yes" if row.fits else "no", f"{row.fit_p:.4f}",
            ]
        )  # fmt: skip
    return stream.getvalue()


def show_many(rows: list[RowEstimate], out: Console) -> None:
    """Print the estimates as a table."""
    lost = sum(not row.fits for row in rows)
    out.print(
        f"{len(rows)} readings" + (f", {lost} of which no film in question fits" if lost else "")
    )
    out.print()
    table = plain_table(
        "id", "seen", "thickness", "90 % within", "order", "likely", "colour square on"
    )
    for row in rows[:_MOST_ROWS]:
        best = row.candidates[0]
        table.add_row(
            row.id,
            row.text,
            f"{row.thickness_nm:.0f} nm",
            span(row.interval90_nm),
            ordinal(best.order),
            percent(best.probability) if row.fits else "does not fit",
            swatch(best.srgb_hex, best.name, out),
        )
    out.print(table)
    if len(rows) > _MOST_ROWS:
        out.print(f"The first {_MOST_ROWS} of {len(rows)}; --json or --csv gives all.")
