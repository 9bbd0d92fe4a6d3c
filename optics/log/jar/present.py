"""What a log teaches of a jar, and the run it advises, as documents."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...report.document import Block, Document, Figure, Heading, Items, Line, Note, Table, present
from ...report.format import format_percent, format_scientific
from ...units import format_duration, parse_quantity
from ..present import done_words
from .learnt import JarLearnt, NextRun, RunCheck
from .plots import chart_drift, chart_learnt

_SURE_STATE = 0.95  # chance of the right state above which no gauge is asked for


@present.register
def show_learnt(learnt: JarLearnt) -> Document:
    """Each run against what the others make one expect, and the jar's numbers."""
    misfits = [one for one in learnt.checks if not one.fits]
    blocks: list[Block] = []
    if learnt.change is not None:
        change = learnt.change
        blocks.append(
            f"Something changed before run {change.from_run}: {change.what} "
            f"({change.odds:.0f} times likelier than no change)."
        )
    for one in misfits:
        causes = learnt.causes.get(one.run, ())
        said = ", ".join(f"{c.name} {format_percent(c.probability)}" for c in causes[:3])
        blocks.append(f"Run {one.run} does not fit the others: {said}.")
        blocks.append(Items([f"{c.name}: {c.remedy}" for c in causes[:3]]))
    rows: list[list[Line]] = [_check_row(one) for one in learnt.checks]
    blocks.append(Table(["run", "expected nm", "made nm", "metal before", "after", "fits"], rows))
    numbers: list[list[Line]] = [
        [one.name, f"{_number(one.value)} {one.unit}".strip(), _span(one.interval90),
         _span(one.before90)]
        for one in learnt.numbers
    ]  # fmt: skip
    blocks.append(Heading("What the runs teach"))
    blocks.append(Table(["", "now", "90 %", "before any run"], numbers))
    blocks.extend(Note(f"Not learnt from: {why}.") for why in learnt.skipped)
    fit = "all fit one jar" if not misfits else f"{len(misfits)} not like the others"
    many = "1 run" if learnt.runs == 1 else f"{learnt.runs} runs"
    return Document(
        headline=f"{learnt.setup}, {many}: {fit}",
        blocks=blocks,
        question="What do my runs teach?",
        figures=[
            Figure(lambda: chart_learnt(learnt), "Expected from the other runs, and made, by run."),
            Figure(lambda: chart_drift(learnt), "Leak and rate of the source, run by run."),
        ],
        confidence=(
            "Expected: the metal that the other runs make one expect on the first piece, with 90 % "
            "of the chance. Made: what the looks at the pieces say by themselves. Metal before: "
            "the odds from the other runs; after: with this run's own looks.",
        ),
    )


def _check_row(one: RunCheck) -> list[Line]:
    made = "no look" if one.made_nm is None else f"{one.made_nm:.0f}"
    if one.made90_nm is not None:
        made += f" ({one.made90_nm[0]:.0f} to {one.made90_nm[1]:.0f})"
    low, high = one.predicted90_nm
    return [
        str(one.run), f"{one.predicted_nm:.0f} ({low:.0f} to {high:.0f})", made,
        format_percent(one.states_before["metal"]), format_percent(one.states["metal"]),
        "yes" if one.fits else "no",
    ]  # fmt: skip


@present.register
def show_next(found: NextRun) -> Document:
    """The settings, their odds, what limits them, one notch of each knob."""
    rows: list[list[Line]] = [[one.knob, format_percent(one.chance)] for one in found.notches]
    thickness = format_percent(found.in_thickness)
    blocks: list[Block] = [
        f"Thickness within {100 * found.within:.0f} %: {thickness}. Right state: "
        f"{format_percent(found.in_state)}."
        + (f" Wire melts: {format_percent(found.melts)}." if found.melts > 0.0 else ""),
        f"What limits it: {found.limited_by}. Without the log the same settings would have "
        f"{format_percent(found.chance_before)}.",
        Table(["turned by one notch", "chance"], rows),
    ]
    if found.teaches is not None and next_words(found.teaches) != next_words(found.done):
        blocks.append(f"The run that would teach most: {next_words(found.teaches)}.")
    if found.base_pressure is not None:
        blocks.append(f"For a gauge that reads {found.base_pressure} before the run.")
    elif found.in_state < _SURE_STATE:
        blocks.append(
            "Read the gauge before the run and ask again with it: a leak that opened since the "
            "last run shows there."
        )
    blocks.append(Note(f"Settings: {done_words(found.done)}. From {found.runs} runs."))
    return Document(
        headline=(
            f"{found.want} in {found.setup}: {next_words(found.done)}; "
            f"{format_percent(found.chance)} chance"
        ),
        blocks=blocks,
        question="What should the next run be?",
        cautions=_CAUTIONS,
    )


_CAUTIONS = (
    "Glass jars under vacuum can implode: use a guard and goggles, and discard scratched ones.",
    "Feedthroughs carry mains-fed current: cover them, and cut and lock off the supply first.",
    "These notes do not replace local codes or licensed practice; where they differ, follow those.",
)


def _number(value: float) -> str:
    return f"{value:.2g}" if 1e-2 <= value < 100.0 else format_scientific(value)


def _span(span: tuple[float, float]) -> str:
    return f"{_number(span[0])} to {_number(span[1])}"


def next_words(done: Mapping[str, Any]) -> str:
    """Settings in one line: ``4.9A for 11 min``."""
    parts = [str(done["current"])] if "current" in done else []
    if "charge" in done:
        parts.append(str(done["charge"]))
    if "rate" in done:
        parts.append(f"at {done['rate']}")
    parts.append(f"for {format_duration(parse_quantity(done['time'], 'time_s', '`time`'))}")
    return " ".join(parts) + (", with a new wire" if done.get("new_wire") == "yes" else "")
