"""Estimates of many readings: as JSON, as CSV, as a table for people."""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING, Any

from ..gauge.batch import RowEstimate
from ..gauge.joint.piece import PieceEstimate
from .plain import candidate_plain
from .text import format_interval, format_ordinal, format_percent, format_swatch, new_table

if TYPE_CHECKING:
    from rich.console import Console

_COLUMNS = (
    "id", "seen", "thickness_nm", "low90_nm", "high90_nm", "probability", "order", "film",
    "srgb_hex", "name", "fits", "fit_p",
)  # fmt: skip
_MOST_ROWS = 200


def many_plain(rows: list[RowEstimate]) -> dict[str, Any]:
    """All estimates as plain data."""
    return {"readings": [row_plain(row) for row in rows]}


def row_plain(row: RowEstimate) -> dict[str, Any]:
    """One estimate as plain data."""
    return {
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
        f"{len(rows)} reading{'s' if len(rows) != 1 else ''}"
        + (f", {lost} of which no film in question fits" if lost else "")
    )
    out.print()
    table = new_table(
        "id", "seen", "thickness", "90 % within", "order", "likely", "colour square on"
    )
    for row in rows[:_MOST_ROWS]:
        best = row.candidates[0]
        table.add_row(
            row.id,
            row.text,
            f"{row.thickness_nm:.0f} nm",
            format_interval(row.interval90_nm),
            format_ordinal(best.order),
            format_percent(best.probability) if row.fits else "does not fit",
            format_swatch(best.srgb_hex, best.name, out),
        )
    out.print(table)
    if len(rows) > _MOST_ROWS:
        out.print(f"The first {_MOST_ROWS} of {len(rows)}; --json or --csv gives all.")


def piece_plain(piece: PieceEstimate) -> dict[str, Any]:
    """Estimates of the spots of one piece, and what they share."""
    joint = piece.joint
    shared = {
        "gain": joint.gain,
        "white_balance_a": joint.wb_a,
        "white_balance_b": joint.wb_b,
        "glare": joint.glare,
        "angle_deg": joint.angle_deg,
        "index_error": joint.index_error,
    }
    return many_plain(piece.rows) | {
        "shared": {
            name: {"value": one.value, "interval90": list(one.interval90)}
            for name, one in shared.items()
        },
        "films": joint.films,
        "converged": joint.converged,
        "effective_draws": joint.effective_draws,
        "seed": joint.seed,
    }


def show_piece(piece: PieceEstimate, out: Console) -> None:
    """Print the spots of one piece, and what they say of the photo."""
    show_many(piece.rows, out)
    joint = piece.joint
    low, high = joint.gain.interval90
    out.print(f"Exposure off by a factor of {joint.gain.value:.2f} ({low:.2f} to {high:.2f}).")
    low, high = joint.glare.interval90
    out.print(f"Glare {joint.glare.value:.0%} of the light ({low:.0%} to {high:.0%}).")
    shares = ", ".join(f"{name} {format_percent(share)}" for name, share in joint.films.items())
    out.print(f"Film: {shares}.")
    if not joint.converged:
        out.print(f"Not to be trusted: {joint.why}.")
