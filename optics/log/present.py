"""The log as a document: a list of runs, one run, a setup, what was just recorded."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby

from ..report.document import Block, Document, Figure, Heading, Items, Line, Note, Table, present
from ..report.format import format_percent, format_scientific
from .facts import usual_of
from .heat_profile import parse_profile
from .learnt import JarLearnt, NextRun, RunCheck
from .next_run import next_words
from .plots import chart_drift, chart_learnt
from .records import LoggedPiece, LoggedRun, LoggedSetup, LogList, Noted, Recorded
from .spectra import describe_spectrum

_QUESTION = "What have I done?"
_MOST_ROWS = 40
_SURE_STATE = 0.95  # chance of the right state above which no gauge is asked for
_NO_LOOKS = ("photo", "link")  # kept for the page; a hash and an address tell nobody anything
_WORDS = {
    "time": "for", "gauge_reading": "gauge", "working_pressure": "at", "working_gas": "in",
    "base_pressure": "base",
}  # fmt: skip


@present.register
def show_recorded(done: Recorded) -> Document:
    """One sentence."""
    return Document(headline=done.sentence, blocks=[Note(f"Log: {done.log}.")], question=_QUESTION)


@present.register
def show_setup(setup: LoggedSetup) -> Document:
    """A setup, with what is known of it."""
    version = "" if setup.setup_version == 1 else f", version {setup.setup_version}"
    facts = {k: v for k, v in setup.facts.items() if k not in ("jar", "usual")}
    facts |= dict(setup.facts.get("jar", {})) | usual_of(setup.facts)
    lines = [f"{name.replace('_', ' ')}: {value}" for name, value in facts.items()]
    return Document(
        headline=f"Recorded: {setup.setup}, a {setup.setup_kind}{version}",
        blocks=[Items(lines)] if lines else [],
        question=_QUESTION,
    )


@present.register
def show_run(run: LoggedRun) -> Document:
    """What was done, then each piece."""
    blocks: list[Block] = [Note(f"Recorded {run.at.replace('T', ' ')}.")]
    if run.planned:
        blocks.insert(0, f"Planned: {run.planned}.")
    if run.remarks:
        blocks.insert(0, f"Remarks: {run.remarks}")
    for piece in run.pieces:
        blocks.append(Heading(_piece_title(piece, run)))
        for at, looks in groupby(piece.observations, key=lambda one: one.at):
            blocks.extend([Note(f"Noted {at.replace('T', ' ')}.")] if at else [])
            blocks.append(Items([f"{one.what}: {_say(one)}" for one in looks]))
    if not run.pieces:
        blocks.append("Nothing is recorded yet of what came out.")
    return Document(
        headline=f"Run {run.run}, {run.setup}: {_did(run)}", blocks=blocks, question=_QUESTION
    )


@present.register
def show_list(log: LogList) -> Document:
    """One row a run."""
    if not log.runs:
        setups = ", ".join(one.setup for one in log.setups) or "none"
        return Document(
            headline="No run is recorded yet", blocks=[f"Setups: {setups}."], question=_QUESTION
        )
    rows: list[list[Line]] = [
        [str(run.run), run.at[:10], run.setup, _did(run), _looks(run)]
        for run in log.runs[-_MOST_ROWS:]
    ]
    blocks: list[Block] = [
        Table(["run", "day", "setup", "what was done", "what came out"], rows, optional=["day"])
    ]
    if len(log.runs) > _MOST_ROWS:
        blocks.append(Note(f"The last {_MOST_ROWS} of {len(log.runs)} runs; JSON lists all."))
    many = "1 run" if len(log.runs) == 1 else f"{len(log.runs)} runs"
    return Document(
        headline=f"{many}; the last on {log.runs[-1].at[:10]}", blocks=blocks, question=_QUESTION
    )


def _piece_title(piece: LoggedPiece, run: LoggedRun) -> str:
    metal = piece.facts.get("metal", run.done.get("metal", ""))
    base = piece.facts.get("on", "")
    of = f": {metal} on {base}" if metal and base else f": {metal or base}" if metal or base else ""
    return f"{piece.name}{of}"


def _done(done: Mapping[str, str]) -> str:
    """What was done in one line, as ``Ti by wire, 4.8A for 12min``."""
    words = [
        parse_profile(text).words
        if name == "profile"
        else name.replace("_", " ")
        if text == "yes"
        else f"{_WORDS.get(name, name)} {text}"
        for name, text in done.items()
        if text != "no"
    ]
    return ", ".join(words).replace("_", " ")


def _did(run: LoggedRun) -> str:
    return _done(run.done) if run.done else f"planned: {_done(run.plan) or run.planned}"


def _looks(run: LoggedRun) -> str:
    return "; ".join(
        f"{piece.name}: {', '.join(looks)}"
        for piece in run.pieces
        if (looks := [_say(one) for one in piece.observations if one.what not in _NO_LOOKS])
    )


def _say(one: Noted) -> str:
    return describe_spectrum(one.text) if one.what == "spectrum" else one.text


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
    blocks.append(Note(f"Settings: {_done(found.done)}. From {found.runs} runs."))
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
