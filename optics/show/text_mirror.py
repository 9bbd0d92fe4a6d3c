"""Designs as text for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..design.design import Design, Designs
from ..design.merit import GoalResult
from ..films.stack import Stack
from .old_html import CAUTIONS
from .text import format_angle, format_swatch, new_table

if TYPE_CHECKING:
    from rich.console import Console


def show_designs(found: Designs, out: Console) -> None:
    """Print the best design in one line, then all of them, then how the best meets its goals."""
    best = found.designs[0]
    verdict = "meets every goal" if best.met else "comes nearest, but misses a goal"
    out.print(f"{format_short_stack(best.piece)}: {verdict}{_bearing(best, found)}.")
    out.print()
    table = new_table("", "R mean", "R least", "miss", "yield", "layers", "total", "colour")
    for i, one in enumerate(found.designs, 1):
        table.add_row(
            str(i), f"{100 * one.mean_R:.1f} %", f"{100 * one.min_R:.1f} %",
            "none" if one.met else f"{one.merit:.2g}", _yield(one), str(one.layers),
            f"{one.total_nm:.0f} nm", format_swatch(one.srgb_hex, one.name, out),
        )  # fmt: skip
    out.print(table)
    for i, one in enumerate(found.designs, 1):
        out.print(f"{i}  {one.stack}")
    out.print()
    _show_goals(best, out)
    _show_conditions(found, out)


def format_short_stack(stack: Stack) -> str:
    """A stack by plain names and tenths of a nanometre, for reading rather than for typing."""
    films = [
        f"{layer.medium.label.split('(')[0]} {float(layer.thickness_nm):.1f} nm"
        for layer in stack.layers
    ]
    return " / ".join([*films, stack.substrate.label.split("(")[0]])


def _bearing(design: Design, found: Designs) -> str:
    if design.tolerance is None:
        return ""
    share = 100.0 * design.tolerance.yield_share
    return f"; with errors of {found.errors}, {share:.0f} % of pieces do"


def _yield(design: Design) -> str:
    tolerance = design.tolerance
    if tolerance is None:
        return "not asked"
    return f"{100 * tolerance.yield_share:.0f} ± {100 * tolerance.yield_error:.1g} %"


def _show_goals(design: Design, out: Console) -> None:
    table = new_table("goal", "met", "least", "mean", "most", "worst miss")
    for result in design.results:
        figures = (_figure(value, result) for value in (result.least, result.mean, result.most))
        table.add_row(
            result.goal, "yes" if result.met else "no", *figures,
            _miss(result),
        )  # fmt: skip
    out.print(table)
    tolerance = design.tolerance
    if tolerance is not None and tolerance.weakest is not None:
        layer = design.piece.layers[tolerance.weakest]
        out.print(
            f"The layer that matters most is number {tolerance.weakest + 1} from the light, "
            f"{layer.medium.label} {float(layer.thickness_nm):.1f} nm."
        )


def _figure(value: float, result: GoalResult) -> str:
    return f"{value:.1f} {result.unit}" if result.unit == "ΔE" else f"{value:.2f} %"


def _miss(result: GoalResult) -> str:
    unit = "ΔE" if result.unit == "ΔE" else "points"
    return (
        f"none, {result.spare:.2g} {unit} to spare" if result.met else f"{result.miss:.2g} {unit}"
    )


def _show_conditions(found: Designs, out: Console) -> None:
    low, high = found.designs[0].band_nm
    band = f"{low:g} nm" if low == high else f"{low:g} to {high:g} nm"
    out.print(f"R square on, {band}. Layers are listed from the light inward.")
    out.print(
        f"Colour under {found.viewing.light}, {found.viewing.observer}° observer, "
        f"{format_angle(found.angle_deg)}."
    )
    if found.errors is not None:
        samples = found.designs[0].tolerance.samples if found.designs[0].tolerance else 0
        out.print(f"Yield: {samples:,} pieces, errors as standard deviations, seed {found.seed}.")
    for note in found.notes:
        out.print(f"Mind: {note}.")
    for caution in CAUTIONS[3:]:
        out.print(f"Caution. {caution}")
