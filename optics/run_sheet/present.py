"""The run sheet as a document: the steps, what the witness shows after each, what to mind."""

from __future__ import annotations

import math

import numpy as np

from ..colour.colour import Colour
from ..deposition.geometry import Piece
from ..deposition.residual_gas import MetalVerdict
from ..report.document import (
    Block,
    Document,
    Figure,
    Heading,
    Items,
    Line,
    Note,
    Swatch,
    Table,
    present,
)
from ..report.format import (
    format_angle,
    format_percent,
    format_scientific,
)
from ..report.provenance import COMPUTED, labels_of_stack
from ..units import format_duration
from .plots import chart_sheet
from .replan import Replan
from .result import RunSheet, Step

_MOST_LOOKS = 4  # of one layer, the last among them
_IDEAL = (
    "Charge, heat and time are those of an ideal source with the tooling factor given; whether "
    "metal stays metal is a probability, for sticking and reaction are known roughly. Weigh a "
    "first run and correct the tooling factor."
)


@present.register
def document(sheet: RunSheet) -> Document:
    """The whole run."""
    caption = "Thickness over the piece, and what the witness slide shows while the run goes on."
    return Document(
        headline=_headline(sheet),
        blocks=[
            Note(_conditions(sheet)),
            _step_table(sheet),
            *_wires(sheet),
            *([] if sheet.replan is None else [_change(sheet.replan)]),
            _evenness(sheet),
            *_getter(sheet),
            f"Witness: {_slide(sheet)}; light {sheet.viewing.light}, {sheet.viewing.observer}° "
            f"observer, {format_angle(sheet.angle_deg)}.",
            _witness_table(sheet),
            *_remarks(sheet),
        ],
        cautions=sheet.cautions,
        question="How is it deposited?",
        figures=[Figure(lambda: chart_sheet(sheet), caption)],
        confidence=[COMPUTED, _IDEAL],
        sources=labels_of_stack(sheet.stack),
    )


def _headline(sheet: RunSheet) -> str:
    left = [step for step in sheet.steps if not step.made]
    layers = "1 layer" if len(left) == 1 else f"{len(left)} layers"
    time = format_duration(sum(step.needs.time_s for step in left))
    look = f"{sheet.finished.name}, {sheet.finished.srgb_hex}"
    return f"{layers}, {time} of deposition. Finished colour: {look}. {_vacuum(left)}."


def _vacuum(left: list[Step]) -> str:
    doubtful = [
        f"step {step.number} ({step.material}) is likelier {step.needs.metal.verdict} than metal"
        for step in left
        if step.needs.metal is not None and not step.needs.metal.stays_metal
    ]
    if doubtful:
        said = "; ".join(doubtful)
        return f"{said[:1].upper()}{said[1:]}"
    chances = [step.needs.metal.metal for step in left if step.needs.metal is not None]
    if not chances:
        return "No metal that residual gas could oxidise"
    films = "the film stays" if len(chances) == 1 else "the films stay"
    return f"{100 * min(chances):.0f} % chance that {films} metallic"


def _conditions(sheet: RunSheet) -> str:
    setup, chamber = sheet.setup, sheet.chamber
    rates = dict.fromkeys(f"{step.needs.rate_nm_s:g} nm/s" for step in sheet.steps)
    gas = {"water": "mostly water", "air": "air from a leak"}.get(chamber.mixture, chamber.mixture)
    plastic = ", plastic near the piece" if chamber.plastic else ""
    return (
        f"{setup.source.kind.capitalize()} source at {setup.placement.distance_mm:g} mm, "
        f"{' and '.join(rates)}, residual gas {format_scientific(chamber.pressure_mbar)} mbar "
        f"({gas}{plastic}), tooling factor {setup.tooling:g}."
    )


def _step_table(sheet: RunSheet) -> Table:
    rows: list[list[Line]] = []
    for step in sheet.steps:
        needs = step.needs
        rows.append(
            [
                f"{step.number}{' (made)' if step.made else ''}",
                f"{step.material}{', back' if step.face == 'back' else ''}",
                f"{step.thickness_nm:.1f} nm",
                "" if step.made or needs.mass_g is None else _mass(needs.mass_g),
                "" if step.made else format_duration(needs.time_s),
                "" if step.made or needs.source is None else f"{needs.source.temperature_C:.0f} °C",
                "" if step.made or needs.metal is None else f"{needs.metal.offered:.2g}",
                "" if step.made or needs.metal is None else _chances(needs.metal),
            ]
        )
    head = [
        "step", "layer", "thickness", "charge", "time", "source", "O per metal atom", "stays metal",
    ]  # fmt: skip
    return Table(head, rows, optional=["O per metal atom", "source"])


def _wires(sheet: RunSheet) -> list[Block]:
    said: list[Block] = []
    for step in sheet.steps:
        wire = step.needs.wire
        if wire is not None and wire.current_A is not None and not step.made:
            said.append(
                f"Step {step.number}: {wire.wire} wire of {sheet.setup.heater.wire_mm:g} mm at "
                f"{wire.current_A:.1f} A, {wire.power_W:.0f} W."
            )
    return said


def _getter(sheet: RunSheet) -> list[Block]:
    if sheet.chamber.getter is None:
        return []
    return [
        f"The getter run, at its best, keeps the walls drawing gas for "
        f"{format_duration(sheet.fresh_s)}; it is counted for that long."
    ]


def _witness_table(sheet: RunSheet) -> Table:
    rows: list[list[Line]] = []
    for step in sheet.steps:
        seen = step.witness
        count = seen.thickness_nm.size
        picked = np.unique(np.linspace(0, count, min(count, _MOST_LOOKS) + 1)[1:].round() - 1)
        rows += [
            [
                f"{step.number} {step.material}",
                f"{seen.thickness_nm[i]:.1f} nm",
                _swatch(seen.reflected, i),
                f"{seen.reflected.xyz[i, 1]:.1f}",
                _swatch(seen.reflected_back, i),
                _swatch(seen.transmitted, i),
                _ohms(step, i),
            ]
            for i in picked.astype(int).tolist()
        ]
    head = ["step", "at", "front", "Y %", "back", "through", "Ω per square"]
    return Table(head, rows, optional=["Y %", "back"])


def _swatch(seen: Colour | None, i: int) -> Swatch | str:
    if seen is None:
        return "opaque"
    return Swatch(str(np.asarray(seen.srgb_hex)[i]), str(np.asarray(seen.name)[i]))


def _ohms(step: Step, i: int) -> str:
    """The span of sheet resistance, from clean and well joined to foul and late to join."""
    span = step.witness.ohms_range
    if span is None:
        return ""
    low, high = (f"{ohm:.2g}" if math.isfinite(ohm) else "open" for ohm in span[i])
    return low if low == high else f"{low} to {high}"


def _remarks(sheet: RunSheet) -> list[Block]:
    said: list[Block] = []
    for step in sheet.steps:
        if step.remarks and not step.made:
            said += [Heading(f"Step {step.number}, {step.material}:"), Items(step.remarks)]
    return said


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
