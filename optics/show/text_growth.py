"""Answers about heat and oxide as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..oxidation.schedule import format_time
from ..tint.calibrate import Calibration
from ..tint.heat_strip import HeatStrip, PlateHold
from ..tint.recipes import Recipe, Recipes
from ..tint.tint import PlatePoint, Tint
from .parameters import parameter_row
from .text import format_swatch, new_table

if TYPE_CHECKING:
    from rich.console import Console


def show_tint(tint: Tint, out: Console, along_mm: float | None = None) -> None:
    """Print oxide, thickness and colour after a heat or a bath."""
    low, high = tint.interval90_nm
    colour = "" if tint.name is None else f", {tint.name}"
    out.print(
        f"{tint.metal_name}, {tint.treatment}: about {tint.thickness_nm:.0f} nm of "
        f"{tint.oxide}{colour} (90 % of pieces within {low:.0f} to {high:.0f} nm)"
    )
    out.print()
    if tint.srgb_hex is not None and tint.name is not None:
        out.print("Colour of the middle thickness: ", format_swatch(tint.srgb_hex, tint.name, out))
        chances = ", ".join(f"{s.name} {100.0 * s.probability:.0f} %" for s in tint.shades)
        out.print(f"It may turn out: {chances}.")
    out.print(
        f"Metal used up: {tint.metal_used_nm:.0f} nm; oxygen taken on: "
        f"{tint.mass_gain_ug_cm2:.1f} µg/cm². Oxide to metal by volume {tint.volume_ratio:.2f}: "
        f"{tint.stress}."
    )
    if tint.metal_left_nm is not None:
        out.print(f"Metal left of the film: {tint.metal_left_nm:.0f} nm.")
    if tint.plate:
        _show_places(tint.plate, out, along_mm)
    out.print(f"Law: {tint.law}.")
    out.print(f"Source ({tint.confidence}): {tint.source}.")
    if tint.optical_data:
        out.print(f"Optical data: {', '.join(tint.optical_data)}.")
    _show_notes(tint.warnings, tint.cautions, out)


def show_recipes(found: Recipes, out: Console) -> None:
    """Print the heats that give a colour."""
    out.print(_verdict(found))
    out.print()
    if found.recipes:
        anodic = found.recipes[0].volts is not None
        head = ["volts"] if anodic else ["temperature", "time"]
        table = new_table(*head, "oxide", "order", "colour", "chance", "±10 °C, ±10 % time")
        for one in found.recipes:
            table.add_row(
                *_setting(one),
                f"{one.thickness_nm:.0f} nm",
                str(one.order),
                format_swatch(one.srgb_hex, one.name, out),
                f"{100.0 * one.chance:.0f} %",
                _touch(one),
            )
        out.print(table)
    out.print(f"Source ({found.confidence}): {found.source}.")
    _show_notes(found.warnings, found.cautions, out)


def _verdict(found: Recipes) -> str:
    near = found.nearest
    if not found.attainable:
        return (
            f"{found.oxide} on {found.metal_name} does not show {found.want!r}; the nearest is "
            f"{near.name} ({near.srgb_hex}) at {near.thickness_nm:.0f} nm, "
            f"{near.delta_e:.0f} ΔE away"
        )
    if not found.recipes:
        return f"no heat in reach gives {found.want!r} on {found.metal_name}"
    best = found.recipes[0]
    how = " for ".join(_setting(best))
    return (
        f"{found.want} on {found.metal_name}: {how} ({best.thickness_nm:.0f} nm of {found.oxide}, "
        f"order {best.order}); a piece comes out so with a chance of {100.0 * best.chance:.0f} %"
    )


def _setting(one: Recipe) -> list[str]:
    if one.volts is not None:
        return [f"{one.volts:.1f} V"]
    return [f"{one.temperature_C:.0f} °C", format_time(60.0 * (one.time_min or 0.0))]


def _touch(one: Recipe) -> str:
    if one.spread is None:
        return "-"
    touch = one.spread
    return f"{touch.rating} ({touch.ten_degrees_de:.0f}, {touch.ten_percent_de:.0f} ΔE)"


def show_plate(held: PlateHold, out: Console, along_mm: float | None) -> None:
    """Print how to hold a plate."""
    out.print(
        f"{held.want} along {held.metal_name}: one end at {held.first_C:.0f} °C, the other at "
        f"{held.last_C:.0f} °C, for {format_time(60.0 * held.time_min)}"
    )
    out.print()
    _show_places(held.points, out, along_mm)
    _show_notes(held.warnings, held.cautions, out)


def _show_places(points: Sequence[PlatePoint], out: Console, along_mm: float | None) -> None:
    table = new_table("place", "temperature", "oxide", "90 % within", "colour")
    for one in points:
        low, high = one.interval90_nm
        place = f"{100.0 * one.position:.0f} %"
        if along_mm is not None:
            place = f"{one.position * along_mm:.0f} mm"
        colour = "-" if one.srgb_hex is None else format_swatch(one.srgb_hex, one.name or "", out)
        table.add_row(
            place, f"{one.temperature_C:.0f} °C", f"{one.thickness_nm:.0f} nm",
            f"{low:.0f} to {high:.0f} nm", colour,
        )  # fmt: skip
    out.print(table)


def show_strip(strip: HeatStrip, out: Console) -> None:
    """Print the colours of a metal over temperature and time."""
    from rich.text import Text

    out.print(f"{strip.metal_name}: typical colours of {strip.oxide} over temperature and time")
    out.print()
    table = new_table("°C", *(format_time(60.0 * minutes) for minutes in strip.time_min))
    for c, temperature in enumerate(strip.temperature_C):
        cells = []
        for m in range(strip.time_min.size):
            words = f"{strip.name[c, m]} {strip.thickness_nm[c, m]:.0f}"
            patch = ("  ", f"on {strip.srgb_hex[c, m]}")
            coloured = out.color_system is not None
            cells.append(Text.assemble(patch, " ", words) if coloured else Text(words))
        table.add_row(f"{temperature:.0f}", *cells)
    out.print(table)
    out.print("Names are followed by nanometres of oxide.")
    out.print(f"Source: {strip.source}.")
    _show_notes(strip.warnings, strip.cautions, out)


def show_learned(learned: Calibration, out: Console) -> None:
    """Print what test pieces say about a kiln."""
    kiln = f" {learned.kiln_name}" if learned.kiln_name else ""
    out.print(
        f"{learned.kiln.pieces} test pieces of {learned.metal_name}: this kiln{kiln} is "
        f"{learned.pace:.2g} times as fast as the shipped law; a prediction for "
        f"{learned.width_heat} is {100.0 * learned.width_ratio:.0f} % as wide as before"
    )
    out.print()
    table = new_table("piece", "heat", "came out", "read as", "law says", "90 % within", "p")
    for one in learned.residuals:
        low, high = one.interval90_nm
        table.add_row(
            one.id, one.heat, one.outcome, f"{one.thickness_nm:.0f} nm",
            f"{one.predicted_nm:.0f} nm", f"{low:.0f} to {high:.0f} nm", f"{one.fit_p:.2f}",
        )  # fmt: skip
    out.print(table)
    table = new_table("the law", "fitted", "90 % within", "shipped", "90 % within")
    several = len(learned.kiln.metal.regimes) > 1
    for item in learned.parameters:
        table.add_row(*parameter_row(item, several))
    out.print(table)
    out.print(f"Next test piece: {learned.next_piece.words}.")
    out.print(f"Law: {learned.law}; before the pieces: {learned.source}.")
    _show_notes(learned.warnings, learned.cautions, out)


def _show_notes(warnings: Sequence[str], cautions: Sequence[str], out: Console) -> None:
    for warning in warnings:
        out.print(f"Note: {warning.rstrip('.')}.")
    out.print()
    for caution in cautions:
        out.print(f"Caution. {caution}")
