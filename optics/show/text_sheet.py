"""The run sheet as text: the steps, what the witness shows after each, what to mind."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from ..colour.colour import Colour
from ..deposition.geometry import Piece
from ..deposition.residual_gas import MetalVerdict
from ..run_sheet.replan import Replan
from ..run_sheet.run_sheet import RunSheet, Step
from .text import format_angle, format_percent, format_swatch, new_table

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

_MOST_LOOKS = 4  # of one layer, the last among them


def show_sheet(sheet: RunSheet, out: Console) -> None:
    """Print a run sheet."""
    out.print(_answer(sheet))
    out.print(_conditions(sheet))
    out.print()
    _show_steps(sheet, out)
    if sheet.replan is not None:
        out.print(_change(sheet.replan))
    out.print(_evenness(sheet))
    if sheet.chamber.getter is not None:
        out.print(
            f"The getter run, at its best, keeps the walls drawing gas for "
            f"{format_duration(sheet.fresh_s)}; it is counted for that long."
        )
    out.print()
    out.print(
        f"Witness: {_slide(sheet)}; light {sheet.viewing.light}, {sheet.viewing.observer}° "
        f"observer, {format_angle(sheet.angle_deg)}."
    )
    _show_witness(sheet, out)
    for step in sheet.steps:
        if step.remarks and not step.made:
            out.print(f"Step {step.number}, {step.material}:")
            for remark in step.remarks:
                out.print(f"  - {remark}")
    for caution in sheet.cautions:
        out.print(f"Caution. {caution}")


def format_duration(seconds: float) -> str:
    """A time as people say it."""
    if not math.isfinite(seconds):
        return "any time"
    if seconds < 100.0:
        return f"{seconds:.3g} s"
    return f"{seconds / 60.0:.3g} min" if seconds < 6000.0 else f"{seconds / 3600.0:.3g} h"


def _answer(sheet: RunSheet) -> str:
    left = [step for step in sheet.steps if not step.made]
    layers = "1 layer" if len(left) == 1 else f"{len(left)} layers"
    time = format_duration(sum(step.needs.time_s for step in left))
    doubtful = [
        f"step {step.number} ({step.material}) is likelier {step.needs.metal.verdict} than metal"
        for step in left
        if step.needs.metal is not None and not step.needs.metal.stays_metal
    ]
    chances = [step.needs.metal.metal for step in left if step.needs.metal is not None]
    vacuum = "; ".join(doubtful) or "no metal to lose to residual gas"
    if chances and not doubtful:
        vacuum = f"what is metal stays metal, {100 * min(chances):.0f} % likely"
    look = f"{sheet.finished.name}, {sheet.finished.srgb_hex}"
    return f"{layers} to lay, {time} of growth, ending {look}: {vacuum}."


def _conditions(sheet: RunSheet) -> str:
    setup, chamber = sheet.setup, sheet.chamber
    rates = dict.fromkeys(f"{step.needs.rate_nm_s:g} nm/s" for step in sheet.steps)
    gas = {"water": "mostly water", "air": "air from a leak"}.get(chamber.mixture, chamber.mixture)
    plastic = ", plastic near the piece" if chamber.plastic else ""
    return (
        f"{setup.source.kind.capitalize()} source at {setup.placement.distance_mm:g} mm, "
        f"{' and '.join(rates)}, residual gas {chamber.pressure_mbar:.2g} mbar ({gas}{plastic}), "
        f"tooling factor {setup.tooling:g}."
    )


def _show_steps(sheet: RunSheet, out: Console) -> None:
    table = new_table(
        "step", "lay", "thickness", "charge", "time", "source", "O per metal atom", "stays metal"
    )
    for step in sheet.steps:
        needs = step.needs
        table.add_row(
            f"{step.number}{' (made)' if step.made else ''}",
            f"{step.material}{', back' if step.face == 'back' else ''}",
            f"{step.thickness_nm:.1f} nm",
            "" if step.made or needs.mass_g is None else _mass(needs.mass_g),
            "" if step.made else format_duration(needs.time_s),
            "" if step.made or needs.source is None else f"{needs.source.temperature_C:.0f} °C",
            "" if step.made or needs.metal is None else f"{needs.metal.offered:.2g}",
            "" if step.made or needs.metal is None else _chances(needs.metal),
        )
    out.print(table)
    for step in sheet.steps:
        wire = step.needs.wire
        if wire is not None and wire.current_A is not None and not step.made:
            out.print(
                f"Step {step.number}: {wire.wire} wire of {sheet.setup.heater.wire_mm:g} mm at "
                f"{wire.current_A:.1f} A, {wire.power_W:.0f} W."
            )


def _show_witness(sheet: RunSheet, out: Console) -> None:
    table = new_table("step", "at", "front", "Y %", "back", "through", "ohm/sq")
    for step in sheet.steps:
        seen = step.witness
        count = seen.thickness_nm.size
        picked = np.unique(np.linspace(0, count, min(count, _MOST_LOOKS) + 1)[1:].round() - 1)
        for i in picked.astype(int).tolist():
            table.add_row(
                f"{step.number} {step.material}",
                f"{seen.thickness_nm[i]:.1f} nm",
                _patch(seen.reflected, i, out),
                f"{seen.reflected.xyz[i, 1]:.1f}",
                _patch(seen.reflected_back, i, out),
                _patch(seen.transmitted, i, out),
                _ohms(step, i),
            )
    out.print(table)


def _patch(seen: Colour | None, i: int, out: Console) -> Text | str:
    if seen is None:
        return "opaque"
    return format_swatch(str(np.asarray(seen.srgb_hex)[i]), str(np.asarray(seen.name)[i]), out)


def _ohms(step: Step, i: int) -> str:
    """The span of sheet resistance, from clean and well joined to foul and late to join."""
    span = step.witness.ohms_range
    if span is None:
        return ""
    low, high = (f"{ohm:.2g}" if math.isfinite(ohm) else "open" for ohm in span[i])
    return low if low == high else f"{low} to {high}"


def _chances(metal: MetalVerdict) -> str:
    parts = {"metal": metal.metal, "grey": metal.grey, "oxide": metal.oxide}
    return ", ".join(
        f"{name} {format_percent(share)}" for name, share in parts.items() if share >= 0.01
    )


def _mass(mass_g: float) -> str:
    return f"{mass_g:.3g} g" if mass_g >= 0.1 else f"{1e3 * mass_g:.3g} mg"


def _change(change: Replan) -> str:
    return (
        f"After what was made: colour difference from the plan {change.delta_e_unchanged:.1f} if "
        f"the rest stays as it was, {change.delta_e:.1f} with the rest as listed (CIEDE2000); "
        f"reflectance off by {100.0 * change.rms_unchanged:.1f} and {100.0 * change.rms:.1f} % "
        f"on average."
    )


def _evenness(sheet: RunSheet) -> str:
    even = sheet.uniformity
    return (
        f"Over {_size(sheet.setup.piece)}: ±{100.0 * even.half_spread:.1f} %, "
        f"{100.0 * even.lowest:.1f} to {100.0 * even.highest:.1f} % of the middle; at its thinnest "
        f"the piece is {sheet.rim.name}, {sheet.rim.srgb_hex} (colour difference "
        f"{sheet.rim_delta_e:.1f})."
    )


def _size(piece: Piece) -> str:
    if piece.round and piece.width_mm == piece.height_mm:
        return f"{piece.width_mm:g} mm across"
    return f"{piece.width_mm:g} by {piece.height_mm:g} mm"


def _slide(sheet: RunSheet) -> str:
    bare = sheet.bare
    thick = "" if bare.slab_nm is None else f", {bare.slab_nm / 1e6:g} mm"
    return f"{bare.substrate.label}{thick}"
