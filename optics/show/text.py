"""Answers as text for a terminal: one line first, then the figures, always in words too."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, TextIO

from ..gauge.result import Estimate
from .plain import data_sets

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

_MOST_ROWS = 40
_INDEX_LINES_NM = (450.0, 550.0, 650.0)


def console(stream: TextIO | None = None) -> Console:
    """A console that colours only where the terminal can, and never wraps a pipe's lines."""
    from rich.console import Console

    stream = stream or sys.stdout
    width = None if stream.isatty() else 100
    # Names of files and stacks may hold brackets and colons, which are not markup.
    return Console(
        file=stream, highlight=False, markup=False, emoji=False,
        soft_wrap=not stream.isatty(), width=width,
    )  # fmt: skip


def format_swatch(hex_value: str, name: str, out: Console) -> Text:
    """Hex and name of a colour, behind a patch of it where the terminal shows colours."""
    from rich.text import Text

    words = f"{hex_value}  {name}"
    if out.color_system is None:
        return Text(words)
    return Text.assemble(("      ", f"on {hex_value}"), " ", words)


def format_angle(angle_deg: float) -> str:
    """An angle of incidence as people say it."""
    return f"{angle_deg:g}° from square on" if angle_deg else "square on"


def show_estimate(estimate: Estimate, out: Console) -> None:
    """Print a thickness with its candidates."""
    out.print(_verdict(estimate))
    out.print()
    table = new_table(
        "thickness", "90 % within", "probability", "order", "film", "colour square on"
    )
    for one in estimate.candidates:
        table.add_row(
            f"{one.thickness_nm:.0f} nm",
            format_interval(one.interval90_nm),
            format_percent(one.probability),
            format_ordinal(one.order),
            one.film,
            format_swatch(one.srgb_hex, one.name, out),
        )
    out.print(table)
    low, high = estimate.interval90_nm
    if len(estimate.candidates) > 1:
        out.print(f"All candidates together: 90 % within {low:.0f} to {high:.0f} nm.")
    else:
        out.print(
            f"Index times thickness: {estimate.optical_thickness_nm:.0f} nm, 90 % within "
            f"{format_interval(estimate.optical_interval90_nm)}."
        )
    if len(estimate.films) > 1:
        shares = ", ".join(
            f"{name} {format_percent(share)}"
            for name, share in sorted(estimate.films.items(), key=lambda item: -item[1])
        )
        out.print(f"Film: {shares}.")
    for reading in estimate.readings:
        read = reading.colour
        if read is not None and str(read.srgb_hex)[1:] not in reading.text.casefold():
            patch = format_swatch(str(read.srgb_hex), str(read.name), out)
            out.print(f"Read from {reading.text}, as {reading.how}: ", patch)
    for warning in estimate.warnings:
        out.print(f"Mind: {warning}.")
    out.print(f"Next: {estimate.next_check}.")
    out.print(f"Optical data: {', '.join(data_sets(estimate))}.")


def _verdict(estimate: Estimate) -> str:
    seen = " and ".join(f"'{reading.text}'" for reading in estimate.readings)
    if not estimate.fits:
        return (
            f"Nothing fits: no film in question shows {seen} (only {100 * estimate.fit_p:.2g} % of "
            f"simulated readings are as unusual). The nearest, not to be trusted:"
        )
    best, *others = estimate.candidates
    sentence = (
        f"About {best.thickness_nm:.0f} nm ({format_ordinal(best.order)} order, "
        f"{format_percent(best.probability)})"
    )
    if others:
        rest = " or ".join(
            f"{one.thickness_nm:.0f} nm ({format_percent(one.probability)})" for one in others
        )
        sentence += f"; it could also be {rest}"
    return f"{sentence}: that is what {seen} is compatible with."


def new_table(*columns: str) -> Table:
    """An empty table with a rule under its heads; on a narrow terminal, one line for each cell."""
    from rich.box import SIMPLE_HEAD

    from .old_narrow import FittingTable

    table = FittingTable(box=SIMPLE_HEAD, pad_edge=False)
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def format_percent(share: float) -> str:
    """A probability in words that never claims certainty."""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100.0 * share:.0f} %"


def format_interval(interval: tuple[float, float]) -> str:
    """An interval of thickness in words."""
    return f"{interval[0]:.0f} to {interval[1]:.0f} nm"


def format_ordinal(order: int) -> str:
    """1st, 2nd, 3rd ..."""
    return {1: "1st", 2: "2nd", 3: "3rd"}.get(order, f"{order}th")
