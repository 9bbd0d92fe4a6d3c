"""Designs as documents."""

from __future__ import annotations

import numpy as np

from ..films.materials.effective_medium import short_name
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
from ..report.format import format_angle
from ..report.html import CAUTIONS
from ..report.provenance import COMPUTED, labels_of_medium, labels_of_stack
from .merit import GoalResult
from .plots import chart_designs, chart_tolerance
from .result import Design, Designs, format_short_stack
from .stack_tolerance import StackTolerance

_LISTED_FROM = 4  # films from which a table in order of deposition is of use
_CLEAR_K = 0.1
_DARK_PERCENT = 0.1  # below it a share keeps two digits that count


@present.register
def _design(design: Design) -> Document:
    met = "meets every goal" if design.met else f"misses its goals by {design.merit:.2g} points"
    return Document(
        headline=f"{design.stack}: {met}",
        blocks=[_goal_table(design)],
        question="What does this design do?",
        sources=labels_of_stack(design.piece),
    )


@present.register
def _designs(found: Designs) -> Document:
    best = found.designs[0]
    verdict = "meets every goal" if best.met else "comes nearest, but misses a goal"
    errors = f" with errors of {found.errors}" if found.errors is not None else ""
    labels = [label for medium in found.palette for label in labels_of_medium(medium)]
    caption = (
        "The best design: its spectrum with the goals, its colour as it is tilted, and the field "
        "inside it."
    )
    return Document(
        headline=f"{format_short_stack(best.piece)}: {verdict}{_bearing(best, found)}.",
        blocks=[
            _design_table(found),
            *(f"{i}  {one.stack}" for i, one in enumerate(found.designs, 1)),
            _goal_table(best),
            *_weakest(best),
            *_conditions(found),
            *(f"Note: {note}." for note in found.notes),
            *_steps(best),
            *_remarks(found),
        ],
        cautions=CAUTIONS[3:],
        question="What to deposit?",
        figures=[Figure(lambda: chart_designs(found), caption)],
        confidence=[
            COMPUTED,
            f"The yield is the share of simulated pieces that meet every goal{errors}; state your "
            f"own spread of errors to learn it.",
        ],
        sources=tuple(dict.fromkeys([*labels, *labels_of_stack(found.base)])),
    )


@present.register
def _stack_tolerance(found: StackTolerance) -> Document:
    share = "" if found.goals is None else f", {100 * found.goals.yield_share:.0f} % meet the goals"
    mean = [
        f"{100 * float(values.mean()):.1f} %" for values in (found.R, found.R_low, found.R_high)
    ]
    return Document(
        headline=f"{found.stack} with errors of {found.errors}: half of the pieces "
        f"differ in colour by less than {found.delta_e_median:.1f}, "
        f"95 % by less than {found.delta_e_most:.1f} "
        f"(CIEDE2000){share}.",
        blocks=[
            Table(["", "exact", "90 % band, low", "90 % band, high"], [["R mean", *mean]]),
            Swatch(found.srgb_hex, found.name),
            Note(f"Errors are standard deviations; {found.samples:,} pieces, seed {found.seed}."),
        ],
        question="How much does this stack vary?",
        figures=[Figure(lambda: chart_tolerance(found), "R and T; 90 % of pieces lie in a band.")],
        confidence=[COMPUTED, "The errors are independent and normally distributed."],
        sources=labels_of_stack(found.films),
    )


def _bearing(design: Design, found: Designs) -> str:
    if design.tolerance is None:
        return ""
    share = 100.0 * design.tolerance.yield_share
    return f"; with errors of {found.errors}, {share:.0f} % of pieces do"


def _design_table(found: Designs) -> Table:
    rows: list[list[Line]] = [
        [
            str(i), f"{100 * one.mean_R:.1f} %", f"{100 * one.min_R:.1f} %",
            "none" if one.met else f"{one.merit:.2g}", _yield(one), str(one.layers),
            f"{one.total_nm:.0f} nm", Swatch(one.srgb_hex, one.name),
        ]
        for i, one in enumerate(found.designs, 1)
    ]  # fmt: skip
    head = ["", "R mean", "R least", "miss", "yield", "layers", "total", "colour"]
    return Table(head, rows, optional=["total", "yield"])


def _yield(design: Design) -> str:
    tolerance = design.tolerance
    if tolerance is None:
        return "not asked"
    return f"{100 * tolerance.yield_share:.0f} ± {100 * tolerance.yield_error:.1g} %"


def _goal_table(design: Design) -> Table:
    rows: list[list[Line]] = [
        [
            one.goal,
            "yes" if one.met else "no",
            *(_figure(value, one) for value in (one.least, one.mean, one.most)),
            _miss(one),
        ]
        for one in design.results
    ]
    return Table(["goal", "met", "least", "mean", "most", "worst miss"], rows, optional=["mean"])


def _figure(value: float, result: GoalResult) -> str:
    if result.unit == "°":
        return f"{value:.1f}°"
    if result.unit != "%":
        return f"{value:.1f} {result.unit}"
    return f"{value:.2f} %" if value >= _DARK_PERCENT or value == 0.0 else f"{value:.2g} %"


def _miss(result: GoalResult) -> str:
    unit = {"%": " points", "°": "°"}.get(result.unit, f" {result.unit}")
    return f"none, {result.spare:.2g}{unit} to spare" if result.met else f"{result.miss:.2g}{unit}"


def _weakest(design: Design) -> list[Block]:
    tolerance = design.tolerance
    if tolerance is None or tolerance.weakest is None:
        return []
    layer = design.piece.layers[tolerance.weakest]
    return [
        f"The layer that matters most is step {design.layers - tolerance.weakest} of the "
        f"deposition, number {tolerance.weakest + 1} from the light, "
        f"{layer.medium.label} {float(layer.thickness_nm):.1f} nm."
    ]


def _steps(design: Design) -> list[Block]:
    """The films in order of deposition, each also as quarter waves in the middle of its band."""
    if design.layers < _LISTED_FROM:
        return []
    low, high = design.band_nm
    middle = 2.0 / (1.0 / low + 1.0 / high)
    rows: list[list[Line]] = []
    for step, layer in enumerate(reversed(design.piece.layers[: design.layers]), 1):
        nm, index = float(layer.thickness_nm), complex(layer.medium.nk(np.array([middle]))[0])
        quarters = "" if index.imag > _CLEAR_K else f"{4.0 * index.real * nm / middle:.2f}"
        rows.append([str(step), short_name(layer.medium), f"{nm:.1f} nm", quarters])
    head = ["step", "layer", "thickness", f"quarter waves at {middle:.0f} nm"]
    return [Heading("In order of deposition"), Table(head, rows)]


def _remarks(found: Designs) -> list[Block]:
    said = [f"{one.material}, {one.about}: {one.remark} ({one.source})" for one in found.remarks]
    return [Heading("To mind about these films"), Items(said)] if said else []


def _conditions(found: Designs) -> list[Block]:
    low, high = found.designs[0].band_nm
    band = f"{low:g} nm" if low == high else f"{low:g} to {high:g} nm"
    said: list[Block] = [
        Note(f"R at normal incidence, {band}. Layers are listed from the light inward."),
        Note(
            f"Colour under {found.viewing.light}, {found.viewing.observer}° observer, "
            f"{format_angle(found.angle_deg)}."
        ),
    ]
    if found.errors is not None:
        samples = found.designs[0].tolerance.samples if found.designs[0].tolerance else 0
        text = f"Yield: {samples:,} pieces, errors as standard deviations, seed {found.seed}."
        said.append(Note(text))
    return said
