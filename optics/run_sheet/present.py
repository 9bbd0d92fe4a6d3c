"""The run sheet as a document: the steps, what the witness shows after each, what to mind."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..deposition.geometry import Piece
from ..remedies.remedies import MOST_TOLD, list_cautions, tell_oxygen, tell_remedies
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
from ..report.format import format_angle, format_percent, format_scientific, join_either
from ..report.provenance import COMPUTED, labels_of_stack
from ..units import format_digits, format_duration
from .monitoring.plots import can_be_drawn, chart_monitoring
from .monitoring.present import present_monitoring
from .plots import chart_sheet
from .replan import Replan
from .result import RunSheet, Step
from .witness import WitnessLook

_UNLIKELY = 0.01  # what is likelier than this gets a line
_MOST_LOOKS = 4  # of one layer, the last among them
_IDEAL = (
    "Charge, heat and time are those of an ideal source with the tooling factor given; whether "
    "metal stays metal is a probability, for sticking and reaction are known roughly. Weigh a "
    "first run and correct the tooling factor."
)
_OXYGEN = "O per atom in it"
_GASES = {"Ar": "argon", "N2": "nitrogen", "air": "air"}


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
            *([] if sheet.monitoring is None else present_monitoring(sheet.monitoring)),
            _evenness(sheet),
            f"Witness: {_slide(sheet)}; light {sheet.light}, {sheet.observer}° observer, "
            f"{format_angle(sheet.angle_deg)}.",
            _witness_table(sheet),
            *_remarks(sheet),
        ],
        cautions=_cautions(sheet),
        question="How is it deposited?",
        figures=[*_chart_to_follow(sheet), Figure(lambda: chart_sheet(sheet), caption)],
        confidence=[COMPUTED, _IDEAL],
        sources=labels_of_stack(sheet.films),
    )


def _chart_to_follow(sheet: RunSheet) -> list[Figure]:
    found = sheet.monitoring
    if found is None or not can_be_drawn(found):
        return []
    caption = "What the detector shows through the run: turning points, and where each layer ends."
    return [Figure(lambda: chart_monitoring(found), caption)]


def _headline(sheet: RunSheet) -> str:
    left = [step for step in sheet.layers if not step.made]
    layers = "1 layer" if len(left) == 1 else f"{len(left)} layers"
    plan = f"{layers}, {format_duration(sheet.possible.time_s)} of deposition"
    look = "Finished colour: not known, for the index of a likely state is not held."
    if sheet.finished is not None:
        look = f"Finished colour: {sheet.finished.name}, {sheet.finished.srgb_hex}."
    if not sheet.possible.as_asked:
        said = "; ".join(sheet.possible.why_not)
        plan = f"{said[:1].upper()}{said[1:]}. What the source can do: {plan}"
    return f"{plan}. {look} {_vacuum(left)}."


def _vacuum(left: Sequence[Step]) -> str:
    judged = [step for step in left if step.states is not None]
    doubtful = [
        f"step {step.step} ({step.material}) is likelier {step.state} than metal "
        f"({format_percent(_chance(step))} {step.state})"
        for step in judged
        if not step.stays_metal
    ]
    if doubtful:
        said = "; ".join(doubtful)
        return f"{said[:1].upper()}{said[1:]}"
    parts = [part for step in left for part in step.parts]
    if not judged and (mixed := [(one.material, one.states) for one in parts if one.states]):
        said = " and ".join(
            f"{format_percent(states['metal'])} chance that {name} in the mixture stays metal"
            for name, states in mixed
        )
        return f"{said[:1].upper()}{said[1:]}"
    if not judged:
        return "No metal whose way with gas is known"
    films = "the film stays" if len(judged) == 1 else "the films stay"
    least = min(_chance(step) for step in judged)
    chance = format_percent(least)
    return f"{chance[:1].upper()}{chance[1:]} chance that {films} metallic"


def _chance(step: Step) -> float:
    """Probability of the likeliest state."""
    assert step.states is not None
    return next(iter(step.states.values()))


def _conditions(sheet: RunSheet) -> str:
    rates = dict.fromkeys(
        f"{step.rate_nm_s:.3g} nm/s ({step.rate_from})" for step in sheet.layers if not step.made
    )
    wire = ""
    if sheet.source.kind == "wire":
        coil = sheet.source.coil
        wire = f" {sheet.source.length_mm:g} mm long"
        if coil is not None:
            wire += f", coiled {coil.diameter_mm:g} mm wide every {coil.pitch_mm:g} mm,"
    parts = [
        f"{sheet.source.kind.capitalize()} source{wire} at {sheet.placement.distance_mm:g} mm",
        *rates,
        *_gas_words(sheet),
        f"tooling factor {sheet.tooling:g}",
    ]
    return f"{', '.join(parts)}."


def _gas_words(sheet: RunSheet) -> list[str]:
    """The gas as it was stated."""
    gas, jar = sheet.gas, sheet.gas.jar
    said = []
    if gas.working_gas is not None and gas.working_pressure_mbar is not None:
        pressure = format_scientific(gas.working_pressure_mbar)
        said.append(f"{_GASES[gas.working_gas]} to {pressure} mbar")
    if jar.base_mbar is not None:
        kind = {"water": "mostly water", "air": "air from a leak"}[jar.residue]
        said.append(f"residual gas {format_scientific(jar.base_mbar)} mbar ({kind})")
    if jar.leak_mbar_l_s is not None:
        said.append(f"leak {format_scientific(jar.leak_mbar_l_s)} mbar l/s")
    if jar.pump is not None:
        volume = f"{format_digits(jar.volume_l)} l{'' if gas.volume_stated else ' (taken to fit)'}"
        taken = "" if jar.pump.is_stated else " (taken, for its speed was not given)"
        said.append(f"pump {jar.pump.speed_l_s:.3g} l/s{taken} on {volume}")
    if gas.getter_cm2 > 0.0:
        said.append(f"{gas.getter_cm2:g} cm² of fresh titanium on the walls")
    return [*said, *(["plastic near the piece"] if jar.plastic else [])]


def _step_table(sheet: RunSheet) -> Table:
    rows: list[list[Line]] = []
    for step in sheet.layers:
        row = [
            f"{step.step}{' (made)' if step.made else ''}",
            f"{step.material}{', back' if step.face == 'back' else ''}",
            f"{step.thickness_nm:.1f} nm",
        ]
        if not step.made:
            hot_C = step.source_temperature_C
            row += [
                _charge(step) if step.parts else "" if step.mass_g is None else _mass(step.mass_g),
                format_duration(step.time_s),
                _heats(step) if step.parts else "" if hot_C is None else f"{hot_C:.0f} °C",
                "" if step.oxygen_per_metal is None else tell_oxygen(step.oxygen_per_metal),
                "" if step.states is None else _chances(step),
            ]
        rows.append([*row, *[""] * (8 - len(row))])
    head = ["step", "layer", "thickness", "charge", "time", "source", _OXYGEN, "state"]
    return Table(head, rows, optional=[_OXYGEN, "source"])


def _wires(sheet: RunSheet) -> list[Block]:
    said: list[Block] = []
    for step in sheet.layers:
        wire = step.wire
        if wire is None or step.made:
            continue
        if wire.current_A is not None and wire.power_W is not None:
            said.append(
                f"Step {step.step}: {wire.wire} wire of {wire.diameter_mm:.3g} mm at "
                f"{wire.current_A:.3g} A, {wire.power_W:.0f} W."
            )
        if wire.table:
            rows = [
                [
                    f"{row.current_A:g} A",
                    f"{row.temperature_C:.0f} °C",
                    f"{row.rate_nm_s:.2g} nm/s" if row.rate_nm_s > 1e-4 else "next to none",
                    format_duration(row.lasts_s) if row.lasts_s < 1e6 else "weeks",
                ]
                for row in wire.table
            ]
            last: list[Line] = [f"{wire.melting_A:.3g} A", "melts", "", ""]
            head = ["current", "hottest", "on the piece", "burns out in"]
            said.append(Table(head, [*rows, last]))
    return said


def _witness_table(sheet: RunSheet) -> Table:
    """Looks at what is metal or no metal in its likeliest state while it grows, then the others."""
    rows: list[list[Line]] = []
    for step in sheet.layers:
        name, moments = f"{step.step} {step.material}", step.moments
        picked = np.unique(
            np.linspace(0, len(moments), min(len(moments), _MOST_LOOKS) + 1)[1:].round() - 1
        )
        for i in picked.astype(int).tolist():
            first = i == picked[0] and step.states is not None
            label = f"{step.state} {format_percent(_chance(step))}" if first else ""
            rows.append(_look_row(name, label, moments[i]))
        chances: dict[str, float] = {**(step.states or {}), "nitride": step.nitride or 0.0}
        for state, look in step.witness.items():
            chance = chances.get(state, 0.0)
            if (state == step.state and moments) or chance < _UNLIKELY:
                continue
            said = f"{state} {format_percent(chance)}"
            unseen: list[Line] = [name, said, "", "index not held", "", "", "", ""]
            rows.append(unseen if look is None else _look_row(name, said, look))
    head = ["step", "if", "at", "front", "Y %", "back", "through", "Ω per square"]
    return Table(head, rows, optional=["Y %", "back"])


def _look_row(name: str, state: str, look: WitnessLook) -> list[Line]:
    front, back, through = (
        "opaque" if one is None else Swatch(str(one.srgb_hex), str(one.name))
        for one in (look.reflected, look.reflected_back, look.transmitted)
    )
    bright = f"{float(look.reflected.xyz[1]):.1f}"
    at = f"{look.thickness_nm:.1f} nm"
    return [name, state, at, front, bright, back, through, _ohms(look.ohms_range)]


def _ohms(span: tuple[float, float] | None) -> str:
    """The span of sheet resistance, from clean and well joined to foul and late to join."""
    if span is None:
        return ""
    low, high = (_ohm(ohm) for ohm in span)
    return low if low == high else f"{low} to {high}"


def _ohm(ohm: float) -> str:
    if not math.isfinite(ohm):
        return "open"
    if ohm >= 1e9:
        return "insulates"
    return f"{ohm:.2g}" if ohm < 100.0 else f"{float(f'{ohm:.2g}'):,.0f}"


def _remarks(sheet: RunSheet) -> list[Block]:
    said: list[Block] = []
    for step in sheet.layers:
        if step.remarks and not step.made:
            said += [Heading(f"Step {step.step}, {step.material}:"), Items(step.remarks)]
        told = step.remedies[:MOST_TOLD]
        if told:
            said += [Heading(f"What would change step {step.step}:"), Items(tell_remedies(told))]
    return said


def _cautions(sheet: RunSheet) -> list[str]:
    """Those of the remedies that are told first, for they are new to whoever follows them."""
    told = [one for step in sheet.layers for one in step.remedies[:MOST_TOLD]]
    return [*list_cautions(told), *sheet.cautions]


def _chances(step: Step) -> str:
    return ", ".join(
        f"{name} {format_percent(share)}"
        for name, share in (step.states or {}).items()
        if share >= _UNLIKELY
    )


def _charge(step: Step) -> str:
    """The two charges of a mixed layer."""
    return ", ".join(
        f"{part.material} {_mass(part.mass_g)}" for part in step.parts if part.mass_g is not None
    )


def _heats(step: Step) -> str:
    """How hot the two charges of a mixed layer must be."""
    return ", ".join(
        f"{part.material} {part.source_temperature_C:.0f} °C"
        for part in step.parts
        if part.source_temperature_C is not None
    )


def _mass(mass_g: float) -> str:
    return f"{mass_g:.3g} g" if mass_g >= 0.1 else f"{1e3 * mass_g:.3g} mg"


def _change(change: Replan) -> str:
    said = (
        f"After what was made: colour difference from the plan {change.delta_e_unchanged:.1f} if "
        f"the rest stays as it was, {change.delta_e:.1f} with the rest as listed (CIEDE2000); "
        f"reflectance off by {100.0 * change.reflectance_rms_unchanged:.1f} and "
        f"{100.0 * change.reflectance_rms:.1f} % on average."
    )
    said += _change_of_goals(change)
    if not change.made_doubt:
        return said
    readings = join_either(
        [f"step {one.step} is {_interval(one.interval90_nm)}" for one in change.made_doubt]
    ).replace(" or ", " and ")
    low, high = change.delta_e_range90
    return (
        f"{said} What was read is not exact: {readings} (90 %), for which the colour difference is "
        f"{low:.1f} to {high:.1f}; measure again before the next layer if that matters."
    )


def _interval(ends_nm: tuple[float, float]) -> str:
    low, high = ends_nm
    return f"at least {low:.0f} nm" if math.isinf(high) else f"{low:.0f} to {high:.0f} nm"


def _change_of_goals(change: Replan) -> str:
    """What the change does for each goal."""
    said = []
    for before, after in zip(change.goals_unchanged, change.goals, strict=True):
        unit = " points" if after.unit == "%" else f" {after.unit}"
        verdict = "is met" if after.met else f"misses by {after.miss:.2g}{unit}"
        was = "met" if before.met else f"missed by {before.miss:.2g}{unit}"
        said.append(f" {after.goal} {verdict} ({was} with the rest as it was).")
    return "".join(said)


def _evenness(sheet: RunSheet) -> str:
    even = sheet.uniformity
    rim = ""
    if sheet.rim is not None:
        rim = (
            f"; at its thinnest the piece is {sheet.rim.name}, {sheet.rim.srgb_hex} (colour "
            f"difference {sheet.rim_delta_e:.1f})"
        )
    return (
        f"Over {_size(sheet.piece)}: ±{100.0 * even.half_spread:.1f} %, "
        f"{100.0 * even.lowest:.1f} to {100.0 * even.highest:.1f} % of the middle{rim}."
    )


def _size(piece: Piece) -> str:
    if piece.round and piece.width_mm == piece.height_mm:
        return f"{piece.width_mm:g} mm across"
    return f"{piece.width_mm:g} by {piece.height_mm:g} mm"


def _slide(sheet: RunSheet) -> str:
    bare = sheet.bare
    thick = "" if bare.slab_nm is None else f", {bare.slab_nm / 1e6:g} mm"
    return f"{bare.substrate.label}{thick}"
